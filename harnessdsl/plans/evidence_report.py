"""How sure the file is, circuit by circuit, and what rests on facts that nobody has checked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from harnessdsl.diagnostics import Diagnostic
from harnessdsl.model.evidence import Trust
from harnessdsl.model.feeds import Feeds
from harnessdsl.model.vehicle import Vehicle, Wire


@dataclass(frozen=True, slots=True)
class CircuitEvidence:
    """What is known of one circuit: wires by trust, and the facts that are only believed."""

    name: str
    label: str
    counts: dict[Trust, int]
    unverified: tuple[str, ...]

    @property
    def total(self) -> int:
        return sum(self.counts.values())

    @property
    def verified_share(self) -> float:
        """Measured and traced facts as a share of all; 1 for an empty circuit."""
        good = self.counts[Trust.MEASURED] + self.counts[Trust.TRACED]
        return good / self.total if self.total else 1.0


def _wires_of(vehicle: Vehicle, parts: set[str]) -> list[Wire]:
    """The wires with both ends in a circuit, or one end in it and the other in no circuit's part
    (plugs, splices and earth points come along with their wires)."""
    listed = {name for circuit in vehicle.circuits.values() for name in circuit.parts}
    found = []
    for wire in vehicle.wires.values():
        ends = {wire.a.part, wire.b.part}
        if ends & parts and all(end in parts or end not in listed for end in ends):
            found.append(wire)
    return found


def evidence_by_circuit(vehicle: Vehicle) -> list[CircuitEvidence]:
    """Return the evidence of each circuit, in file order."""
    report = []
    for circuit in vehicle.circuits.values():
        parts = set(circuit.parts)
        counts = dict.fromkeys(sorted(Trust, reverse=True), 0)
        unverified = []
        facts = [(wire.name, wire.evidence) for wire in _wires_of(vehicle, parts)]
        facts += [(name, vehicle.parts[name].evidence) for name in circuit.parts]
        for name, evidence in facts:
            counts[evidence.trust] += 1
            if not evidence.verified:
                unverified.append(name)
        report.append(CircuitEvidence(circuit.name, circuit.label, counts, tuple(unverified)))
    return report


class Supports:
    """Which facts a finding or a result about a part or wire rests on: the thing itself, and every
    wire on its way from the supply and back to earth."""

    def __init__(self, vehicle: Vehicle, feeds: Feeds | None = None) -> None:
        self.vehicle = vehicle
        self.feeds = feeds or Feeds(vehicle)

    def wires_behind(self, subject: str) -> list[Wire]:
        """Return the wires that the behaviour of a part or wire depends on."""
        vehicle, feeds = self.vehicle, self.feeds
        found: dict[str, Wire] = {}
        nodes: list[str] = []
        if subject in vehicle.parts:
            nodes = feeds.nodes_of(subject)
        elif subject in vehicle.wires:
            wire = vehicle.wires[subject]
            found[wire.name] = wire
            nodes = [wire.a.node, wire.b.node]
        for node in nodes:
            # a terminal that is fed from outside the part takes its feed, any other its earth
            route = feeds.feed(node)
            if route is None or any(edge.part == subject for edge in route.edges):
                route = feeds.earth(node)
            for edge in route.edges if route is not None else ():
                if edge.wire is not None:
                    found[edge.wire.name] = edge.wire
        return list(found.values())

    def unverified_behind(self, subject: str) -> list[Wire]:
        """Return those of them that nobody has measured or traced."""
        return [wire for wire in self.wires_behind(subject) if not wire.evidence.verified]


def rests_on(vehicle: Vehicle, findings: Iterable[Diagnostic]
             ) -> list[tuple[Diagnostic, list[Wire]]]:
    """Return each finding about a part or wire with the unverified wires that it rests on; those
    that rest on none are left out."""
    supports = Supports(vehicle)
    found = []
    for finding in findings:
        wires = supports.unverified_behind(finding.subject) if finding.subject else []
        if wires:
            found.append((finding, wires))
    return found


def loads_that_rest_on(vehicle: Vehicle) -> list[tuple[str, list[Wire]]]:
    """Return each load or coil whose computed voltage and current rest on unverified wires, with
    those wires."""
    supports = Supports(vehicle)
    every_node = [node for name in vehicle.parts for node in supports.feeds.nodes_of(name)]
    found = []
    for name in supports.feeds.consumers_at(every_node):
        wires = supports.unverified_behind(name)
        if wires:
            found.append((name, wires))
    return found
