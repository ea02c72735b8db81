"""How long a battery lasts: standing with a drain on it, or running short of charge."""

from __future__ import annotations

from dataclasses import dataclass

from harnessdsl.electric import figures
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.electric.study import Study
from harnessdsl.model.vehicle import Part

USABLE_SHARE = 0.4
"""Of a battery's ampere-hours: after that many the engine does not start (a maker's bulletin)."""
DRAIN_LIMIT_A = 0.05
"""Largest current with the key out (common practice; others say 35 mA). A battery's `quiescent`
figure in the file sets another one."""


@dataclass(frozen=True, slots=True)
class Consumer:
    """One thing that draws current."""

    part: str
    name: str
    current_a: float


@dataclass(frozen=True, slots=True)
class Drain:
    """What a parked vehicle takes from its battery."""

    battery: str
    capacity_ah: float
    current_a: float
    limit_a: float
    consumers: tuple[Consumer, ...]
    """The largest first; loads, coils and resistors that end the way of a current."""

    @property
    def days(self) -> float:
        """Days until the engine does not start."""
        return days_to_no_start(self.capacity_ah, self.current_a)


def days_to_no_start(capacity_ah: float, current_a: float) -> float:
    """Return days until 40 % of the capacity is gone; `inf` without a current."""
    return USABLE_SHARE * capacity_ah / (current_a * 24.0) if current_a > 0 else float("inf")


def capacity_ah(part: Part) -> float:
    """Return a battery's ampere-hours, 60 where none are written."""
    found = part.kind.figures.get(("", "capacity"))
    return found.value if found is not None else figures.BATTERY_AH


def drain_limit_a(part: Part) -> float:
    """Return the battery's own limit for the current with the key out, else 50 mA."""
    found = part.kind.figures.get(("quiescent", "current"))
    return found.value if found is not None else DRAIN_LIMIT_A


def drains(study: Study, point: OperatingPoint, limit_a: float | None = None) -> list[Drain]:
    """Return what each battery gives in one condition, with what takes it."""
    takers = consumers(study, point)
    found = []
    for battery, _, _ in study.battery_poles:
        part = study.vehicle.parts[battery]
        found.append(Drain(battery, capacity_ah(part), study.battery_current_a(point, battery),
                           drain_limit_a(part) if limit_a is None else limit_a, takers))
    return found


_TAKES = frozenset({"filament", "heater", "motor", "solenoid", "load", "led", "speaker", "winding",
                    "coil", "resistor", "thermistor"})


def consumers(study: Study, point: OperatingPoint, least_a: float = 0.5e-3) -> tuple[Consumer, ...]:
    """Return what takes current in one condition, the largest first."""
    found = [
        Consumer(e.part, e.name or e.role, abs(point.current_a(e.id)))
        for e in study.elements.values()
        if e.role in _TAKES and abs(point.current_a(e.id)) >= least_a]
    return tuple(sorted(found, key=lambda c: (-c.current_a, c.part, c.name)))
