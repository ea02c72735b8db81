"""A splice with too many wires.

What
    More than six wires meet in one splice.

Why
    The outer wires of a thick bundle are not caught by the crimp. Divide it into two splices with a
    wire between, or use a bar.

Wrong
    earth E1 "Body stud"
    splice J1 "Lamp earths"
    lamp E11 "One" spare
    lamp E12 "Two" spare
    lamp E13 "Three" spare
    lamp E14 "Four" spare
    lamp E15 "Five" spare
    lamp E16 "Six" spare
    wire J1 -> E1  2.5 mm2 BN
    wire E11.2 -> J1  1 mm2 BN
    wire E12.2 -> J1  1 mm2 BN
    wire E13.2 -> J1  1 mm2 BN
    wire E14.2 -> J1  1 mm2 BN
    wire E15.2 -> J1  1 mm2 BN
    wire E16.2 -> J1  1 mm2 BN

Right
    earth E1 "Body stud"
    splice J1 "Lamp earths"
    lamp E11 "One" spare
    lamp E12 "Two" spare
    lamp E13 "Three" spare
    lamp E14 "Four" spare
    lamp E15 "Five" spare
    wire J1 -> E1  2.5 mm2 BN
    wire E11.2 -> J1  1 mm2 BN
    wire E12.2 -> J1  1 mm2 BN
    wire E13.2 -> J1  1 mm2 BN
    wire E14.2 -> J1  1 mm2 BN
    wire E15.2 -> J1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

MAX_WIRES = 6


@rule("splice-crowded", Severity.WARNING)
def splice_crowded(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        wires = context.wires_at.get(part.name, ())
        if part.family == "splice" and len(wires) > MAX_WIRES:
            yield Diagnostic(
                Severity.WARNING, "splice-crowded",
                f"{len(wires)} wires meet in splice {part_words(part)}; {MAX_WIRES} hold in one",
                part.name_span, "divide it into two splices with a wire between",
                tuple(Related("one too many", wire.span) for wire in wires[MAX_WIRES:][:4]),
                part.name)
