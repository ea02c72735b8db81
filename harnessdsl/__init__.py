"""A text language for the wiring of old vehicles: read, check, compute, draw."""

__version__ = "0.1.0"
