"""Neighbours that touch: pins side by side in a plug, wires side by side in a run, a capacitor that
is through."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from harnessdsl.electric.assembly import VehicleCircuit
from harnessdsl.electric.elements import Element, Resistance
from harnessdsl.faults.fault import Fault
from harnessdsl.faults.usual import LIKELIHOOD, exposure

SHORT_OHM = 0.02
"""A chafed wire on metal, or two bare wires on each other (common practice, no source)."""
DRY_FACTOR = 0.5
SMALL_FARAD = 1e-9


def touching_pins(assembled: VehicleCircuit) -> Iterator[Fault]:
    """Yield a fault for every two neighbours in a plug that both have a wire; where water gets in
    it is likelier."""
    edges_at = assembled.topology.edges_at
    vehicle = assembled.vehicle
    for part in vehicle.parts.values():
        body = part.connector
        if body is None or body.of:
            continue
        factor = exposure(vehicle, part.place, "joint")
        used = [c for c in body.cavities
                if any(e.wire is not None for e in edges_at.get(f"{part.name}.a.{c}", ()))]
        for first, second in itertools.pairwise(used):
            bridge = Element(f"bridge:{part.name}:{first}-{second}", f"{part.name}.a.{first}",
                             f"{part.name}.a.{second}", Resistance(SHORT_OHM), "chafe")
            words = f"plug {part.name} {part.label}".rstrip()
            yield Fault(f"wires-touch:{part.name}:{first}-{second}", "wires-touch",
                        f"{words}: cavities {first} and {second} touch", part=part.name,
                        likelihood=LIKELIHOOD["wires-touch"] * (
                            factor if factor > 1.0 else DRY_FACTOR), added=(bridge,))


def chafed_runs(assembled: VehicleCircuit) -> Iterator[Fault]:
    """Yield a fault for every two wires side by side in a run that are not joined anyway."""
    vehicle = assembled.vehicle
    known = assembled.circuit.node_index
    for run in vehicle.runs.values():
        places = [*run.places, *run.grommets]
        factor = max([exposure(vehicle, place, "chafe") for place in places] or [1.0])
        wires = [vehicle.wires[n] for n in run.wires if n in vehicle.wires]
        for one, other in itertools.pairwise(wires):
            ends = {one.a.node, one.b.node}
            if ends & {other.a.node, other.b.node} or one.a.node not in known or (
                    other.a.node not in known):
                continue
            bridge = Element(f"bridge:{run.name}:{one.name}+{other.name}", one.a.node,
                             other.a.node, Resistance(SHORT_OHM), "chafe")
            yield Fault(f"wires-chafed:{one.name}+{other.name}", "wires-chafed",
                        f"run {run.name} {run.label}".rstrip() + f": wires {one.name} and "
                        f"{other.name} chafed through onto each other", wire=one.name,
                        likelihood=LIKELIHOOD["wires-chafed"] * factor, added=(bridge,))


def shorted_capacitors(assembled: VehicleCircuit) -> Iterator[Fault]:
    """Yield a fault for every capacitor: sound ones carry no direct current and are not in the
    circuit, shorted ones are."""
    known = assembled.circuit.node_index
    for edge in assembled.topology.edges:
        if edge.type != "capacitor" or edge.primitive is None or edge.a == edge.b or (
                edge.a not in known or edge.b not in known):
            continue
        farad = edge.primitive.figure("capacitance") or SMALL_FARAD
        if farad < SMALL_FARAD:
            continue  # a spark gap or an aerial
        part = assembled.vehicle.parts[edge.part]
        ends = f"{edge.primitive.a}-{edge.primitive.b}"
        what = edge.primitive.name or "capacitor"
        yield Fault(f"capacitor-short:{part.name}:{ends}", "capacitor-short",
                    f"{part.name} {part.label}".rstrip() + f": {what} shorted", part=part.name,
                    likelihood=LIKELIHOOD["capacitor-short"] * exposure(
                        assembled.vehicle, part.place, "device"),
                    added=(Element(f"through:{part.name}:{ends}", edge.a, edge.b,
                                   Resistance(SHORT_OHM), "chafe"),))
