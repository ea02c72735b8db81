"""A fuse without a rating, or with one that is not made.

What
    A fuse or circuit breaker gives no rating, or its rating is none of the series of its type.
    The series are those of blade fuses (ISO 8820-3: regular, mini, maxi), torpedo fuses
    (DIN 72581-1), glass cartridges and bolted strips. Other types are not judged.

Why
    Nobody can buy it, so the file does not say what is in the car. Without a rating nothing behind
    the fuse can be checked.

Wrong
    blade-fuse F1 "Fan"  12 A  spare

Right
    blade-fuse F1 "Fan"  15 A  spare

Source
    ISO 8820-3, DIN 72581-1, SAE J554 (from memory). Both continuous and blowing-current ratings of
    glass cartridges are taken.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

SERIES_A: dict[str, tuple[float, ...]] = {
    "blade-fuse": (0.5, 1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40),
    "mini-fuse": (2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30),
    "maxi-fuse": (20, 25, 30, 35, 40, 50, 60, 70, 80, 100),
    "torpedo-fuse": (5, 8, 16, 25),
    "glass-fuse": (1, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5, 8, 9, 10, 14, 15, 17, 20, 25, 30, 35, 50),
    "strip-fuse": (30, 35, 40, 50, 60, 70, 80, 100, 125, 150),
}
"""Ratings on sale by the type of slot that the fuse fits, in amperes."""


def series_of(part: Part) -> tuple[float, ...] | None:
    """Return the ratings in which a fuse's type is made, None when that is not known."""
    if part.family != "fuse":
        return None
    return next((SERIES_A[name] for name in (*part.kind.fits, part.kind.name)
                 if name in SERIES_A), None)


@rule("fuse-rating", Severity.WARNING)
def fuse_rating(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        if part.family not in ("fuse", "breaker"):
            continue
        rating = part.rating_a()
        if rating is None:
            yield Diagnostic(
                Severity.WARNING, "fuse-rating",
                f"{part_words(part)} gives no rating, so nothing behind it can be checked",
                part.name_span, "add it, for example: 15 A", subject=part.name)
            continue
        series = series_of(part)
        if series is not None and rating not in series:
            near = sorted(sorted(series, key=lambda a: abs(a - rating))[:2])
            yield Diagnostic(
                Severity.WARNING, "fuse-rating",
                f"{part_words(part)}: a {part.kind.name} of {rating:g} A is not made",
                part.name_span, "the nearest are " + " and ".join(f"{a:g} A" for a in near),
                subject=part.name)
