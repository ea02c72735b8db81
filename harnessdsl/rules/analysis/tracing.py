"""From nets back to the wires of the file: routes, and which wire a finding is about."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from harnessdsl.model.kind import LOAD_TYPES, PROTECTION_TYPES, Side
from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.nets import is_solid
from harnessdsl.rules.analysis.supply import Entry
from harnessdsl.rules.context import RuleContext

_EARTH_NAMES = ("31", "-", "B-", "D-")


def walk(context: RuleContext, start: str, goal: Callable[[str], bool],
         passes: Callable[[Edge], bool]) -> list[Edge] | None:
    """Return the shortest row of edges from `start` to a node that is the goal, or None."""
    if goal(start):
        return []
    came: dict[str, Edge | None] = {start: None}
    queue = [start]
    for node in queue:
        for edge in context.topology.edges_at[node]:
            far = edge.other(node)
            if far not in came and passes(edge):
                came[far] = edge
                if goal(far):
                    return context.topology.path(came, far)
                queue.append(far)
    return None


def _inside(context: RuleContext, start: str, ends: Iterable[str]) -> list[Edge]:
    wanted = set(ends)
    return walk(context, start, wanted.__contains__, is_solid) or []


def route(context: RuleContext, entry: Entry, end: str, from_earth: bool = False) -> list[Edge]:
    """Return the edges of a way found by the supply analysis, wires included, from its start (a
    pole, or earth) to the node `end`."""
    nets = context.nets
    poles = context.supply.return_poles if from_earth else context.supply.live_poles
    starts = [pole.node for pole in poles if pole.net == entry.start]
    if from_earth:
        starts = [n for n in nets.members[entry.start] if n.startswith("@")] or starts
    node = starts[0] if starts else nets.members[entry.start][0]
    edges: list[Edge] = []
    nets_passed = entry.nets
    for link, net in zip(entry.links, nets_passed, strict=False):
        near, far = ((link.edge.a, link.edge.b) if link.a == net and nets.of[link.edge.a] == net
                     else (link.edge.b, link.edge.a))
        edges += _inside(context, node, (near,))
        edges.append(link.edge)
        node = far
    edges += _inside(context, node, (end,))
    return edges


def nodes_of(edges: Sequence[Edge], start: str) -> list[str]:
    """Return the nodes along a row of edges."""
    nodes = [start]
    for edge in edges:
        nodes.append(edge.other(nodes[-1]))
    return nodes


def route_start(edges: Sequence[Edge], end: str) -> str:
    """Return the node from which a row of edges leads to `end`."""
    node = end
    for edge in reversed(edges):
        node = edge.other(node)
    return node


def wires_of(edges: Iterable[Edge]) -> list[Wire]:
    """Return the wires among the edges, in order."""
    return [edge.wire for edge in edges if edge.wire is not None]


def has_protection(context: RuleContext, node: str) -> bool:
    """Say whether a fuse, breaker or link has a terminal at the node."""
    return any(edge.type in PROTECTION_TYPES for edge in context.topology.edges_at[node])


def wire_on_net_between(context: RuleContext, first: str, second: str) -> list[Wire]:
    """Return the wires on the solid way between two nodes of one net."""
    return wires_of(_inside(context, first, (second,)))


def side_without(context: RuleContext, start: str, wire: Wire) -> set[str]:
    """Return the nodes of the net of `start` that hang together when `wire` is taken out."""
    found = {start}
    queue = [start]
    for node in queue:
        for edge in context.topology.edges_at[node]:
            if is_solid(edge) and edge.wire is not wire:
                far = edge.other(node)
                if far not in found:
                    found.add(far)
                    queue.append(far)
    return found


def earth_end(context: RuleContext, entry: Entry) -> str:
    """Return a node of the earth net that a way ends in: metal, an earth point or a pole."""
    members = context.nets.members[entry.net]
    metal = [node for node in members if node.startswith("@")]
    points = [node for node in members
              if (part := context.vehicle.parts.get(context.topology.part_of[node])) is not None
              and part.family == "earth"]
    poles = [pole.node for pole in context.supply.return_poles if pole.net == entry.net]
    return (metal or points or poles or list(members))[0]


def to_first_metal(edges: Sequence[Edge], end: str) -> tuple[list[Edge], str]:
    """Return a route cut off where it first meets metal, and its end."""
    nodes = nodes_of(edges, route_start(edges, end))
    cut = next((i for i, node in enumerate(nodes) if node.startswith("@")), len(nodes) - 1)
    return list(edges[:cut]), nodes[cut]


def wire_meeting_earth(context: RuleContext, edges: Sequence[Edge], end: str) -> Wire | None:
    """Return the first wire on a way to earth whose far end is meant to be earth: an earth point,
    or a part's earth terminal, where a feed should not end."""
    nodes = nodes_of(edges, route_start(edges, end))
    for index, far in enumerate(nodes[1:]):
        if is_earth_side(context, far):
            before = wires_of(edges[: index + 1])
            return before[-1] if before else None
    return None


def is_earth_side(context: RuleContext, node: str) -> bool:
    """Say whether a node is meant to be earth: metal, an earth point, a part's earth terminal."""
    if node.startswith("@"):
        return True
    part = context.vehicle.parts.get(context.topology.part_of.get(node, ""))
    if part is None or part.connector is not None:
        return False
    if part.family == "earth":
        return True
    terminal = part.kind.terminal(node.partition(".")[2])
    if terminal is None or part.family == "battery":
        return terminal is not None and terminal.name == "-"
    if terminal.role == "earth" or terminal.case or terminal.name in _EARTH_NAMES:
        return True
    works = [p for p in part.kind.primitives if terminal.name in (p.a, p.b)]
    return (terminal.side is Side.LOWER and bool(works)
            and all(p.type in LOAD_TYPES or p.type == "coil" for p in works))


def joins_outputs(context: RuleContext, wire: Wire) -> bool:
    """Say whether a wire runs from the output of one fuse, switch or relay to that of another."""
    return all(_is_output(context, end.node) for end in (wire.a, wire.b))


def _is_output(context: RuleContext, node: str) -> bool:
    part = context.vehicle.parts.get(context.topology.part_of.get(node, ""))
    terminal = part.kind.terminal(node.partition(".")[2]) if part is not None else None
    return terminal is not None and terminal.side is Side.LOWER and any(
        edge.type == "contact" or edge.type in PROTECTION_TYPES
        for edge in context.topology.edges_at[node])
