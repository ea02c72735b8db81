"""A fuse of the wrong kind or too large for its slot.

What
    The slot that a fuse, circuit breaker or link sits in takes another type, or the fuse's rating
    is above the slot's `max`.

Why
    The box's contacts and the wires behind them are made for the slot's largest fuse. A fuse that
    was forced into a slot of another type sits loose and gets hot.

Wrong
    place box "Fuse box" zone dash {
        slots 1..4 blade-fuse max 20 A
    }
    blade-fuse F1 "Fan" in box slot 1  30 A  spare

Right
    place box "Fuse box" zone dash {
        slots 1..4 blade-fuse max 20 A
    }
    blade-fuse F1 "Fan" in box slot 1  20 A  spare

Source
    ISO 8820-3: types C (regular), F (mini) and E (maxi) do not interchange. The slot's limit is the
    maker's.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

FUSE_FAMILIES = ("fuse", "link", "breaker")


@rule("fuse-slot", Severity.ERROR)
def fuse_slot(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        place = context.vehicle.places.get(part.place)
        slot = place.slots.get(part.slot) if place is not None else None
        if part.family not in FUSE_FAMILIES or place is None or slot is None:
            continue
        related = (Related("the slot", slot.span),)
        if slot.type and slot.type not in part.kind.fits:
            fits = " or ".join(part.kind.fits) or "no slot type that its kind names"
            yield Diagnostic(
                Severity.ERROR, "fuse-slot",
                f"slot {slot.name} of '{place.name}' takes a {slot.type}, but {part_words(part)} "
                f"is a {part.kind.name} (fits: {fits})",
                part.slot_span, f"write {slot.type} {part.name}, or another slot", related,
                part.name)
        rating = part.rating_a()
        if rating is not None and slot.max_current_a is not None and rating > slot.max_current_a:
            yield Diagnostic(
                Severity.ERROR, "fuse-slot",
                f"{part_words(part)} has {rating:g} A, but slot {slot.name} of '{place.name}' "
                f"takes at most {slot.max_current_a:g} A",
                part.slot_span, f"a fuse of at most {slot.max_current_a:g} A, or another slot",
                related, part.name)
