"""Colours of wires and fuses, and how a wire is drawn.

Sources: colour codes IEC 60757; German letters DIN 72551 / DIN 47002 (from memory); fuse colours
ISO 8820-3 (regular and mini; maxi), 35 A, 40 A and the maxi row from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from harnessdsl.drawing.scene import Point, Shape


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour of insulation: IEC code, name, how it is drawn and the German letters."""

    code: str
    name: str
    rgb: str
    din: tuple[str, ...] = ()


def wire_colours(colour: str) -> tuple[Colour, ...]:
    """Return base and tracers of a wire colour such as `RD/YE`, `GNYE`; () when unknown."""
    raise NotImplementedError


def wire_width(area_mm2: float | None) -> float:
    """Return the drawn width in mm of a wire of this area: 0.9 to 1.6, outline included."""
    raise NotImplementedError


def wire_shapes(
    points: Sequence[Point],
    colour: str,
    verified: bool = True,
    area_mm2: float | None = None,
) -> tuple[Shape, ...]:
    """Return a wire through `points` in its own colours: a thin dark outline, the base, the
    tracer as dashes along it; an unverified wire is broken into long dashes over its whole
    width, which reads in black and white too."""
    raise NotImplementedError


def fuse_colour(slot_or_family: str, rating_a: float) -> Colour | None:
    """Return the housing colour of a fuse by its type (`blade-fuse`, `mini-fuse`, `maxi-fuse`,
    or any name with such a word in it) and rating; None where there is no standard colour."""
    raise NotImplementedError
