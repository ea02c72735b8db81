"""A slot that its box does not have.

What
    A part names a slot that its place does not list, or its place has no slots at all, or it names
    a slot and no place.

Why
    The part can't be found again where the file says it is.

Wrong
    place box "Fuse box" zone dash {
        slots 1..4 blade-fuse
    }
    blade-fuse F1 "Fan" in box slot 5  15 A  spare

Right
    place box "Fuse box" zone dash {
        slots 1..4 blade-fuse
    }
    blade-fuse F1 "Fan" in box slot 4  15 A  spare

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("slot-missing", Severity.ERROR)
def slot_missing(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        if not part.slot:
            continue
        place = context.vehicle.places.get(part.place)
        if place is None:
            yield Diagnostic(
                Severity.ERROR, "slot-missing",
                f"{part_words(part)} is in slot {part.slot}, but of no place", part.slot_span,
                f"write: in BOX slot {part.slot}", subject=part.name)
        elif part.slot not in place.slots:
            if place.slots:
                names = list(place.slots)
                hint = "its slots are " + ", ".join(names[:40])
            else:
                hint = f"list the slots of '{place.name}' in its block: slots 1..8 blade-fuse"
            yield Diagnostic(
                Severity.ERROR, "slot-missing",
                f"'{place.name}' has no slot {part.slot}, where {part_words(part)} should be",
                part.slot_span, hint, (Related("the place", place.span),), part.name)
