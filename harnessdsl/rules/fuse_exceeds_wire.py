"""A fuse that lets more through than a wire behind it can carry.

What
    At every point behind a fuse, circuit breaker or link, the fuse's rating is compared with what
    the wire there may be protected with: also where a thinner wire branches off, behind switches,
    relays and plugs. Of several fuses in a row the smallest counts; a resistor and the output stage
    of a control module limit the current as well.

Why
    A fuse protects the wire, not the load. A wire thinner than its fuse allows glows first.
    Up to 1 mm2 the limit is the continuous current at 50 C around the wire (0.5 mm2: 7.5 A,
    0.75 mm2: 10 A), above it the one at 30 C (1 mm2: 15 A, 1.5 mm2: 20 A, 2.5 mm2: 30 A, 4 mm2:
    40 A, 6 mm2: 50 A, 10 mm2: 70 A, 16 mm2: 100 A, 25 mm2: 125 A). A thin wire between both limits
    gets a warning, anything above the 30 C column is an error. Nothing is added for better
    insulation, since plugs and neighbours in the loom have to live with the heat too. The maker's
    data go first.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  25 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> S1.1  2.5 mm2 RD
    wire S1.2 -> E5.1  0.75 mm2 GY
    wire E5.2 -> E1  0.75 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> S1.1  2.5 mm2 RD
    wire S1.2 -> E5.1  0.75 mm2 GY
    wire E5.2 -> E1  0.75 mm2 BN

Source
    Continuous currents: DIN VDE 0298-4, single-core PVC, 30 and 50 C (0.5 mm2 at 30 C from
    memory). Fusible links: four gauge numbers thinner than the wire, common practice. A rating at
    most as high as the wire's continuous current: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.kind import PROTECTION_TYPES
from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.blame import free_of_faults
from harnessdsl.rules.analysis.loads import power_w
from harnessdsl.rules.analysis.nets import is_solid
from harnessdsl.rules.analysis.supply import is_protection
from harnessdsl.rules.analysis.wire_limits import (
    AREAS_MM2,
    fuse_ceiling_a,
    fuse_limit_a,
    largest_fuse_a,
    link_rating_a,
)
from harnessdsl.rules.analysis.wording import area_words, listed
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule
from harnessdsl.text import NOWHERE

_CHARGING_RATIO = 1.2
"""Volts while the battery is charged, as a multiple of the nominal voltage: 14.4 V for 12 V."""
_FUSE_OVER_LOAD = 2.5
"""A fuse of more than this many times the load behind it is the odd one out, not the wire
(common practice, no source; the usual fuse is 1.25 to 2 times the load)."""


@dataclass(frozen=True, slots=True)
class Limit:
    """The most that can flow into a net, and the last fuse on the way there."""

    ampere: float
    fuse: Edge | None


_OPEN = Limit(float("inf"), None)


def rating_a(context: RuleContext, edge: Edge) -> float | None:
    """Return what a fuse, breaker, link or fusible wire counts as in amperes, None if unknown."""
    if edge.wire is not None:
        return None if edge.wire.area_mm2 is None else link_rating_a(edge.wire.area_mm2)
    assert edge.primitive is not None
    rating = edge.primitive.figure("current")
    if rating is None and edge.type == "link":
        area = context.vehicle.parts[edge.part].figures.get(("", "area"))
        return None if area is None else link_rating_a(area.value)
    return rating


def _passing(context: RuleContext, edge: Edge, before: Limit) -> Limit:
    """Return what is left of a limit behind an edge."""
    if is_protection(edge):
        rating = rating_a(context, edge)
        if rating is None:
            return Limit(0.0, edge)  # unknown: nothing can be said about what is behind it
        return Limit(min(rating, before.ampere), edge)
    primitive = edge.primitive
    if primitive is None:
        return before
    if edge.type in ("resistor", "winding"):
        ohm = primitive.figure("resistance")
        most = context.vehicle.nominal_v * _CHARGING_RATIO / ohm if ohm else float("inf")
        return Limit(most, before.fuse) if most < before.ampere else before
    if edge.type == "contact" and "electronic" in primitive.flags:
        most = primitive.figure("current", "max") or float("inf")
        return Limit(most, before.fuse) if most < before.ampere else before
    return before


def limits(context: RuleContext) -> dict[int, Limit]:
    """Return for each net that the supply reaches the largest current that its fuses let in: along
    a row the smallest fuse counts, between several ways the largest."""
    supply = context.supply
    bridged = _bridged(context)
    best: dict[int, Limit] = {pole.net: _OPEN for pole in supply.live_poles}
    queue = list(best)
    for net in queue:
        if net in supply.earth_nets:
            continue
        for way in supply.live_ways[net]:
            found = _passing(context, way.link.edge, best[net])
            if way.far in bridged:
                found = Limit(min(found.ampere, bridged[way.far]), found.fuse)
            if way.far not in best or found.ampere > best[way.far].ampere:
                best[way.far] = found
                queue.append(way.far)
    return best


def _bridged(context: RuleContext) -> dict[int, float]:
    """Return the ratings of the fuses that are bridged, by net: a bridge is named on its own, and
    the wires behind it are judged as if the fuse were in."""
    found: dict[int, float] = {}
    for link in context.nets.links:
        if link.a == link.b and link.edge.type in PROTECTION_TYPES:
            rating = rating_a(context, link.edge)
            if rating is not None:
                found[link.a] = min(rating, found.get(link.a, rating))
    return found


def _load_behind_a(context: RuleContext, nets: set[int]) -> float:
    """Return the sum of the currents of the loads on some nets, in amperes."""
    nominal_v = context.vehicle.nominal_v
    total = 0.0
    for load in context.loads:
        if (load.a in nets or load.b in nets) and load.primitive is not None:
            total += (power_w(load.primitive, nominal_v) or 0.0) / nominal_v
    return total


@rule("fuse-exceeds-wire", Severity.ERROR)
def fuse_exceeds_wire(context: RuleContext) -> Iterator[Diagnostic]:
    if not context.has_sound_supply:
        return
    context = context.once(free_of_faults)
    by_net = limits(context)
    wires: dict[int, list[tuple[Wire, int]]] = {}
    fuses: dict[int, Edge] = {}
    nets_of: dict[int, set[int]] = {}
    for net, limit in by_net.items():
        if limit.fuse is not None and net not in context.supply.earth_nets:
            fuses[id(limit.fuse)] = limit.fuse
            nets_of.setdefault(id(limit.fuse), set()).add(net)
    for wire in context.vehicle.wires.values():
        if wire.area_mm2 is None or wire.fusible:
            continue
        net = context.nets.of[wire.a.node]
        limit = by_net.get(net, _OPEN)
        if limit.fuse is not None and net not in context.supply.earth_nets:
            wires.setdefault(id(limit.fuse), []).append((wire, net))
    for key, behind in wires.items():
        thin = [
            (wire, by_net[net].ampere) for wire, net in behind
            if by_net[net].ampere > fuse_limit_a(wire.area_mm2 or 0, wire.material)
        ]
        if thin:
            load_a = _load_behind_a(context, nets_of[key])
            yield from _findings(context, fuses[key], behind, thin, load_a)


def _findings(context: RuleContext, fuse: Edge, behind: list[tuple[Wire, int]],
              thin: list[tuple[Wire, float]], load_a: float) -> Iterator[Diagnostic]:
    name = fuse.part or (fuse.wire.name if fuse.wire else "")
    rating = rating_a(context, fuse) or 0.0
    thin_names = {wire.name for wire, _ in thin}
    sound = [wire for wire, _ in behind if wire.name not in thin_names]
    direct = [wire for node in (fuse.a, fuse.b) for wire in context.wires_at.get(node, ())
              if any(wire is other for other, _ in behind)]
    facts = {wire.span for wire, _ in thin}
    all_thin = not sound and (len(facts) > 1 or rating > _FUSE_OVER_LOAD * load_a > 0)
    most_thin = len(facts) > max(1, len({wire.span for wire in sound})) and any(
        wire.name in thin_names for wire in direct)
    smallest = min(ampere for _, ampere in thin)
    before = f", behind a smaller one of {smallest:.3g} A," if smallest < rating else ""
    if (all_thin or most_thin) and fuse.part:
        worst, ampere = min(thin, key=lambda pair: fuse_limit_a(pair[0].area_mm2 or 0))
        part = context.vehicle.parts[name]
        yield Diagnostic(
            _severity(worst, ampere), "fuse-exceeds-wire",
            f"{_fuse_words(fuse)} '{name}' of {rating:g} A{before} protects "
            f"{'wires' if len(thin) > 1 else 'a wire'} for which "
            f"{largest_fuse_a(worst.area_mm2 or 0, worst.material):g} A is the most: "
            + listed([f"'{wire.name}' ({area_words(wire)})" for wire, _ in thin], 3),
            part.name_span, _hint(worst, ampere),
            tuple(Related("wire too thin for it", wire.span) for wire, _ in thin[:6]), name)
        return
    fuse_span = context.vehicle.parts[name].name_span if fuse.part else (
        fuse.wire.span if fuse.wire else NOWHERE)
    for wire, ampere, further in _points(context, fuse, thin):
        yield Diagnostic(
            _severity(wire, ampere), "fuse-exceeds-wire",
            f"wire '{wire.name}' of {area_words(wire)} may be protected with up to "
            f"{largest_fuse_a(wire.area_mm2 or 0, wire.material):g} A, but {_fuse_words(fuse)} "
            f"'{name}'{before} lets {ampere:.3g} A through",
            wire.area_span if wire.area_span.line else wire.span, _hint(wire, ampere),
            (Related(f"{_fuse_words(fuse)} {name}", fuse_span),
             *(Related(f"further on, {area_words(w)} too", w.span) for w in further[:5])),
            wire.name)


def _points(context: RuleContext, fuse: Edge, thin: list[tuple[Wire, float]]
            ) -> list[tuple[Wire, float, list[Wire]]]:
    """Return the points, seen from the fuse, at which the wire gets too thin, each with the thin
    wires of other lines behind it."""
    ampere = {wire.name: most for wire, most in thin}
    came: dict[str, Wire | None] = {fuse.a: None, fuse.b: None}
    points: dict[str, tuple[Wire, float, list[Wire]]] = {}
    passable = {id(way.link.edge) for ways in context.supply.live_ways for way in ways}
    queue = [fuse.a, fuse.b]
    for node in queue:
        for edge in context.topology.edges_at[node]:
            far = edge.other(node)
            if far in came or not (is_solid(edge) or (
                    id(edge) in passable and not is_protection(edge))):
                continue
            first, wire = came[node], edge.wire
            if wire is not None and wire.name in ampere:
                if first is None:
                    first = wire
                    points[wire.name] = (wire, ampere[wire.name], [])
                elif wire.span != first.span:
                    points[first.name][2].append(wire)
            came[far] = first
            queue.append(far)
    seen = {name for point in points.values() for name in (point[0].name, *(
        w.name for w in point[2]))} | {w.name for w in came.values() if w is not None}
    spans = {context.vehicle.wires[name].span for name in seen}
    for wire, most in thin:  # in a ring no wire may stay unnamed
        if wire.name not in seen and wire.span not in spans:
            points[wire.name] = (wire, most, [])
    return list(points.values())


def _fuse_words(fuse: Edge) -> str:
    return {"fuse": "fuse", "breaker": "circuit breaker", "link": "fusible link",
            "wire": "fusible wire"}[fuse.type]


def _severity(wire: Wire, ampere: float) -> Severity:
    ceiling = fuse_ceiling_a(wire.area_mm2 or 0, wire.material)
    return Severity.ERROR if ampere > ceiling else Severity.WARNING


def _hint(wire: Wire, ampere: float) -> str:
    fitting = next((a for a in AREAS_MM2 if fuse_limit_a(a, wire.material) >= ampere), None)
    smaller = f"a fuse of at most {largest_fuse_a(wire.area_mm2 or 0, wire.material):g} A"
    return f"{smaller}, or a wire of at least {fitting:g} mm2" if fitting else smaller
