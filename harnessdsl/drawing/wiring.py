"""What is joined to what, as the drawing sees it: independent of sheets and pages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from harnessdsl.drawing.strands import Strands, string_wires
from harnessdsl.drawing.supply_lines import SupplyLine, find_supply_lines
from harnessdsl.model.topology import Topology, build_topology
from harnessdsl.model.vehicle import Part, Vehicle


@dataclass(frozen=True, slots=True)
class Wiring:
    """A vehicle with its strands and supply lines."""

    vehicle: Vehicle
    topology: Topology
    strung: Strands
    lines: tuple[SupplyLine, ...]
    line_of: Mapping[str, str]
    """Node -> the supply line that it belongs to."""
    wired: Mapping[str, tuple[str, ...]]
    """Part -> its nodes that a strand passes or ends on."""
    cable_of: Mapping[str, str]
    """Wire -> the cable that it is twisted or screened in."""
    potential: Mapping[str, float]
    """Node -> 0 next to the supply ... 1 next to earth: where it belongs on a sheet."""

    def part_at(self, node: str) -> Part | None:
        return self.vehicle.parts.get(self.strung.part_of.get(node, ""))


def read_wiring(vehicle: Vehicle) -> Wiring:
    """Return the wiring of `vehicle`."""
    topology = build_topology(vehicle)
    strung = string_wires(vehicle)
    lines = find_supply_lines(topology)
    line_of = {node: line.name for line in lines for node in sorted(line.nodes)}
    wired: dict[str, list[str]] = {}
    for node, name in strung.part_of.items():
        wired.setdefault(name, []).append(node)
    return Wiring(
        vehicle,
        topology,
        strung,
        lines,
        line_of,
        {name: tuple(nodes) for name, nodes in wired.items()},
        {wire: cable.name for cable in vehicle.cables.values() for wire in cable.wires},
        _potentials(topology, line_of),
    )


def _potentials(topology: Topology, line_of: Mapping[str, str]) -> dict[str, float]:
    """Return how far each node is from the supply, as a share of its way to earth."""

    def distances(starts: Iterable[str]) -> dict[str, int]:
        found = dict.fromkeys(starts, 0)
        queue = list(found)
        for node in queue:
            for edge in topology.edges_at.get(node, ()):
                far = edge.other(node)
                if far not in found and not far.startswith("@"):
                    found[far] = found[node] + 1
                    queue.append(far)
        return found

    parts = topology.vehicle.parts
    supply = distances(node for node in topology.nodes if node in line_of)
    earth = distances(
        node
        for node in topology.nodes
        if node in topology.part_of
        and topology.part_of[node] in parts
        and parts[topology.part_of[node]].family == "earth"
    )
    far = 1 + max([*supply.values(), *earth.values()], default=0)
    return {
        node: (supply.get(node, far) + 0.5) / (supply.get(node, far) + earth.get(node, far) + 1)
        for node in topology.nodes
    }
