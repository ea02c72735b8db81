"""Where current comes from and where it goes back: structure only, over all switch positions.

Built on the topology; used by the finder, the locator maps and the book.

A feed runs from a supply's live side over wires, plugs, fuses and contacts (any contact counts as
closed). Contacts and fuses are passed only away from the supply, or contacts the way their kind
writes them (`contact 15 -> 49`: where two fuses feed one switch, the longer way to it counts too),
so that a feed never runs backwards through another circuit's relay. Nodes that are joined to the
vehicle's metal for good are the earth side and no feed passes them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from harnessdsl.model.kind import LOAD_TYPES, PROTECTION_TYPES, SOURCE_TYPES
from harnessdsl.model.topology import Edge, Topology, build_topology, terminal_node
from harnessdsl.model.vehicle import Vehicle

PERMANENT = frozenset({"wire", "plug", "bond", "joint"})
"""Edges that conduct always."""
GUARDED = frozenset({"contact"}) | PROTECTION_TYPES
"""Edges that conduct when a contact is closed or a fuse is whole."""
CONSUMERS = LOAD_TYPES | {"coil"}


def earth_side(topology: Topology) -> set[str]:
    """Return the nodes that are joined to the vehicle's metal for good, metal included."""
    found: set[str] = set()
    for conductor in topology.vehicle.conductors:
        if f"@{conductor}" not in found:
            found.update(topology.reach(f"@{conductor}", lambda edge: edge.type in PERMANENT))
    return found


def live_terminals(topology: Topology, earthed: set[str]) -> dict[str, str]:
    """Return the live terminal of every source -> the source's part, batteries first.

    That is the plus side, or the minus side where plus is earthed.
    """
    live: dict[str, str] = {}
    sources = [edge for edge in topology.edges if edge.type in SOURCE_TYPES]
    for edge in sorted(sources, key=lambda edge: edge.type != "source"):
        positive, negative = edge.a, edge.b
        turned = positive in earthed or topology.vehicle.positive_earth
        if turned and negative not in earthed:
            positive = negative
        live.setdefault(positive, edge.part)
    return live


@dataclass(frozen=True, slots=True)
class Route:
    """A way from a supply (or from metal) to a node."""

    start: str
    edges: tuple[Edge, ...]

    def nodes(self) -> list[str]:
        """Return the nodes from the start to the end."""
        nodes = [self.start]
        for edge in self.edges:
            nodes.append(edge.other(nodes[-1]))
        return nodes


class Feeds:
    """Feeds and returns of one vehicle."""

    def __init__(self, vehicle: Vehicle, topology: Topology | None = None) -> None:
        self.vehicle = vehicle
        self.topology = topology or build_topology(vehicle)
        self.earthed = earth_side(self.topology)
        self.live = live_terminals(self.topology, self.earthed)
        self.live_side: set[str] = set()
        """Nodes joined to a supply's live terminal without any fuse or contact."""
        for node in self.live:
            self.live_side.update(self.topology.reach(
                node, lambda edge: edge.type in PERMANENT and edge.a not in self.earthed))
        self.distance, self._came_by = self._spread(
            self.live, lambda edge, _a, far: far not in self.earthed)
        self.earth_distance, self._earth_by = self._spread(
            sorted(f"@{name}" for name in vehicle.conductors),
            lambda edge, _a, far: far not in self.live_side)

    def _spread(self, starts: Iterable[str], passes: object
                ) -> tuple[dict[str, int], dict[str, Edge | None]]:
        assert callable(passes)
        distance: dict[str, int] = {}
        by: dict[str, Edge | None] = {}
        queue: deque[str] = deque()
        for node in starts:
            distance[node], by[node] = 0, None
            queue.append(node)
        while queue:
            node = queue.popleft()
            for edge in self.topology.edges_at.get(node, ()):
                if edge.type not in PERMANENT and edge.type not in GUARDED:
                    continue
                far = edge.other(node)
                if far not in distance and passes(edge, node, far):
                    distance[far], by[far] = distance[node] + 1, edge
                    queue.append(far)
        return distance, by

    @staticmethod
    def _route(by: dict[str, Edge | None], node: str) -> Route | None:
        if node not in by:
            return None
        edges: list[Edge] = []
        while (edge := by[node]) is not None:
            edges.append(edge)
            node = edge.other(node)
        return Route(node, tuple(reversed(edges)))

    def feed(self, node: str) -> Route | None:
        """Return the shortest way from a supply to `node`, None when nothing feeds it."""
        return self._route(self._came_by, node)

    def earth(self, node: str) -> Route | None:
        """Return the shortest way from metal to `node`, None when it reaches no earth."""
        return self._route(self._earth_by, node)

    def passes_away(self, edge: Edge, node: str, far: str) -> bool:
        """Say whether a feed may go over `edge` from `node` to `far`."""
        if far in self.earthed or far in self.live_side:
            return False
        if edge.type in PERMANENT:
            return True
        written = edge.type == "contact" and node == edge.a
        return edge.type in GUARDED and (
            written or self.distance.get(far, 0) > self.distance.get(node, 0))

    def _outputs(self, part: str) -> Iterator[tuple[str, Edge]]:
        """Yield where a part hands current on: the far side of a fuse, of a relay's contacts."""
        is_fuse = any(p.type in PROTECTION_TYPES for p in self.vehicle.parts[part].kind.primitives)
        for edge in self.topology.edges:
            if edge.part != part:
                continue
            if is_fuse and edge.type in PROTECTION_TYPES:
                near, far = sorted((edge.a, edge.b),
                                   key=lambda n: (self.distance.get(n, 1 << 30), n == edge.b))
                if near in self.distance and far not in self.live_side:
                    yield far, edge
            elif not is_fuse and edge.type == "contact":
                for near, far in ((edge.a, edge.b), (edge.b, edge.a)):
                    if near in self.distance and self.passes_away(edge, near, far):
                        yield far, edge

    def downstream(self, part: str) -> dict[str, Edge]:
        """Return every node that a fuse, breaker or link feeds (or a relay or switch, by its
        contacts) -> the edge that led there."""
        found: dict[str, Edge] = {}
        queue: deque[str] = deque()
        for far, edge in self._outputs(part):
            if far not in found:
                found[far] = edge
                queue.append(far)
        while queue:
            node = queue.popleft()
            for edge in self.topology.edges_at.get(node, ()):
                far = edge.other(node)
                if edge.part == part:
                    continue
                if far not in found and self.passes_away(edge, node, far):
                    found[far] = edge
                    queue.append(far)
        return found

    def consumers_at(self, nodes: Iterable[str]) -> list[str]:
        """Return the parts with a load or coil that has a terminal among `nodes`, in file order."""
        wanted = set(nodes)
        found = {edge.part for edge in self.topology.edges
                 if edge.type in CONSUMERS and (edge.a in wanted or edge.b in wanted)}
        return [name for name in self.vehicle.parts if name in found]

    def fed_by(self, part: str) -> list[str]:
        """Return the loads that a fuse (or a relay, by its contacts) feeds, over any contact."""
        return [name for name in self.consumers_at(self.downstream(part)) if name != part]

    def protections(self) -> list[str]:
        """Return the fuses, breakers and links that are wired, in file order."""
        return [name for name, part in self.vehicle.parts.items()
                if any(p.type in PROTECTION_TYPES for p in part.kind.primitives)]

    def fuses_of(self, part: str) -> list[str]:
        """Return the protections that feed any terminal of a part."""
        nodes = set(self.nodes_of(part))
        return [name for name in self.protections()
                if name != part and nodes & self.downstream(name).keys()]

    def earth_points_of(self, part: str) -> list[str]:
        """Return the earth points (and the case's metal) that a part's terminals return to."""
        found: list[str] = []
        for node in self.nodes_of(part):
            route = self.earth(node) if node not in self.live_side else None
            if route is None or not route.edges:
                continue
            point = self.topology.part_of.get(route.edges[0].other(route.start), "")
            name = point if self.vehicle.parts[point].family == "earth" else route.start
            if name not in found:
                found.append(name)
        return found

    def nodes_of(self, part: str) -> list[str]:
        """Return the nodes of a part's terminals or cavities."""
        found = self.vehicle.parts[part]
        if found.connector is not None and not found.connector.of:
            return [f"{part}.{half}.{cavity}" for cavity in found.connector.cavities
                    for half in ("a", "b")]
        return [terminal_node(part, name) for name in found.kind.terminals]
