"""What the parked vehicle draws: text and plain data."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from harnessdsl.book.live_report import table
from harnessdsl.electric.battery_life import Drain
from harnessdsl.model.vehicle import Vehicle

CAUTION = ("Days until 40 % of the ampere-hours are gone, for a battery that is full and as good "
           "as new; an old one, or frost, makes it half of that.")


def drain_lines(vehicle: Vehicle, drains: Sequence[Drain]) -> list[str]:
    """Return the drain of each battery, and what takes the current."""
    lines = []
    for drain in drains:
        battery = vehicle.parts[drain.battery]
        over = drain.current_a > drain.limit_a
        lines.append(
            f"{battery.name} ({battery.label}), {drain.capacity_ah:g} Ah: "
            f"{drain.current_a * 1000:.1f} mA, {'more than' if over else 'within'} the "
            f"{drain.limit_a * 1000:g} mA that are allowed; {_lasts(drain.days)}")
    rows = [[f"{c.current_a * 1000:.1f} mA", c.part, vehicle.parts[c.part].label, c.name]
            for c in (drains[0].consumers if drains else ())]
    return [*lines, *(["", "it goes into:", *table(rows, frozenset({0}))] if rows else [])]


def _lasts(days: float) -> str:
    if math.isinf(days):
        return "nothing flows"
    if days < 2:
        return f"no start after {days * 24:.0f} hours"
    return f"no start after {days:.0f} days"


def drain_data(drain: Drain) -> dict[str, Any]:
    """Return one battery's drain as plain data; the keys are stable."""
    return {
        "battery": drain.battery, "capacity_ah": drain.capacity_ah,
        "current_a": round(drain.current_a, 6), "limit_a": drain.limit_a,
        "days": None if math.isinf(drain.days) else round(drain.days, 2),
        "consumers": [{"part": c.part, "name": c.name, "current_a": round(c.current_a, 6)}
                      for c in drain.consumers],
    }
