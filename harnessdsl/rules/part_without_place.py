"""A part that is nowhere.

What
    A part has neither a place nor a zone, while other parts of the file have. When no part of the
    whole file has one, that is one note.

Why
    The hardest thing in an odd car is to find the part again.

Wrong
    place left-wing "Left inner wing" zone engine-bay
    earth E1 "Wing stud" in left-wing
    battery G1 "Battery"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> M1.30  25 mm2 RD
    starter-inertia M1 "Starter" in left-wing on body  unfused "no starter has a fuse"  always-live

Right
    place left-wing "Left inner wing" zone engine-bay
    earth E1 "Wing stud" in left-wing
    battery G1 "Battery" in left-wing
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> M1.30  25 mm2 RD
    starter-inertia M1 "Starter" in left-wing on body  unfused "no starter has a fuse"  always-live

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.model.vehicle import Part, Vehicle
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


def _is_somewhere(vehicle: Vehicle, part: Part) -> bool:
    if part.place or part.zone:
        return True
    body = part.connector
    if body is None:
        return False
    if body.of:
        return True  # it is where the part is that it plugs onto
    return all(half.place for half in body.halves.values())


@rule("part-without-place", Severity.WARNING)
def part_without_place(context: RuleContext) -> Iterator[Diagnostic]:
    vehicle = context.vehicle
    lost = [part for part in vehicle.parts.values() if not _is_somewhere(vehicle, part)]
    if not lost:
        return
    if not vehicle.places and len(lost) == len(vehicle.parts):
        yield Diagnostic(
            Severity.NOTE, "part-without-place",
            f"none of the {len(lost)} parts has a place, so they can't be found on a map",
            vehicle.span if vehicle.span.line else lost[0].name_span,
            'write: place dash "Under the dash" at 1450, -380, 700 mm; and on the part: in dash',
            subject=vehicle.name)
        return
    for part in lost:
        yield Diagnostic(
            Severity.WARNING, "part-without-place",
            f"{part_words(part)} is in no place", part.name_span,
            "write on its line: in PLACE (or zone ZONE, where only that is known)",
            subject=part.name)
