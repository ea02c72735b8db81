"""When a fault that is not always there is there: hot, or moving."""

from __future__ import annotations

from harnessdsl.model.vehicle import Condition

HOT_C = 90.0
"""More than a thermostat keeps an engine at (common practice)."""


def is_hot(condition: Condition) -> bool:
    """Return whether something in the vehicle is warmed up."""
    return any(value >= HOT_C for what, value in condition.temperatures_c.items()
               if what != "ambient")


def fits_when(condition: Condition | None, when: str) -> bool:
    """Return whether a fault that is there only `when` ('' always, hot, moving) is there."""
    if not when:
        return True
    if condition is None:
        return False
    return is_hot(condition) if when == "hot" else condition.moving
