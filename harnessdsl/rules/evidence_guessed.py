"""A wire or part that is only guessed.

What
    A fact is marked `guessed` in so many words. Facts without any evidence are counted in one note
    (`evidence-missing`).

Why
    Before somebody cuts, bridges or fuses by it, it should be traced. On drawings such wires are
    dashed.

Wrong
    earth E1 "Body stud"  traced
    earth E2 "Engine block" on engine  traced
    wire E1 -> E2  25 mm2 BK  guessed "can't see behind the wing"

Right
    earth E1 "Body stud"  traced
    earth E2 "Engine block" on engine  traced
    wire E1 -> E2  25 mm2 BK  traced

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.model.evidence import Trust
from harnessdsl.rules.analysis.wording import part_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("evidence-guessed", Severity.NOTE)
def evidence_guessed(context: RuleContext) -> Iterator[Diagnostic]:
    seen: set[object] = set()
    for wire in context.vehicle.wires.values():
        fact = (wire.span, wire.chain) if wire.chain else wire.name
        if not wire.evidence.stated or wire.evidence.trust is not Trust.GUESSED or fact in seen:
            continue
        seen.add(fact)
        note = f": {wire.evidence.note}" if wire.evidence.note else ""
        yield Diagnostic(
            Severity.NOTE, "evidence-guessed", f"{wire_words(wire)} is only guessed{note}",
            wire.span, "trace it, then write: traced", subject=wire.name)
    for part in context.vehicle.parts.values():
        if part.evidence.stated and part.evidence.trust is Trust.GUESSED:
            note = f": {part.evidence.note}" if part.evidence.note else ""
            yield Diagnostic(
                Severity.NOTE, "evidence-guessed", f"{part_words(part)} is only guessed{note}",
                part.name_span, "look at it, then write: traced", subject=part.name)
