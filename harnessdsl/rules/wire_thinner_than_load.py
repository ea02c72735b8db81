"""A wire too thin for a single load that it carries.

What
    On the way from the battery to a load and from there back to the battery every wire, earth wires
    and straps too, is compared with that one load's current; and the cable to a fuse, as far as
    nothing else protects it, with the fuse's rating. Loads are not added up here: that takes the
    circuit computed. A generator's cable is compared with what it gives.

Why
    An earth wire carries what the feed carries, and no fuse looks after it. Up to the continuous
    current at 30 C a wire may carry a load; a starter and others above 80 A may draw 30 A/mm2 for
    the seconds that they run. The maker's data go first.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Fan"  30 A
    toggle-switch S1 "Fan switch"
    fan-motor M3 "Fan"  20 A
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> S1.1  2.5 mm2 RD
    wire S1.2 -> M3.+  2.5 mm2 GY
    wire M3.- -> E1  0.5 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Fan"  30 A
    toggle-switch S1 "Fan switch"
    fan-motor M3 "Fan"  20 A
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> S1.1  2.5 mm2 RD
    wire S1.2 -> M3.+  2.5 mm2 GY
    wire M3.- -> E1  2.5 mm2 BN

Source
    Continuous currents: DIN VDE 0298-4, single-core PVC, 30 C. 30 A/mm2 for a short time: handbooks
    of vehicle electrics, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.blame import free_of_faults
from harnessdsl.rules.analysis.loads import Load, power_w
from harnessdsl.rules.analysis.nets import is_solid
from harnessdsl.rules.analysis.supply import is_protection
from harnessdsl.rules.analysis.tracing import route, walk, wires_of
from harnessdsl.rules.analysis.wire_limits import AREAS_MM2, continuous_a, fuse_limit_a
from harnessdsl.rules.analysis.wording import area_words, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.fuse_exceeds_wire import limits, rating_a
from harnessdsl.rules.registry import rule

SHORT_TIME_A_PER_MM2 = 30.0
SHORT_TIME_FROM_A = 80.0
"""Loads above this run for seconds: starters, glow plugs together (common practice)."""
_LEAST_A = 3.0
"""Any vehicle wire carries this much; smaller loads need no look."""
_TOLERANCE = 1.025


@dataclass(frozen=True, slots=True)
class Draw:
    """A current that a wire has to carry on its own."""

    ampere: float
    part: str
    brief: bool = False
    """For seconds only."""

    def limit_a(self, area_mm2: float, material: str = "copper") -> float:
        """Return what a wire of `area_mm2` may carry of it, in amperes."""
        if self.brief:
            return area_mm2 * SHORT_TIME_A_PER_MM2
        return continuous_a(area_mm2, 30, material) * _TOLERANCE


@rule("wire-thinner-than-load", Severity.ERROR)
def wire_thinner_than_load(context: RuleContext) -> Iterator[Diagnostic]:
    if not context.has_sound_supply:
        return
    context = context.once(free_of_faults)
    worst: dict[str, tuple[float, Wire, Draw]] = {}
    for draw, edges in _draws(context):
        for wire in wires_of(edges):
            if wire.area_mm2 is None or wire.fusible:
                continue
            share = draw.ampere / draw.limit_a(wire.area_mm2, wire.material)
            if share > 1.0 and (wire.name not in worst or share > worst[wire.name][0]):
                worst[wire.name] = (share, wire, draw)
    facts: set[object] = set()
    for _, wire, draw in worst.values():
        fact = (wire.span, wire.area_mm2)
        if fact not in facts:
            facts.add(fact)
            yield _finding(context, wire, draw)


def _draws(context: RuleContext) -> Iterator[tuple[Draw, list[Edge]]]:
    """Yield each current with a way that it takes."""
    for load in context.loads:
        ampere = _current_a(context, load)
        if ampere >= _LEAST_A:
            for edges in _ways(context, load):
                yield Draw(ampere, load.part.name, ampere >= SHORT_TIME_FROM_A), edges
    yield from _cables_to_fuses(context)
    yield from _charging_cables(context)


def _current_a(context: RuleContext, load: Load) -> float:
    nominal_v = context.vehicle.nominal_v
    if load.primitive is None or load.type == "winding":
        return 0.0
    return (power_w(load.primitive, nominal_v) or 0.0) / nominal_v


def _ways(context: RuleContext, load: Load) -> Iterator[list[Edge]]:
    supply = context.supply
    for live, back in ((load.a, load.b), (load.b, load.a)):
        if supply.fed(live) and supply.returned(back):
            yield route(context, supply.live[live][0], load.node(live))
            entry = supply.earth[back][0]
            yield route(context, entry, load.node(back), from_earth=True)
            yield _from_metal_to_battery(context, entry.start)
            return


def _from_metal_to_battery(context: RuleContext, net: int) -> list[Edge]:
    """Return the way of a return current from the metal of a net to the battery's pole."""
    for pole in context.supply.return_poles:
        family = context.vehicle.parts[pole.part].family
        if family != "alternator":
            for entry in context.supply.earth[pole.net]:
                if entry.start == net:
                    return route(context, entry, pole.node, from_earth=True)
    return []


def _cables_to_fuses(context: RuleContext) -> Iterator[tuple[Draw, list[Edge]]]:
    """Yield the ways from the source to fuses that nothing protects, with the fuse's rating."""
    by_net = limits(context)
    for link in context.nets.links:
        edge = link.edge
        rating = rating_a(context, edge) if edge.type in ("fuse", "breaker") else None
        if rating is None or link.a == link.b:
            continue
        for net, node, behind in ((link.a, edge.a, edge.b), (link.b, edge.b, edge.a)):
            if any(wire.area_mm2 and fuse_limit_a(wire.area_mm2, wire.material) < rating
                   for wire in context.wires_at.get(behind, ())):
                continue  # then the fuse is too large, and is named for it
            if net in by_net and by_net[net].fuse is None and context.supply.fed(net):
                yield Draw(rating, edge.part), route(context, context.supply.live[net][0], node)


def _charging_cables(context: RuleContext) -> Iterator[tuple[Draw, list[Edge]]]:
    """Yield the way from each generator to the battery, with the most that it gives."""
    parts = context.vehicle.parts
    poles = context.supply.live_poles
    homes = [pole.node for pole in poles if parts[pole.part].family != "alternator"]
    for pole in poles:
        if parts[pole.part].family != "alternator" or not homes:
            continue
        charge_a = max((p.figure("current") or 0.0 for p in parts[pole.part].kind.primitives
                        if p.type == "alternator"), default=0.0)
        edges = walk(context, pole.node, homes.__contains__,
                     lambda edge: is_solid(edge) or is_protection(edge))
        if edges and charge_a:
            yield Draw(charge_a, pole.part), edges


def _finding(context: RuleContext, wire: Wire, draw: Draw) -> Diagnostic:
    part = context.vehicle.parts[draw.part]
    most = draw.limit_a(wire.area_mm2 or 0.0, wire.material)
    enough = next((a for a in AREAS_MM2 if draw.limit_a(a, wire.material) >= draw.ampere), None)
    does = {"fuse": "is fed through it", "breaker": "is fed through it",
            "alternator": "charges through it"}.get(part.family, "is fed or returns through it")
    return Diagnostic(
        Severity.ERROR, "wire-thinner-than-load",
        f"wire '{wire.name}' of {area_words(wire)} carries {most:.3g} A at most, but "
        f"{part_words(part)} of {draw.ampere:.3g} A {does}",
        wire.area_span if wire.area_span.line else wire.span,
        f"at least {enough:g} mm2" if enough else "a bar, or several wires",
        (Related("see", part.name_span),), wire.name)
