"""Faults computed the long way: the whole circuit with the faulty elements in it.

The sweep answers the same question faster; this is what it falls back on and is compared with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from harnessdsl.electric.assembly import VehicleCircuit
from harnessdsl.electric.circuit import Circuit, Network, Start
from harnessdsl.electric.conditions import set_condition
from harnessdsl.electric.elements import CoilTerm, Law, Resistance
from harnessdsl.electric.operating_point import OperatingPoint, solve_many
from harnessdsl.faults.modes import Fault
from harnessdsl.model.vehicle import Condition


def faulty_circuit(circuit: Circuit, faults: Sequence[Fault]) -> Circuit:
    """Return the circuit with what the faults add, with wrong relays and broken coils in; other
    laws are for the network to set, so that the order of the elements stays."""
    inverted = {name for fault in faults for name in fault.inverted}
    added = {element.id: element for fault in faults for element in fault.added}
    # armatures go by the coil's own law, not by what a network sets in its place
    coils = {name: law for fault in faults for name, law in fault.laws.items()
             if circuit.elements[circuit.element_index[name]].coil is not None}
    if not inverted and not added and not coils:
        return circuit
    elements = [
        replace(e, gate=tuple(CoilTerm(t.coil, not t.energised) for t in e.gate or ()))
        if e.id in inverted else replace(e, law=coils[e.id]) if e.id in coils else e
        for e in circuit.elements]
    return Circuit([*elements, *added.values()], circuit.reference, circuit.nodes,
                   [circuit.elements[i].id for i in sorted(circuit.variable)],
                   circuit.positive_earth)


def shifted(assembled: VehicleCircuit, faults: Sequence[Fault]) -> VehicleCircuit:
    """Return the vehicle with its thermal switches where the faults put them."""
    shifts = {fault.part: fault.thermal_shift_c for fault in faults if fault.thermal_shift_c}
    if not shifts:
        return assembled
    contacts = tuple(
        replace(c, hot_c=c.hot_c + shifts[c.part],
                cold_c=None if c.cold_c is None else c.cold_c + shifts[c.part])
        if c.part in shifts and c.hot_c is not None else c for c in assembled.contacts)
    return replace(assembled, contacts=contacts)


def shifted_contacts(assembled: VehicleCircuit, faults: Sequence[Fault], condition: Condition
                     ) -> Mapping[str, bool]:
    """Return whether each contact closes of the thermal switches that faults shift."""
    parts = {fault.part for fault in faults}
    only = replace(assembled, contacts=tuple(c for c in assembled.contacts if c.part in parts),
                   thermistors={}, alternators=(), motors=())
    return set_condition(shifted(only, faults), condition).closed


def faulty_networks(assembled: VehicleCircuit, faults: Sequence[Fault],
                    conditions: Sequence[Condition]) -> list[Network]:
    """Return the network of each condition with the faults in it."""
    circuit = faulty_circuit(assembled.circuit, faults)
    moved = shifted(assembled, faults)
    closed: dict[str, bool] = {}
    changed: dict[str, Law] = {}
    for fault in faults:
        closed.update(fault.closed)
        changed.update(fault.laws)
    found = []
    for condition in conditions:
        network = set_condition(moved, condition)
        laws = {**network.laws}
        for name, law in changed.items():
            # held fast or not turning: there the condition decides, unless the thing is broken
            if name not in laws or isinstance(law, Resistance):
                laws[name] = law
        found.append(replace(network, circuit=circuit, laws=laws,
                             closed={**network.closed, **closed}))
    return found


def solve_faulty(assembled: VehicleCircuit, faults: Sequence[Fault],
                 conditions: Sequence[Condition],
                 healthy: Mapping[str, OperatingPoint] | None = None,
                 opened: Mapping[str, str] | None = None,
                 open_fuses: bool = True) -> list[OperatingPoint]:
    """Return the operating point of each condition with the faults in the vehicle.

    Args:
        healthy: the sound vehicle's points by condition: relays begin as they stand there.
        opened: protection that is open from the start -> why.
    """
    starts = [Start(healthy[c.name].energised if healthy and c.name in healthy else frozenset(),
                    {}, dict(opened or {})) for c in conditions]
    return solve_many(faulty_networks(assembled, faults, conditions), starts, open_fuses)
