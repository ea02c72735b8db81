"""An element: one symbol in the row of symbols that makes a block.

Lengths are millimetres; an element is drawn about its own origin, which lies on its first pin's
column at its axis: y = 0 is the axis, on which mechanical links run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from harnessdsl.drawing.scene import Point, Polyline, Shape, Style, Text
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    DESCENT,
    SMALL_MM,
    line_height,
    text_width,
)

INK = "#000000"
PAPER = "#ffffff"
LINE = Style(INK, 0.3)
"""Conductors and outlines of symbols."""
FILLED = Style(INK, 0.3, PAPER)
"""A symbol's outline, white inside, so that a link may pass behind it."""
THICK = Style(INK, 0.6)
THIN = Style(INK, 0.2)
SOLID = Style("none", 0.3, INK)
LINKED = Style(INK, 0.2, dash_mm=(1.0, 0.6))
"""A mechanical link (IEC 60617: dashed line)."""

TEXT_GAP_MM = 0.6
"""From a conductor to the text beside it."""


@dataclass(frozen=True, slots=True)
class Pin:
    """An end of an element: offset from its origin and the net (terminal) that it belongs to."""

    x: float
    net: str


@dataclass(frozen=True, slots=True)
class Link:
    """Where a mechanical link meets an element: at x + slope * y on a line y above or below the
    axis. `drives` says that the element moves the others (coil, push button, bimetal)."""

    key: str
    x: float
    slope: float = 0.0
    drives: bool = False


@dataclass(frozen=True, slots=True)
class Element:
    """One symbol: pins above and below, the room it needs, its shapes and links.

    `left` and `right` are the room from the origin, `up` and `down` from the axis; the composer
    draws the leads from the pins' ends at -up and +down onwards.
    """

    name: str
    tops: tuple[Pin, ...]
    bottoms: tuple[Pin, ...]
    left: float
    right: float
    up: float
    down: float
    shapes: tuple[Shape, ...] = ()
    links: tuple[Link, ...] = ()
    plain: bool = False
    """Only a conductor, without a symbol."""
    free: bool = False
    """It needs no outline around it and its neighbour."""
    data: dict[str, str] = field(default_factory=dict)

    def nets(self) -> tuple[str, ...]:
        return tuple(pin.net for pin in (*self.tops, *self.bottoms))


@dataclass(frozen=True, slots=True)
class Caption:
    """The texts beside a block."""

    name: str
    label: str = ""
    rating: str = ""


def line(*points: Point, style: Style = LINE, closed: bool = False) -> Polyline:
    return Polyline(points, style, closed)


def flipped(y: float, flip: bool) -> float:
    return -y if flip else y


def side_lines(
    lines: Sequence[str], x: float, top: float, size_mm: float = SMALL_MM
) -> tuple[list[Shape], float, float]:
    """Return small texts one below the other from (x, top) on, their width and height; they are
    slanted, which tells them from the names of terminals."""
    shapes: list[Shape] = []
    width = 0.0
    base = top + ASCENT * size_mm
    for text in lines:
        shapes.append(Text(x, base, text, size_mm, italic=True))
        width = max(width, text_width(text, size_mm))
        base += line_height(size_mm)
    if not lines:
        return [], 0.0, 0.0
    return shapes, width, (len(lines) - 1) * line_height(size_mm) + (ASCENT + DESCENT) * size_mm


def upright(
    name: str,
    top: str,
    bottom: str,
    half_width: float,
    half_height: float,
    shapes: Sequence[Shape],
    lines: Sequence[str] = (),
    links: tuple[Link, ...] = (),
    left: float | None = None,
    right: float | None = None,
) -> Element:
    """Return a symbol with one conductor from above and one to below, centred on its axis.

    `lines` are small texts beside its lower lead, where no mechanical link passes.
    """
    texts, width, height = side_lines(lines, TEXT_GAP_MM, half_height + 0.5)
    drawn: list[Shape] = [*shapes, *texts]
    down = half_height
    if lines:
        down = half_height + 0.5 + height
        drawn.append(line((0, half_height), (0, down)))
    return Element(
        name,
        (Pin(0, top),),
        (Pin(0, bottom),),
        half_width if left is None else left,
        max(half_width if right is None else right, TEXT_GAP_MM + width if lines else 0.0),
        half_height,
        down,
        tuple(drawn),
        links,
    )
