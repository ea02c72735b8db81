"""A load that the supply reaches without any fuse.

What
    From every battery and generator, through every contact that can close, the way to a load, a
    relay coil, a control module or a socket passes no fuse, circuit breaker or fusible link.

Why
    A chafed wire on that way is fed by the whole battery: hundreds of amperes, and the insulation
    of everything in the same loom burns before anything opens. Where the maker left a load without
    a fuse on purpose (the starter cable, often the ignition), say so: `unfused "reason"` on the
    part, or `accept unfused-load PART "reason"`.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Work lamp"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Source
    Common practice in vehicle wiring: every circuit but the starter's has its overcurrent
    protection near the source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.kind import PROTECTION_TYPES
from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.loads import Load
from harnessdsl.rules.analysis.states import UNFUSED
from harnessdsl.rules.analysis.supply import Entry
from harnessdsl.rules.analysis.tracing import (
    has_protection,
    nodes_of,
    route,
    route_start,
    walk,
    wires_of,
)
from harnessdsl.rules.analysis.wording import listed, part_words, route_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

_MANY = 4
"""From so many loads on, one message about the wire says more than one about each load."""


def unfused_way(context: RuleContext, load: Load) -> tuple[Entry, int] | None:
    """Return a way to the load that passes no fuse, and the net at which it arrives."""
    supply = context.supply
    for net in (load.a, load.b):
        if net in supply.earth_nets:
            continue
        for entry in supply.live[net]:
            if entry.condition & UNFUSED:
                return entry, net
    return None


def _bypass(context: RuleContext, edges: list[Edge], end: str) -> Wire | None:
    """Return the wire on the route that leads around a fuse, or taps in before one."""
    start = route_start(edges, end)
    nodes = nodes_of(edges, start)
    for edge in context.topology.edges:
        if edge.type in PROTECTION_TYPES and edge.a in nodes and edge.b in nodes:
            first, last = sorted((nodes.index(edge.a), nodes.index(edge.b)))
            between = wires_of(edges[first:last])
            if between:
                return max(between, key=lambda wire: wire.span)
    after: Wire | None = None
    for node, edge in zip(nodes, edges, strict=False):
        if has_protection(context, node):
            after = edge.wire if edge.wire is not None else after
    return after or _second_feed(context, edges, start, end)


def _second_feed(context: RuleContext, edges: list[Edge], start: str, end: str) -> Wire | None:
    """Return the wire nearest to the load without which the load still has a feed, with a fuse."""
    carriers = {"wire", "plug", "joint", "bond", "contact", "resistor", "diode", *PROTECTION_TYPES}
    earth = context.supply.earth_nets
    for wire in reversed(wires_of(edges)):
        def passes(edge: Edge, without: Wire = wire) -> bool:
            return edge.type in carriers and edge.wire is not without and (
                context.nets.of[edge.a] not in earth)

        found = walk(context, start, lambda node: node == end, passes)
        if found is not None and any(edge.type in PROTECTION_TYPES for edge in found):
            return wire
    return None


@rule("unfused-load", Severity.ERROR)
def unfused_load(context: RuleContext) -> Iterator[Diagnostic]:
    if not context.has_sound_supply:
        return
    done: set[str] = set()
    groups: dict[str, list[tuple[Load, list[Edge], str]]] = {}
    guilty: dict[str, Wire] = {}
    for load in context.loads:
        if load.part.name in done or load.part.unfused_reason:
            continue
        found = unfused_way(context, load)
        if found is None:
            continue
        done.add(load.part.name)
        entry, net = found
        end = load.node(net)
        edges = route(context, entry, end)
        wire = _bypass(context, edges, end)
        key = wire.name if wire is not None else ""
        if wire is not None:
            guilty[key] = wire
        groups.setdefault(key, []).append((load, edges, end))
    for key, members in groups.items():
        wire = guilty.get(key)
        if wire is not None and len(members) >= _MANY:
            parts = [load.part for load, _, _ in members]
            yield Diagnostic(
                Severity.ERROR, "unfused-load",
                f"{wire_words(wire)} brings supply past the fuse to {len(parts)} loads: "
                + listed([part.name for part in parts]),
                wire.span, "take it from the fuse's other terminal",
                tuple(Related(f"fed without a fuse: {part.name}", part.name_span)
                      for part in parts[:6]), wire.name)
            continue
        for load, edges, end in members:
            yield _finding(context, load, edges, end, wire)


def _finding(context: RuleContext, load: Load, edges: list[Edge], end: str,
             wire: Wire | None) -> Diagnostic:
    part = load.part
    way = route_words(context, edges, end)
    message = f"no fuse between the supply and {part_words(part)}: {way}"
    if wire is not None:
        return Diagnostic(
            Severity.ERROR, "unfused-load", message + f"; {wire_words(wire)} passes the fuse by",
            wire.span, "take the feed from the fuse's other terminal",
            (Related("the load", part.name_span),), part.name)
    wires = wires_of(edges)
    return Diagnostic(
        Severity.ERROR, "unfused-load", message, part.name_span,
        f"put a fuse near the battery, or write on '{part.name}': unfused \"why not\"",
        tuple(Related("the feed", w.span) for w in wires[:1]), part.name)
