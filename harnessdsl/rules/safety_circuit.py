"""An airbag or another safety system is in the file.

What
    A part or a circuit belongs to a safety system: airbag, belt tensioner, anti-lock brakes.

Why
    A caution, not a fault. Disconnect the battery and wait the maker's time before touching any of
    it; never put a meter or a test lamp on an igniter; leave splicing and extending to those who
    are licensed for it, and follow the maker's data.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Airbag"  10 A
    toggle-switch S1 "Ignition"
    airbag-module A9 "Airbag control" {
        spec "label under the console"
    }
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> A9.15  1 mm2 BK
    wire A9.31 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Radio"  10 A
    toggle-switch S1 "Ignition"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 BK
    wire E5.2 -> E1  1 mm2 BN

Source
    Makers' workshop manuals; common practice.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.wording import listed
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("safety-circuit", Severity.NOTE)
def safety_circuit(context: RuleContext) -> Iterator[Diagnostic]:
    vehicle = context.vehicle
    systems: dict[str, list[str]] = {}
    for part in vehicle.parts.values():
        if part.kind.safety:
            systems.setdefault(part.kind.safety, []).append(part.name)
    for circuit in vehicle.circuits.values():
        if circuit.safety:
            members = systems.setdefault(circuit.safety, [])
            members += [name for name in circuit.parts if name not in members]
    for system, names in systems.items():
        first = vehicle.parts[names[0]] if names else None
        wires = sum(wire.a.part in names or wire.b.part in names
                    for wire in vehicle.wires.values())
        yield Diagnostic(
            Severity.NOTE, "safety-circuit",
            f"caution: {listed(names)} and {wires} wires belong to a safety system ({system})",
            first.name_span if first is not None else vehicle.span,
            "disconnect the battery and wait the maker's time before touching it; no meter and no "
            "test lamp on igniters; follow the maker's data and licensed practice",
            tuple(Related("belongs to it", vehicle.parts[name].name_span) for name in names[1:6]),
            first.name if first is not None else system)
