"""Quantities, as the model's part of the ground floor."""

from harnessdsl.quantity import GAUGE_UNIT, UNITS, Quantity, Unit, awg_area_mm2

__all__ = ["GAUGE_UNIT", "UNITS", "Quantity", "Unit", "awg_area_mm2"]
