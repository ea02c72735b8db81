"""Coils of relays, what lies across them, and which of their ends is plus."""

from __future__ import annotations

from dataclasses import dataclass

from harnessdsl.model.topology import terminal_node
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.nets import Link
from harnessdsl.rules.context import RuleContext


@dataclass(frozen=True, slots=True)
class Coil:
    """A coil and the diodes, resistors and capacitors across it."""

    part: Part
    a: int
    b: int
    node_a: str
    node_b: str
    suppressors: tuple[Link, ...]

    def net(self, terminal: str) -> int | None:
        """Return the net of a terminal of the coil, None when it is none of the coil's."""
        for node, net in ((self.node_a, self.a), (self.node_b, self.b)):
            if node == f"{self.part.name}.{terminal}":
                return net
        return None


def coils(context: RuleContext) -> tuple[Coil, ...]:
    """Return all coils of a vehicle in the order of the file."""
    by_pair: dict[tuple[int, int], list[Link]] = {}
    for link in context.nets.links:
        if link.suppressor:
            by_pair.setdefault((min(link.a, link.b), max(link.a, link.b)), []).append(link)
    found = []
    for part in context.vehicle.parts.values():
        for primitive in part.kind.primitives:
            if primitive.type == "coil":
                node_a, node_b = (terminal_node(part.name, end)
                                  for end in (primitive.a, primitive.b))
                a, b = context.nets.of[node_a], context.nets.of[node_b]
                pair = (min(a, b), max(a, b))
                found.append(Coil(part, a, b, node_a, node_b, tuple(by_pair.get(pair, ()))))
    return tuple(found)


def plus_side(context: RuleContext, coil: Coil) -> int | None:
    """Return the net on the plus side of a coil, or None when the wiring does not settle it."""
    supply = context.supply
    live_a = supply.fed(coil.a) and supply.returned(coil.b)
    live_b = supply.fed(coil.b) and supply.returned(coil.a)
    if live_a == live_b:
        return None
    live, other = (coil.a, coil.b) if live_a else (coil.b, coil.a)
    return other if context.vehicle.positive_earth else live
