"""Supply lines: which nodes the lines 30, 15, 75, ... at the top of a sheet stand for.

Terminal names are those of DIN 72552: 30 is battery direct, 15 switched by the ignition, 75
and X accessories.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from harnessdsl.model.topology import Edge, Topology, terminal_node
from harnessdsl.model.vehicle import Part

_LINE_TERMINALS = (
    "15", "15/54", "15a", "15x", "75", "75a", "X", "Xr", "P", "R", "54", "57", "ACC", "IGN",
)  # fmt: skip
"""Outputs of an ignition switch that become a line; 50 (starter) and 17/19 (glow) feed one
consumer and stay wires."""

_MIN_FED = 2
"""A line feeds at least as many terminals besides the one that feeds it."""
_MIN_FUSES = 3
"""Behind a main fuse or a relief relay, a line is what feeds at least as many fuses."""
_PROTECTION = ("fuse", "link", "breaker")


@dataclass(frozen=True, slots=True)
class SupplyLine:
    """A line across the top: its name, all nodes that it stands for, and who feeds it."""

    name: str
    nodes: frozenset[str]
    feeders: tuple[str, ...]


def _joined(edge: Edge) -> bool:
    return edge.type in ("wire", "plug", "joint")


def _to_metal(edge: Edge) -> bool:
    return edge.type in ("wire", "plug", "joint", "bond")


def _hot_terminals(topology: Topology, battery: Part) -> Iterable[str]:
    """The poles that are not the earthed one."""
    for primitive in battery.kind.primitives:
        if primitive.type != "source":
            continue
        poles = [terminal_node(battery.name, end) for end in (primitive.a, primitive.b)]
        earthed = [
            any(node.startswith("@") for node in topology.reach(pole, _to_metal)) for pole in poles
        ]
        if topology.vehicle.positive_earth:
            poles, earthed = poles[::-1], earthed[::-1]
        if not earthed[0]:
            yield poles[0]
        elif not earthed[1]:
            yield poles[1]


def find_supply_lines(topology: Topology) -> tuple[SupplyLine, ...]:
    """Return the lines of a vehicle, the battery's first, each node in at most one line.

    Behind a main fuse or link the battery's line goes on under that part's name (`30 F1`); what a
    relay feeds to several fuses is a line named by its terminal (`87 K1`).
    """
    vehicle = topology.vehicle
    lines: list[SupplyLine] = []
    taken: set[str] = set()

    def add(name: str, feeder: str, fuses: int = 0, least: int = _MIN_FED) -> None:
        if feeder in taken:
            return
        nodes = frozenset(topology.reach(feeder, _joined))
        if nodes & taken:
            return
        fed = [node for node in nodes if node != feeder and not _is_joint(topology, node)]
        if len(fed) < least or sum(_is_protected(topology, node) for node in fed) < fuses:
            return
        taken.update(nodes)
        part = topology.part_of.get(feeder, "")
        known = {line.name for line in lines}
        unique = f"{name} {part}".strip() if name in known else name
        number = 2
        while unique in known:
            unique = f"{name} {part} {number}"
            number += 1
        lines.append(SupplyLine(unique, nodes, (feeder,)))

    for part in vehicle.parts.values():
        if part.family == "battery":
            for pole in _hot_terminals(topology, part):
                add("30", pole, least=1)
    for line in tuple(lines):
        for edge in topology.edges:
            if edge.type in _PROTECTION and (edge.a in line.nodes) != (edge.b in line.nodes):
                far = edge.b if edge.a in line.nodes else edge.a
                add(line.name, far, 1 if edge.type == "link" else _MIN_FUSES)
    for part in vehicle.parts.values():
        for terminal in part.kind.terminals.values():
            node = terminal_node(part.name, terminal.name)
            if terminal.side != "lower" or not (inputs := _contacts_from(part, terminal.name)):
                continue
            if part.family in ("ignition", "switch"):
                if terminal.name in _LINE_TERMINALS and inputs & {"30", "30/1"}:
                    add(terminal.name, node)
            elif part.family == "relay":
                add(f"{terminal.name} {part.name}", node, _MIN_FUSES)
    return tuple(lines)


def _contacts_from(part: Part, terminal: str) -> frozenset[str]:
    """Return the terminals that contacts lead to from this one, under all their names."""
    far = {
        p.b if p.a == terminal else p.a
        for p in part.kind.primitives
        if p.type == "contact" and terminal in (p.a, p.b)
    }
    known = part.kind.terminals
    return frozenset(far.union(*(known[name].aliases for name in far if name in known)))


def _is_protected(topology: Topology, node: str) -> bool:
    """Whether a fuse, link or breaker begins at the node."""
    return any(edge.type in _PROTECTION for edge in topology.edges_at.get(node, ()))


def _is_joint(topology: Topology, node: str) -> bool:
    part = topology.vehicle.parts.get(topology.part_of.get(node, ""))
    return part is None or part.connector is not None or part.family in ("splice", "earth")
