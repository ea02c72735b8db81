"""One wire that changes its colour without a joint.

What
    A wire written as one chain runs over a part's terminal and goes on in another colour, though
    nothing else ends there. A splice or an earth point is a joint and may change the colour; a plug
    is judged by `mating-halves`. And: two wires of different colours between the same two
    terminals.

Why
    A wire that is looped from terminal to terminal is one insulated wire and has one colour. A
    change means that a joint is missing in the file, or that two wires were taken for one.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    lamp E6 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1 1 mm2 GY -> E6.1  1 mm2 WH
    wire E5.2 -> E1  1 mm2 BN
    wire E6.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    lamp E6 "Work lamp"
    splice J1 "Lamp feed"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> J1  1 mm2 GY
    wire J1 -> E5.1  1 mm2 GY
    wire J1 -> E6.1  1 mm2 WH
    wire E5.2 -> E1  1 mm2 BN
    wire E6.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("colour-change", Severity.WARNING)
def colour_change(context: RuleContext) -> Iterator[Diagnostic]:
    wires = list(context.vehicle.wires.values())
    for before, after in pairwise(wires):
        if not before.chain or before.chain != after.chain or before.span != after.span:
            continue
        if before.b.node != after.a.node or not before.colour or not after.colour:
            continue
        part = context.vehicle.parts[before.b.part]
        if part.family in ("splice", "earth") or before.colour == after.colour:
            continue
        if len(context.wires_at.get(before.b.node, ())) > 2:
            continue
        yield Diagnostic(
            Severity.WARNING, "colour-change",
            f"the wire changes from {before.colour} to {after.colour} at {before.b.node} without a "
            "joint", after.colour_span if after.colour_span.line else after.span,
            "write a splice there, or two wires of their own, if they are two",
            subject=before.chain)
    pairs: dict[tuple[str, str], Wire] = {}
    for wire in wires:
        pair = (min(wire.a.node, wire.b.node), max(wire.a.node, wire.b.node))
        first = pairs.setdefault(pair, wire)
        if first is not wire and first.colour and wire.colour and first.colour != wire.colour:
            yield Diagnostic(
                Severity.WARNING, "colour-change",
                f"two wires of different colours, {first.colour} and {wire.colour}, run between "
                f"{wire.a.node} and {wire.b.node}",
                wire.colour_span if wire.colour_span.line else wire.span,
                "is it one wire written twice, or does one of them end elsewhere?",
                (Related("the other one", first.span),), wire.name)
