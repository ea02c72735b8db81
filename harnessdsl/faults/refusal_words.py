"""How a `refused` line names what is no place or part."""

from __future__ import annotations

from harnessdsl.faults.case import BATTERY_OFF

WAYS = {"volts": "volts", "ohms": "ohms", "amps": "amperes", "lamp": "lamp", "swap": "swapping",
        "wiggle": "wiggling", "unplug": "unplugging"}
"""Kind of an observation -> how a `refused` line names that way of looking."""
WAY_WORDS = (*WAYS.values(), BATTERY_OFF)
