"""Nets: what wires, plugs, bars and bonds join for good is one point; all else links two nets."""

from __future__ import annotations

from dataclasses import dataclass

from harnessdsl.model.kind import LOAD_TYPES
from harnessdsl.model.topology import Edge, Topology

SOLID_TYPES = frozenset({"wire", "plug", "bond", "joint"})
_SUPPRESSORS = {
    "resistor": frozenset({"coil", "solenoid"}),
    "diode": LOAD_TYPES | {"coil"},
    "capacitor": LOAD_TYPES | {"coil"},
}
"""What takes the spark of which: an element across one of these carries no supply."""


def is_solid(edge: Edge) -> bool:
    """Say whether an edge always conducts and protects nothing. A fusible wire protects."""
    return edge.type in SOLID_TYPES and not (edge.wire is not None and edge.wire.fusible)


@dataclass(frozen=True, slots=True)
class Link:
    """An edge between two nets (or one, when it is bridged from end to end)."""

    a: int
    b: int
    edge: Edge
    suppressor: bool = False
    """It lies across a coil or load: it carries no supply, only the coil's spark."""

    def other(self, net: int) -> int:
        return self.b if net == self.a else self.a


@dataclass(frozen=True, slots=True)
class Nets:
    """All nets of a vehicle, by number in the order of the file."""

    of: dict[str, int]
    members: tuple[tuple[str, ...], ...]
    links: tuple[Link, ...]
    at: tuple[tuple[Link, ...], ...]
    """The links at each net; a link with both ends on one net is not among them."""


def build_nets(topology: Topology) -> Nets:
    """Return the nets of `topology`."""
    of: dict[str, int] = {}
    members: list[tuple[str, ...]] = []
    edges_at = topology.edges_at
    for start in topology.nodes:
        if start in of:
            continue
        number = len(members)
        of[start] = number
        found = [start]
        for node in found:
            for edge in edges_at[node]:
                if is_solid(edge):
                    far = edge.b if node == edge.a else edge.a
                    if far not in of:
                        of[far] = number
                        found.append(far)
        members.append(tuple(found))
    raw = [(of[edge.a], of[edge.b], edge) for edge in topology.edges if not is_solid(edge)]
    across: dict[tuple[int, int], set[str]] = {}
    for a, b, edge in raw:
        across.setdefault((min(a, b), max(a, b)), set()).add(edge.type)
    links = tuple(
        Link(a, b, edge, edge.type in _SUPPRESSORS
             and not across[min(a, b), max(a, b)].isdisjoint(_SUPPRESSORS[edge.type]))
        for a, b, edge in raw
    )
    at: list[list[Link]] = [[] for _ in members]
    for link in links:
        if link.a != link.b:
            at[link.a].append(link)
            at[link.b].append(link)
    return Nets(of, tuple(members), links, tuple(tuple(found) for found in at))
