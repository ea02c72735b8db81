"""Loads that the supply reaches without a fuse, and the wire that passes the fuse by."""

from __future__ import annotations

from dataclasses import dataclass

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
from harnessdsl.rules.context import RuleContext


@dataclass(frozen=True, slots=True)
class Unfused:
    """A load without a fuse, the way there, and the wire to blame if there is one."""

    load: Load
    edges: tuple[Edge, ...]
    end: str
    wire: Wire | None
    spare: bool
    """The load has another feed, with a fuse, so that the wire can go."""


def unfused(context: RuleContext) -> tuple[Unfused, ...]:
    """Return the loads without a fuse, one for each part, in the order of the file. Parts that
    say why they have none are left out."""
    if not context.has_sound_supply:
        return ()
    done: set[str] = set()
    found: list[Unfused] = []
    for load in context.loads:
        if load.part.name in done or load.part.unfused_reason:
            continue
        way = _way(context, load)
        if way is None:
            continue
        done.add(load.part.name)
        entry, net = way
        end = load.node(net)
        edges = route(context, entry, end)
        tap = _tap(context, edges, end)
        second = _second_feed(context, edges, route_start(edges, end), end)
        found.append(Unfused(load, tuple(edges), end, tap or second, second is not None))
    return tuple(found)


def _way(context: RuleContext, load: Load) -> tuple[Entry, int] | None:
    """Return a way to the load that passes no fuse, and the net at which it arrives."""
    supply = context.supply
    for net in (load.a, load.b):
        if net in supply.earth_nets:
            continue
        for entry in supply.live[net]:
            if entry.condition & UNFUSED:
                return entry, net
    return None


def _tap(context: RuleContext, edges: list[Edge], end: str) -> Wire | None:
    """Return the wire on the route that leads around a fuse, or taps in before one."""
    nodes = nodes_of(edges, route_start(edges, end))
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
    return after


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
