"""Which wires lie where in the harness: runs as branches between places, and what a damaged spot
takes with it.

A wire that goes `via` several runs is followed from place to place over the branches of those
runs only, by the shortest way between the places of its two ends. An end that lies at no place of
these runs joins them at the nearest one; then the way is probable, not certain.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from harnessdsl.model.feeds import Feeds
from harnessdsl.model.layout import Point3
from harnessdsl.model.location import enclosing
from harnessdsl.model.topology import Topology
from harnessdsl.model.vehicle import End, Run, Vehicle, Wire

UNKNOWN_LEG_M = 0.5
"""Taken for a branch between places of unknown position when the shortest way is looked for."""


@dataclass(frozen=True, slots=True)
class Leg:
    """One branch of a run between neighbouring places."""

    run: str
    index: int
    start: str
    end: str
    length_m: float | None = None
    """Its share of the run's length by distance, or the straight distance of its places."""
    measured: bool = False
    """True when the run's length is in the file."""


@dataclass(frozen=True, slots=True)
class WireWay:
    """The branches that a wire runs along, in order from its end a; `certain` when both ends
    lie at places of its runs."""

    legs: tuple[Leg, ...]
    certain: bool


def positions_of(vehicle: Vehicle) -> dict[str, Point3]:
    """Return the position of every place that has one, its own or that of the place around it."""
    found: dict[str, Point3] = {}
    for name in vehicle.places:
        for place in reversed(enclosing(vehicle, name)):
            if place.position_mm is not None:
                found[name] = place.position_mm
                break
    return found


def legs_of(run: Run, positions: Mapping[str, Point3]) -> tuple[Leg, ...]:
    """Return the branches of a run with their lengths."""
    pairs = list(pairwise(run.places))
    straight = [
        math.dist(positions[a], positions[b]) / 1000 if a in positions and b in positions else None
        for a, b in pairs
    ]
    known = [length for length in straight if length is not None]
    lengths: list[float | None] = list(straight)
    if run.length_m is not None:
        if len(known) == len(pairs) and sum(known) > 0:
            lengths = [run.length_m * length / sum(known) for length in known]
        elif len(pairs) == 1:
            lengths = [run.length_m]
        else:
            lengths = [None] * len(pairs)
    return tuple(
        Leg(run.name, index, a, b, length, run.length_m is not None)
        for index, ((a, b), length) in enumerate(zip(pairs, lengths, strict=True))
    )


class Bundles:
    """The runs of one vehicle with the wires in every branch."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.positions = positions_of(vehicle)
        self.legs = {run.name: legs_of(run, self.positions) for run in vehicle.runs.values()}
        self._listed: dict[str, list[str]] = {}
        for run in vehicle.runs.values():
            for name in run.wires:
                self._listed.setdefault(name, []).append(run.name)
        self.ways = {name: self._way(vehicle.wires[name]) for name in self._listed
                     if name in vehicle.wires}

    def wires_in(self, leg: Leg) -> list[str]:
        """Return the wires of a branch, in the order of the file."""
        return [name for name in self.vehicle.wires
                if name in self.ways and leg in self.ways[name].legs]

    def wires_of(self, run: str) -> list[str]:
        """Return the wires that run along any branch of a run, in the order of the file."""
        return [name for name in self.vehicle.wires
                if name in self.ways and any(leg.run == run for leg in self.ways[name].legs)]

    def end_place(self, end: End) -> str:
        """Return the place of a wire's end: that of its half of a plug, or of its part."""
        part = self.vehicle.parts.get(end.part)
        if part is None:
            return ""
        if end.half and part.connector is not None and end.half in part.connector.halves:
            half = part.connector.halves[end.half]
            if half.place:
                return half.place
        return part.place

    def _way(self, wire: Wire) -> WireWay:
        legs = [leg for run in self._listed[wire.name] for leg in self.legs[run]]
        nodes = list(dict.fromkeys(place for leg in legs for place in (leg.start, leg.end)))
        a, sure_a = self._join(self.end_place(wire.a), nodes)
        b, sure_b = self._join(self.end_place(wire.b), nodes)
        if a and b and a != b:
            found = _shortest(a, b, legs)
            if found is not None:
                return WireWay(found, sure_a and sure_b)
        if a and a == b and (wire.chain or (sure_a and sure_b)):
            return WireWay((), True)  # both ends at one place: other pieces of the chain run on
        return WireWay(tuple(legs), False)

    def _join(self, place: str, nodes: list[str]) -> tuple[str, bool]:
        """Return the place of the runs where an end at `place` joins them, and whether it lies
        there."""
        around = [each.name for each in reversed(enclosing(self.vehicle, place))]
        for name in around:
            if name in nodes:
                return name, True
        inside = [node for node in nodes
                  if place and place in (each.name for each in enclosing(self.vehicle, node))]
        if inside:
            return inside[0], True
        here = self.positions.get(place)
        near = [(math.dist(here, self.positions[node]), index, node)
                for index, node in enumerate(nodes)
                if node in self.positions] if here is not None else []
        return (min(near)[2], False) if near else ("", False)


def _shortest(start: str, end: str, legs: list[Leg]) -> tuple[Leg, ...] | None:
    """Return the shortest way over branches (Dijkstra 1959), None when there is none."""
    at: dict[str, list[tuple[str, Leg]]] = {}
    for leg in legs:
        at.setdefault(leg.start, []).append((leg.end, leg))
        at.setdefault(leg.end, []).append((leg.start, leg))
    done: set[str] = set()
    queue: list[tuple[float, int, str, tuple[Leg, ...]]] = [(0.0, 0, start, ())]
    count = 0
    while queue:
        length, _, place, way = heapq.heappop(queue)
        if place == end:
            return way
        if place in done:
            continue
        done.add(place)
        for far, leg in at.get(place, ()):
            if far not in done:
                count += 1
                step = leg.length_m if leg.length_m is not None else UNKNOWN_LEG_M
                heapq.heappush(queue, (length + step, count, far, (*way, leg)))
    return None


# --- damage


@dataclass(frozen=True, slots=True)
class Damage:
    """What lies at a damaged spot. Names are in the order of the file."""

    where: str
    """The spot in words."""
    legs: tuple[Leg, ...]
    wires: tuple[str, ...]
    """Wires that are there for certain."""
    possible: tuple[str, ...]
    """Wires that are probably there: the file does not say it for certain."""
    circuits: tuple[str, ...]
    fuses: tuple[str, ...]
    """Protections to pull before the spot is touched."""
    unfused: tuple[str, ...]
    """Wires there that are live with every fuse pulled: the battery has to come off."""
    place: str = ""
    """The place, when the spot was named by one."""


def damaged_at(
    vehicle: Vehicle,
    where: str,
    metres: float | None = None,
    bundles: Bundles | None = None,
    feeds: Feeds | None = None,
) -> Damage:
    """Return what is in the harness at a spot.

    `where` is a place (everything that passes it or ends there), or a run; `metres` then says
    how far along, from its first place. Raises KeyError when neither has that name, ValueError
    when the run is not that long or its length is not known.
    """
    bundles = bundles or Bundles(vehicle)
    feeds = feeds or Feeds(vehicle)
    if where in vehicle.runs:
        legs, words = _spot_on_run(bundles, vehicle.runs[where], metres)
        ends: set[str] = set()
    elif where in vehicle.places:
        place = vehicle.places[where]
        words = f"{place.label} ({where})" if place.label else where
        legs = tuple(leg for run in bundles.legs.values() for leg in run
                     if where in (leg.start, leg.end))
        ends = {name for name, wire in vehicle.wires.items()
                if any(where in _names(vehicle, bundles.end_place(end))
                       for end in (wire.a, wire.b))}
    else:
        raise KeyError(where)
    sure, possible = [], []
    for name in vehicle.wires:
        way = bundles.ways.get(name)
        along = way is not None and any(leg in legs for leg in way.legs)
        if name in ends or (along and way is not None and way.certain):
            sure.append(name)
        elif along:
            possible.append(name)
    members = [*sure, *possible]
    return Damage(
        words, legs, tuple(sure), tuple(possible),
        tuple(circuits_of_wires(feeds.topology, members)),
        *_live(feeds, members),
        where if where in vehicle.places and where not in vehicle.runs else "",
    )


def _names(vehicle: Vehicle, place: str) -> list[str]:
    return [each.name for each in enclosing(vehicle, place)]


def _spot_on_run(bundles: Bundles, run: Run, metres: float | None) -> tuple[tuple[Leg, ...], str]:
    legs = bundles.legs[run.name]
    name = f"{run.label} ({run.name})" if run.label else run.name
    if metres is None:
        return legs, f"{name}, all along"
    total = 0.0
    if metres < 0:
        raise ValueError("a distance along a run can't be negative")
    for leg in legs:
        if leg.length_m is None:
            raise ValueError(f"the length of the run '{run.name}' is not known: name a place")
        total += leg.length_m
        if metres <= total + 1e-9:
            return (leg,), (f"{name}, {metres:g} m from {run.places[0]}, "
                            f"between {leg.start} and {leg.end}")
    raise ValueError(f"the run '{run.name}' is {total:.2f} m long, not {metres:g} m")


def circuits_of_wires(topology: Topology, wires: list[str]) -> list[str]:
    """Return the circuits that have a part at either end of these wires, followed on through
    plugs and splices."""
    vehicle = topology.vehicle
    queue = [end.node for name in wires for end in (vehicle.wires[name].a, vehicle.wires[name].b)]
    reached = set(queue)
    parts: set[str] = set()
    for node in queue:
        part = vehicle.parts.get(topology.part_of.get(node, ""))
        if part is None:
            continue
        if part.connector is None and part.family not in ("splice", "earth"):
            parts.add(part.name)
        passes = ("wire", "plug") if part.connector or part.family == "splice" else ()
        for edge in topology.edges_at.get(node, ()):
            far = edge.other(node)
            if edge.type in passes and far not in reached:
                reached.add(far)
                queue.append(far)
    return [name for name, circuit in vehicle.circuits.items()
            if any(part in parts for part in circuit.parts)]


def _live(feeds: Feeds, wires: list[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the protections that feed any of the wires, and the wires that none protects."""
    nodes = {name: (feeds.vehicle.wires[name].a.node, feeds.vehicle.wires[name].b.node)
             for name in wires}
    fed = {name: feeds.downstream(name) for name in feeds.protections()}
    fuses = [name for name, downstream in fed.items()
             if any(a in downstream or b in downstream for a, b in nodes.values())]
    bare = [name for name, (a, b) in nodes.items()
            if a in feeds.live_side or b in feeds.live_side]
    return tuple(fuses), tuple(bare)
