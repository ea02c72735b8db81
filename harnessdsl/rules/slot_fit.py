"""A part in a slot of another type.

What
    A relay, flasher or other part sits in a slot whose type is none that its kind `fits`.

Why
    Either the part or the slot is written down wrongly: it would not go in, or its pins would
    meet the wrong contacts.

Wrong
    place box "Relay box" zone dash {
        slots A..D micro-relay
    }
    relay-diode K1 "Fan relay" in box slot A  spare

Right
    place box "Relay box" zone dash {
        slots A..D mini-relay
    }
    relay-diode K1 "Fan relay" in box slot A  spare

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.fuse_slot import FUSE_FAMILIES
from harnessdsl.rules.registry import rule


@rule("slot-fit", Severity.ERROR)
def slot_fit(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        place = context.vehicle.places.get(part.place)
        slot = place.slots.get(part.slot) if place is not None else None
        if part.family in FUSE_FAMILIES or place is None or slot is None or not slot.type:
            continue
        if slot.type in part.kind.fits or part.family == "unknown":
            continue
        fits = (f"it fits {' or '.join(part.kind.fits)}" if part.kind.fits
                else "its kind names no slot that it fits")
        yield Diagnostic(
            Severity.ERROR, "slot-fit",
            f"slot {slot.name} of '{place.name}' takes a {slot.type}, but {part_words(part)} is a "
            f"{part.kind.name}: {fits}",
            part.slot_span, "correct the slot, or add to the kind (or the part's block): "
            f"fits {slot.type}", (Related("the slot", slot.span),), part.name)
