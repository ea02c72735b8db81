"""A wire that is shorter than the way it has to go.

What
    The length of a wire, of a whole chain or of a run is less than the straight distance between
    its places. A hand's breadth and 5 % are allowed for, since places are marked by eye; places
    without a position are not judged.

Why
    One of the two is wrong: the length, or where a part is said to be.

Wrong
    place front "Front" at 300, 0, 600 mm
    place rear "Rear" at 4000, 0, 600 mm
    battery G1 "Battery" in rear
    earth E1 "Wing stud" in front
    wire G1.- -> E1  25 mm2 BK  1.2 m
    starter-inertia M1 "Starter" in front on body  unfused "no starter has a fuse"  always-live
    wire G1.+ -> M1.30  25 mm2 RD  5 m

Right
    place front "Front" at 300, 0, 600 mm
    place rear "Rear" at 4000, 0, 600 mm
    battery G1 "Battery" in rear
    earth E1 "Wing stud" in front
    wire G1.- -> E1  25 mm2 BK  4.2 m
    starter-inertia M1 "Starter" in front on body  unfused "no starter has a fuse"  always-live
    wire G1.+ -> M1.30  25 mm2 RD  5 m

Source
    Geometry; the allowance is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import End, Wire
from harnessdsl.model.wire_builder import distance_m
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

ALLOWANCE_M = 0.1
ALLOWANCE_SHARE = 0.05


def _too_short(length_m: float, distance: float) -> bool:
    return length_m < distance * (1 - ALLOWANCE_SHARE) - ALLOWANCE_M


def _place(context: RuleContext, end: End) -> str:
    part = context.vehicle.parts.get(end.part)
    if part is None:
        return ""
    if part.connector is not None and end.half:
        half = part.connector.halves.get(end.half)
        if half is not None and half.place:
            return half.place
    return part.place


@rule("wire-too-short", Severity.ERROR)
def wire_too_short(context: RuleContext) -> Iterator[Diagnostic]:
    known: dict[tuple[str, str], float | None] = {}

    def apart(first: str, second: str) -> float | None:
        if (first, second) not in known:
            known[first, second] = distance_m(context.vehicle.places, first, second)
        return known[first, second]

    chains: dict[object, list[Wire]] = {}
    for wire in context.vehicle.wires.values():
        chains.setdefault((wire.span, wire.chain) if wire.chain else wire.name, []).append(wire)
    for pieces in chains.values():
        ways = [apart(_place(context, w.a), _place(context, w.b)) for w in pieces]
        whole_m = pieces[0].chain_length_m
        if whole_m is not None and all(way is not None for way in ways):
            total = sum(way for way in ways if way is not None)
            if _too_short(whole_m, total):
                yield _finding(context, pieces, whole_m, total)
                continue
        for wire, way in zip(pieces, ways, strict=True):
            own = wire.length_m is not None and (wire.chain_length_m is None
                                                 or wire.length_span != pieces[-1].length_span)
            if own and way is not None and wire.length_m is not None and (
                    _too_short(wire.length_m, way)):
                yield _finding(context, [wire], wire.length_m, way)
    for run in context.vehicle.runs.values():
        steps = [apart(a, b) for a, b in zip(run.places, run.places[1:], strict=False)]
        distances = [step for step in steps if step is not None]
        if run.length_m is not None and len(distances) == len(steps) and (
                _too_short(run.length_m, sum(distances))):
            yield Diagnostic(
                Severity.ERROR, "wire-too-short",
                f"run '{run.name}' is {run.length_m:g} m long, but its places lie "
                f"{sum(distances):.2f} m apart: {' - '.join(run.places)}",
                run.span, f"at least {sum(distances):.1f} m", subject=run.name)


def _finding(context: RuleContext, pieces: Sequence[Wire], length_m: float, distance: float
             ) -> Diagnostic:
    first, last = pieces[0], pieces[-1]
    stations = [_place(context, first.a)]
    for wire in pieces:
        if (place := _place(context, wire.b)) != stations[-1]:
            stations.append(place)
    name = first.chain if len(pieces) > 1 else first.name
    places = context.vehicle.places
    return Diagnostic(
        Severity.ERROR, "wire-too-short",
        f"wire '{name}' is {length_m:g} m long, but its places lie {distance:.2f} m apart: "
        + " - ".join(stations),
        last.length_span if last.length_span.line else last.span,
        f"at least {distance:.1f} m, or correct the position of a place",
        tuple(Related("the place", places[s].span) for s in stations[:4] if s in places), name)
