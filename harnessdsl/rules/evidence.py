"""Facts that nobody has seen on this car.

What
    One note with the counts of wires and parts that have no evidence or are only guessed or copied
    from another book.

Why
    A diagram is worth what is known about it. What is copied from a neighbouring year is a good
    start and the likeliest place for a surprise.

Wrong
    earth E1 "Body stud"
    earth E2 "Engine block" on engine
    wire E1 -> E2  25 mm2 BK

Right
    earth E1 "Body stud"  traced
    earth E2 "Engine block" on engine  traced
    wire E1 -> E2  25 mm2 BK  measured 2026-03-14

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.model.evidence import Evidence, Trust
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("evidence-missing", Severity.NOTE)
def evidence_missing(context: RuleContext) -> Iterator[Diagnostic]:
    vehicle = context.vehicle
    groups = (("wire", "wires", [w.evidence for w in vehicle.wires.values()]),
              ("part", "parts", [p.evidence for p in vehicle.parts.values()]))
    words = [text for one, many, facts in groups if (text := _words(one, many, facts))]
    if not words:
        return
    spans = [w.span for w in vehicle.wires.values() if not w.evidence.verified]
    spans += [p.span for p in vehicle.parts.values() if not p.evidence.verified]
    yield Diagnostic(
        Severity.NOTE, "evidence-missing", "not seen on this vehicle: " + "; ".join(words),
        vehicle.span if vehicle.span.line else min(spans),
        "write measured, traced or copied \"source\" behind a fact, or once for all facts below: "
        "evidence traced by \"name\"", subject=vehicle.name)


def _words(one: str, many: str, facts: Sequence[Evidence]) -> str:
    unsaid = sum(not e.stated for e in facts)
    guessed = sum(e.stated and e.trust is Trust.GUESSED for e in facts)
    copied = sum(e.stated and e.trust is Trust.COPIED for e in facts)
    counts = [f"{count} {word}" for count, word in (
        (unsaid, "without evidence"), (guessed, "guessed"), (copied, "copied")) if count]
    return f"{', '.join(counts)} of {len(facts)} {one if len(facts) == 1 else many}" if (
        counts) else ""
