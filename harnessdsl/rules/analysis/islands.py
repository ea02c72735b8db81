"""What hangs together with a load that gets no supply or no earth, and where the gap is."""

from __future__ import annotations

from dataclasses import dataclass

from harnessdsl.model.kind import Side
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.loads import Load
from harnessdsl.rules.context import RuleContext


@dataclass(frozen=True, slots=True)
class Island:
    """Nets that are joined with each other, but not with what they need."""

    nets: tuple[int, ...]

    @property
    def key(self) -> int:
        return min(self.nets)


def island_of(context: RuleContext, net: int) -> Island:
    """Return the nets joined with `net` through anything that passes current, whichever way."""
    supply = context.supply
    found = [net]
    known = {net}
    for here in found:
        for way in (*supply.live_ways[here], *supply.earth_ways[here]):
            if way.far not in known and way.far not in supply.earth_nets:
                known.add(way.far)
                found.append(way.far)
    return Island(tuple(found))


def open_terminal(context: RuleContext, island: Island, side: Side) -> tuple[Part, str] | None:
    """Return the part and node on the island at which a wire is missing: a terminal of a fuse,
    switch, relay or module without any wire, on the given side; None if there is no such one."""
    best: tuple[int, Part, str] | None = None
    for net in island.nets:
        for node in context.nets.members[net]:
            part = context.vehicle.parts.get(context.topology.part_of[node])
            if part is None or part.connector is not None or node in context.wired:
                continue
            terminal = part.kind.terminal(node.partition(".")[2])
            if terminal is None or terminal.role == "inner" or terminal.side is not side:
                continue
            if part.name not in context.wired_parts:
                continue
            types = {edge.type for edge in context.topology.edges_at[node]}
            if not types & {"fuse", "breaker", "link", "contact", "resistor", "joint"}:
                continue
            rank = 0 if types & {"fuse", "breaker", "link"} else 1
            if best is None or rank < best[0]:
                best = (rank, part, node)
    return None if best is None else (best[1], best[2])


def lost_earth_terminal(context: RuleContext, load: Load) -> str | None:
    """Return the earth terminal (31) that contacts join with a reversing load and that leads
    nowhere: a window motor's switch, the drive of a lock. None when there is none."""
    found = [load.a, load.b]
    for net in found:
        for way in context.supply.earth_ways[net]:
            edge = way.link.edge
            if edge.type != "contact" or edge.primitive is None:
                continue
            for node in (edge.a, edge.b):
                if context.nets.of[node] == way.far and node.endswith((".31", ".-")) and (
                        not context.supply.returned(way.far)):
                    return node
            if way.far not in found:
                found.append(way.far)
    return None
