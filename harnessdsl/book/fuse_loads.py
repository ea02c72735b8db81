"""The fuse chart: what each fuse feeds in every condition, its amperes, its share of the rating."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from harnessdsl.book.live_report import amperes, load_name, table
from harnessdsl.electric.operating_point import FuseState, LoadState, OperatingPoint
from harnessdsl.electric.study import Study
from harnessdsl.model.vehicle import Vehicle

CAUTION = ("A fuse protects the wire behind it: never fit a larger one than this list says. "
           "Continuously at most three quarters of the rating, 80 % at the very most.")
LEAST_A = 5e-3


@dataclass(frozen=True, slots=True)
class FuseLoad:
    """One fuse: the loads that its current goes to, and its current in each condition."""

    part: str
    rating_a: float
    feeds: tuple[str, ...]
    by_condition: Mapping[str, FuseState]

    @property
    def worst(self) -> tuple[str, FuseState] | None:
        """The condition with the largest current; one in which it opens before all others."""
        if not self.by_condition:
            return None
        return max(self.by_condition.items(),
                   key=lambda item: (item[1].opened, abs(item[1].current_a)))


def fuse_loads(vehicle: Vehicle, study: Study) -> list[FuseLoad]:
    """Return every fuse, link and breaker in the order of the file."""
    feeds: dict[str, dict[str, None]] = {}
    for point in study.points.values():
        for load in point.loads:
            if load.state == "off":
                continue
            for fuse in fed_through(study, point, load):
                feeds.setdefault(fuse, {}).setdefault(load_name(vehicle, load))
        for relay in point.relays:
            if relay.energised:
                for fuse in _fuses_on(study, point, relay.id):
                    feeds.setdefault(fuse, {}).setdefault(f"{relay.part} coil")
    found = []
    for element in study.elements.values():
        if element.role not in ("fuse", "link", "breaker"):
            continue
        states = {name: state for name, point in study.points.items()
                  for state in point.fuses if state.id == element.id}
        found.append(FuseLoad(element.part, element.rated_a, tuple(feeds.get(element.id, ())),
                              states))
    return found


def fed_through(study: Study, point: OperatingPoint, load: LoadState) -> list[str]:
    """Return the protection that the current of a load passes."""
    return _fuses_on(study, point, load.id)


def _fuses_on(study: Study, point: OperatingPoint, element: str) -> list[str]:
    way = study.way(point, element)
    return [s.element.id for s in (*way.out, *way.back)
            if s.element.role in ("fuse", "link", "breaker")]


def chart_lines(vehicle: Vehicle, study: Study, fuse: str = "") -> list[str]:
    """Return the chart: for each fuse where it sits, what it feeds, its current in each condition.
    With `fuse`, that one alone."""
    lines: list[str] = []
    for row in fuse_loads(vehicle, study):
        if fuse and row.part != fuse:
            continue
        part = vehicle.parts[row.part]
        where = " ".join(filter(None, (part.place, f"slot {part.slot}" if part.slot else "")))
        lines.append(f"{part.name}  {row.rating_a:g} A  {part.label}" + (f"  ({where})" if where
                                                                        else ""))
        feeds = ", ".join(_named(vehicle, name) for name in row.feeds)
        lines.append(f"    feeds {feeds}" if feeds else
                     "    feeds nothing in these conditions")
        cells = [(name, _cell(state)) for name, state in row.by_condition.items()
                 if state.opened or abs(state.current_a) >= LEAST_A]
        groups: dict[str, list[str]] = {}
        for name, cell in cells:
            groups.setdefault(cell, []).append(name)
        lines += [f"    {text}" for text in table(
            [[cell, ", ".join(names)] for cell, names in groups.items()])]
        lines.append("")
    return lines


def _named(vehicle: Vehicle, name: str) -> str:
    part = vehicle.parts[name.partition(" ")[0]]
    return f"{name} ({part.label})" if part.label else name


def _cell(state: FuseState) -> str:
    if state.opened:
        return "opens"
    share = f"  {state.share:4.0%}" if state.rating_a else ""
    return f"{amperes(abs(state.current_a)):>8}{share}"


def chart_data(vehicle: Vehicle, study: Study) -> list[dict[str, Any]]:
    """Return the chart as plain data; the keys are stable."""
    return [{
        "fuse": row.part, "label": vehicle.parts[row.part].label, "rating_a": row.rating_a,
        "place": vehicle.parts[row.part].place, "slot": vehicle.parts[row.part].slot,
        "feeds": list(row.feeds),
        "conditions": {name: {"current_a": round(abs(s.current_a), 6), "share": round(s.share, 6),
                              "opened": s.opened} for name, s in row.by_condition.items()},
    } for row in fuse_loads(vehicle, study)]
