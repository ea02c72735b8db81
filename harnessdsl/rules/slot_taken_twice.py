"""Two parts in one slot.

What
    Two parts name the same slot of the same place.

Why
    Only one can be there; the other one's place is written down wrongly.

Wrong
    place box "Fuse box" zone dash {
        slots 1..4 blade-fuse
    }
    blade-fuse F1 "Fan" in box slot 1  15 A  spare
    blade-fuse F2 "Horn" in box slot 1  15 A  spare

Right
    place box "Fuse box" zone dash {
        slots 1..4 blade-fuse
    }
    blade-fuse F1 "Fan" in box slot 1  15 A  spare
    blade-fuse F2 "Horn" in box slot 2  15 A  spare

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("slot-taken-twice", Severity.ERROR)
def slot_taken_twice(context: RuleContext) -> Iterator[Diagnostic]:
    first: dict[tuple[str, str], Part] = {}
    for part in context.vehicle.parts.values():
        if not part.slot or not part.place:
            continue
        before = first.setdefault((part.place, part.slot), part)
        if before is not part:
            place = context.vehicle.places.get(part.place)
            free = sorted(set(place.slots) - {p.slot for p in context.vehicle.parts.values()
                                              if p.place == part.place},
                          key=list(place.slots).index) if place is not None else []
            yield Diagnostic(
                Severity.ERROR, "slot-taken-twice",
                f"slot {part.slot} of '{part.place}' is taken twice: by {part_words(before)} and "
                f"by {part_words(part)}",
                part.slot_span, f"free slots: {', '.join(free[:12])}" if free else
                "one of them is somewhere else",
                (Related("taken here", before.slot_span),), part.name)
