"""Where the things of a vehicle are, and how one gets at them.

A spot is a place, or a zone that holds parts of which nothing but the zone is known. Spots are
what locator maps number: from front to rear, so that neighbours have neighbouring numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from harnessdsl.diagnostics import Diagnostic, Severity, did_you_mean
from harnessdsl.model.layout import Layout, Outline, Point3, View, Zone
from harnessdsl.model.vehicle import Part, Place, Vehicle
from harnessdsl.text import Span

ZONE_PREFIX = "zone "
"""A spot that is only a zone is named so; no place can have a blank in its name unless quoted."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place or zone with what is there; `number` counts from 1 from front to rear."""

    name: str
    label: str
    number: int = 0
    position_mm: Point3 | None = None
    """None when the file does not say where it is, or names a zone that the body lacks."""
    approximate: bool = False
    """Known by its zone only: somewhere in there."""
    place: Place | None = None
    zone: str = ""
    parts: tuple[str, ...] = ()
    """The parts there, in the order of the file."""


def part_places(part: Part, vehicle: Vehicle) -> tuple[str, ...]:
    """Return the spots of a part: its place, the places of a connector's halves, or its zone."""
    found: list[str] = []
    if part.place in vehicle.places:
        found.append(part.place)
    elif part.zone:
        found.append(ZONE_PREFIX + part.zone)
    if part.connector is not None:
        found += [half.place for half in part.connector.halves.values()
                  if half.place in vehicle.places]
        owner = vehicle.parts.get(part.connector.of)
        if not found and owner is not None and owner.connector is None:
            found += part_places(owner, vehicle)
    return tuple(dict.fromkeys(found))


def enclosing(vehicle: Vehicle, name: str) -> tuple[Place, ...]:
    """Return the place `name` and the places that it is in, the outermost first."""
    chain: list[Place] = []
    place = vehicle.places.get(name)
    while place is not None and place not in chain:
        chain.append(place)
        place = vehicle.places.get(place.inside)
    return tuple(reversed(chain))


@dataclass(frozen=True, slots=True)
class Access:
    """How to get at a place: steps in order with the place each belongs to, cautions first."""

    steps: tuple[tuple[str, str, float], ...]
    """(place, what to do, minutes)."""
    cautions: tuple[str, ...]
    exposure: tuple[str, ...]

    @property
    def minutes(self) -> float:
        return sum(step[2] for step in self.steps)


def access(vehicle: Vehicle, name: str) -> Access:
    """Return how to get at a place, beginning with the places that it lies in."""
    chain = enclosing(vehicle, name)
    return Access(
        tuple((place.name, step.text, step.minutes) for place in chain for step in place.reach),
        tuple(dict.fromkeys(text for place in chain for text in place.cautions)),
        tuple(dict.fromkeys(word for place in chain for word in place.exposure)),
    )


def find_spots(vehicle: Vehicle, layout: Layout | None) -> tuple[Spot, ...]:
    """Return every spot of the vehicle, numbered; those of unknown position come last."""
    parts: dict[str, list[str]] = {name: [] for name in vehicle.places}
    nowhere: list[str] = []
    for part in vehicle.parts.values():
        found = part_places(part, vehicle)
        for name in found:
            parts.setdefault(name, []).append(part.name)
        if not found:
            nowhere.append(part.name)
    positions = _positions(vehicle, layout, list(parts))
    spots: list[Spot] = []
    for name, members in parts.items():
        place = vehicle.places.get(name)
        zone = _zone_word(name, vehicle)
        known = layout.zone(zone) if layout is not None and zone else None
        position, approximate = positions[name]
        label = place.label if place is not None else (known.label if known else zone)
        spots.append(Spot(name, label or name, 0, position, approximate, place, zone,
                          tuple(members)))
    if nowhere:
        spots.append(Spot("", "Place not known", 0, None, False, None, "", tuple(nowhere)))
    order = sorted(
        range(len(spots)),
        key=lambda index: (spots[index].position_mm is None,
                           _reading_order(spots[index].position_mm), index))
    return tuple(_numbered(spots[index], number) for number, index in enumerate(order, 1))


def _numbered(spot: Spot, number: int) -> Spot:
    return Spot(spot.name, spot.label, number, spot.position_mm, spot.approximate, spot.place,
                spot.zone, spot.parts)


def _reading_order(position: Point3 | None) -> tuple[float, float, float]:
    if position is None:
        return (0.0, 0.0, 0.0)
    x, y, z = position
    return (round(x), round(y), round(z))


def _zone_word(name: str, vehicle: Vehicle) -> str:
    place = vehicle.places.get(name)
    if place is not None:
        return "" if place.position_mm is not None else place.zone
    return name.removeprefix(ZONE_PREFIX)


@dataclass(slots=True)
class _Crowd:
    """The spots that share one zone, so that they can be spread over it."""

    zone: Zone
    names: list[str] = field(default_factory=list)


def _positions(
    vehicle: Vehicle, layout: Layout | None, names: list[str]
) -> dict[str, tuple[Point3 | None, bool]]:
    """Return (position, approximate) of each spot: its own figures, else its zone, else those of
    the place that it is in."""
    found: dict[str, tuple[Point3 | None, bool]] = {}
    crowds: dict[str, _Crowd] = {}
    for name in names:
        place = vehicle.places.get(name)
        if place is not None and place.position_mm is not None:
            found[name] = (place.position_mm, False)
            continue
        word = _zone_word(name, vehicle)
        zone = layout.zone(word) if layout is not None and word else None
        if zone is not None:
            crowds.setdefault(zone.name, _Crowd(zone)).names.append(name)
    for crowd in crowds.values():
        for name, position in zip(crowd.names, spread(crowd.zone, len(crowd.names)), strict=True):
            found[name] = (position, True)
    for name in names:
        if name not in found:
            outer = [place.name for place in reversed(enclosing(vehicle, name))][1:]
            found[name] = next((found[each] for each in outer if each in found), (None, False))
    return {name: found[name] for name in names}


def spread(zone: Zone, count: int) -> list[Point3]:
    """Return `count` points over a zone, side by side along its longer side; one is its centre."""
    (ax, ay, _), (bx, by, _) = zone.least_mm, zone.greatest_mm
    x, y, z = zone.centre_mm
    points: list[Point3] = []
    rows = 1 if count <= 5 else max(1, round((count / 2.5) ** 0.5))
    columns = -(-count // rows)
    for index in range(count):
        column, row = index % columns, index // columns
        long_share, wide_share = (column + 0.5) / columns, (row + 0.5) / rows
        if bx - ax >= by - ay:
            points.append((ax + (bx - ax) * long_share, ay + (by - ay) * wide_share, z))
        else:
            points.append((ax + (bx - ax) * wide_share, ay + (by - ay) * long_share, z))
    return points if count > 1 else [(x, y, z)]


def zone_messages(vehicle: Vehicle, layout: Layout) -> list[Diagnostic]:
    """Return a message for every zone that a place or part names and the body does not have."""
    asked: list[tuple[str, Span, str]] = [
        (place.zone, place.span, place.name) for place in vehicle.places.values() if place.zone
    ]
    asked += [(part.zone, part.span, part.name) for part in vehicle.parts.values() if part.zone]
    return [
        Diagnostic(
            Severity.ERROR, "unknown-zone", f"the body '{layout.name}' has no zone '{zone}'", span,
            did_you_mean(zone, _both_orders(layout), f"it has: {', '.join(layout.zones)}"),
            (), subject)
        for zone, span, subject in asked if layout.zone(zone) is None
    ]


def _both_orders(layout: Layout) -> list[str]:
    """`left-dash` is understood as `dash-left` too, so a hint may be near either."""
    names = list(layout.zones)
    return names + [f"{rest}-{side}" for side, _, rest in (name.partition("-") for name in names)
                    if side in ("left", "right") and rest]


def plain_layout(positions: Mapping[str, Point3]) -> Layout:
    """Return a bare rectangle around the positions, for a vehicle whose body nobody drew."""
    points = list(positions.values()) or [(0.0, 0.0, 0.0)]
    least = [min(point[axis] for point in points) - 150 for axis in range(3)]
    most = [max(point[axis] for point in points) + 150 for axis in range(3)]
    outlines = tuple(
        Outline(view, "body", ((least[0], least[axis]), (most[0], least[axis]),
                               (most[0], most[axis]), (least[0], most[axis])), True)
        for view, axis in ((View.PLAN, 1), (View.SIDE, 2))
    )
    return Layout("plain", "Body not drawn", outlines=outlines)
