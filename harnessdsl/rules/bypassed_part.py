"""A fuse, switch or load that is bridged: both of its terminals are joined outside.

What
    Wires, plugs and splices join both terminals of a fuse, of a contact or of a load with each
    other. An error for a fuse and for a load, a warning for a switch or relay contact.

Why
    A bridged fuse protects nothing, a bridged switch switches nothing, and a bridged load gets no
    voltage. Often it is a repair at the roadside that stayed.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    blade-fuse F2 "Work lamp"  5 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> F2.1  1 mm2 RD
    wire F2.1 -> F2.2  1 mm2 RD
    wire F2.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    blade-fuse F2 "Work lamp"  5 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> F2.1  1 mm2 RD
    wire F2.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.model.kind import LOAD_TYPES, PROTECTION_TYPES
from harnessdsl.rules.analysis.shorts import shorts
from harnessdsl.rules.analysis.tracing import wire_on_net_between
from harnessdsl.rules.analysis.wording import listed, part_words, route_related, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("bypassed-part", Severity.ERROR)
def bypassed_part(context: RuleContext) -> Iterator[Diagnostic]:
    done: set[str] = set()
    shorted = {entry.net for entry in context.once(shorts)}
    for link in context.nets.links:
        edge = link.edge
        if link.a != link.b or not edge.part or edge.part in done or edge.a == edge.b:
            continue
        if link.a in shorted:
            continue  # which is named on its own
        severity = Severity.ERROR
        if edge.type in PROTECTION_TYPES:
            effect = "so it protects nothing"
        elif edge.type == "contact":
            effect, severity = "so that contact switches nothing", Severity.WARNING
        elif edge.type in LOAD_TYPES or edge.type == "coil":
            effect = "so it gets no voltage"
        else:
            continue
        wires = wire_on_net_between(context, edge.a, edge.b)
        if not wires:
            continue
        done.add(edge.part)
        part = context.vehicle.parts[edge.part]
        guilty = max(wires, key=lambda wire: wire.span)
        yield Diagnostic(
            severity, "bypassed-part",
            f"{part_words(part)} is bridged from {edge.a} to {edge.b} by "
            + listed([wire_words(wire) for wire in wires], 3) + f", {effect}",
            guilty.span, "take the bridge out, or move one of its ends",
            route_related((e for e in context.topology.edges
                           if e.wire in wires and e.wire is not guilty), "part of the bridge"),
            edge.part)
