"""A splice with one leg.

What
    Only one wire ends on a splice.

Why
    A splice joins; with one wire it is a cut end in the loom, and the other legs are missing.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    splice J1 "Lamp feed"
    blade-fuse F1 "Lamps"  10 A
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> J1  1 mm2 RD

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    splice J1 "Lamp feed"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    toggle-switch S2 "Second light switch"
    lamp E5 "Work lamp"
    lamp E6 "Second work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> J1  1 mm2 RD
    wire J1 -> S1.1  1 mm2 RD
    wire J1 -> S2.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire S2.2 -> E6.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN
    wire E6.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.wording import part_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("splice-one-leg", Severity.WARNING)
def splice_one_leg(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        if part.family != "splice" or "spare" in part.flags:
            continue
        wires = context.wires_at.get(part.name, ())
        if len(wires) == 1:
            yield Diagnostic(
                Severity.WARNING, "splice-one-leg",
                f"splice {part_words(part)} has one leg only: {wire_words(wires[0])}",
                part.name_span, "write the wires that go on from it",
                (Related("its only wire", wires[0].span),), part.name)
