"""The vehicle as a graph of electrical points and what joins them: structure only, no numbers.

Rules, drawings, the finder and the network all read this graph, so that they agree on what is
connected. An edge is drawn once; direction is a -> b as written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from harnessdsl.model.kind import Primitive
from harnessdsl.model.vehicle import Vehicle, Wire


@dataclass(frozen=True, slots=True)
class Edge:
    """Something that joins two nodes.

    `type` is 'wire', 'plug' (the two halves of a cavity), 'bond' (earth point or case to metal)
    or the type of a primitive ('contact', 'fuse', 'filament', 'source', ...).
    """

    a: str
    b: str
    type: str
    part: str = ""
    wire: Wire | None = None
    primitive: Primitive | None = None

    def other(self, node: str) -> str:
        return self.b if node == self.a else self.a


@dataclass(frozen=True, slots=True)
class Topology:
    """All nodes and edges of a vehicle; edges keep the order of the file."""

    vehicle: Vehicle
    nodes: tuple[str, ...]
    edges: tuple[Edge, ...]
    edges_at: Mapping[str, tuple[Edge, ...]]
    part_of: Mapping[str, str]
    """The part that a node belongs to; '' for metal."""

    def reach(self, start: str, passes: Callable[[Edge], bool]) -> dict[str, Edge | None]:
        """Return every node reachable from `start` over edges that pass, with the edge that
        led there (None for the start): breadth first, so paths are shortest in edges."""
        found: dict[str, Edge | None] = {start: None}
        queue = [start]
        for node in queue:
            for edge in self.edges_at.get(node, ()):
                far = edge.other(node)
                if far not in found and passes(edge):
                    found[far] = edge
                    queue.append(far)
        return found

    def path(self, found: Mapping[str, Edge | None], node: str) -> list[Edge]:
        """Return the edges from the start of `found` (made by `reach`) to `node`."""
        edges: list[Edge] = []
        while (edge := found[node]) is not None:
            edges.append(edge)
            node = edge.other(node)
        return edges[::-1]


def terminal_node(part: str, terminal: str) -> str:
    """Return the node key of a terminal; splices and earth points have an unnamed one."""
    return f"{part}.{terminal}" if terminal else part


def metal_node(conductor: str) -> str:
    """Return the node key of a conductor of the vehicle, such as the body."""
    return f"@{conductor}"


def build_topology(vehicle: Vehicle) -> Topology:
    """Return the graph of `vehicle`."""
    part_of: dict[str, str] = {metal_node(name): "" for name in vehicle.conductors}
    edges: list[Edge] = []
    for part in vehicle.parts.values():
        if part.connector is not None:
            for cavity in part.connector.cavities if not part.connector.of else ():
                a, b = f"{part.name}.a.{cavity}", f"{part.name}.b.{cavity}"
                part_of[a] = part_of[b] = part.name
                edges.append(Edge(a, b, "plug", part.name))
            continue
        for terminal in part.kind.terminals.values():
            node = terminal_node(part.name, terminal.name)
            part_of[node] = part.name
            if (terminal.case or part.family == "earth") and part.conductor:
                edges.append(Edge(node, metal_node(part.conductor), "bond", part.name))
        for primitive in part.kind.primitives:
            edges.append(
                Edge(
                    terminal_node(part.name, primitive.a),
                    terminal_node(part.name, primitive.b),
                    primitive.type,
                    part.name,
                    primitive=primitive,
                )
            )
    for wire in vehicle.wires.values():
        for end in (wire.a, wire.b):
            part_of.setdefault(end.node, end.part)
        edges.append(Edge(wire.a.node, wire.b.node, "wire", wire=wire))
    at: dict[str, list[Edge]] = {node: [] for node in part_of}
    for edge in edges:
        at.setdefault(edge.a, []).append(edge)
        if edge.b != edge.a:
            at.setdefault(edge.b, []).append(edge)
    return Topology(
        vehicle, tuple(at), tuple(edges), {node: tuple(found) for node, found in at.items()},
        part_of,
    )
