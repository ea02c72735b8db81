"""Measures a scene without a browser, so that many drawings can be judged in little time.

The shapes are those of the finished page; the boxes of texts are the shipped width table's upper
bounds, which tests/test_symbols.py and the browser check hold against real fonts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from svg_checker.path_data import sub_paths
from svg_checker.sheet import Group as MeasuredGroup
from svg_checker.sheet import Shape as MeasuredShape
from svg_checker.sheet import Sheet
from svg_checker.sheet import Text as MeasuredText

from harnessdsl.drawing.scene import (
    Circle,
    Group,
    Page,
    Path,
    Polyline,
    Rect,
    Shape,
    Style,
    Text,
)
from harnessdsl.drawing.text_metrics import ASCENT, DESCENT, text_box

CAPITAL = 0.729
"""Height of a capital as a share of the font size (DejaVu Sans)."""


def sheet_of(page: Page) -> Sheet:
    """Return what is on a page."""
    groups: list[MeasuredGroup] = []
    shapes: list[MeasuredShape] = []
    texts: list[MeasuredText] = []
    order = 0

    def visit(shape: Shape, shift: tuple[float, float], parent: int) -> None:
        nonlocal order
        order += 1
        if isinstance(shape, Group):
            inside = parent
            if shape.css or shape.data:
                inside = len(groups)
                groups.append(
                    MeasuredGroup(inside, parent, tuple(shape.css.split()), dict(shape.data))
                )
            moved = (shift[0] + shape.shift[0], shift[1] + shape.shift[1])
            for inner in shape.shapes:
                visit(inner, moved, inside)
        elif isinstance(shape, Text):
            if shape.text.strip():
                texts.append(_text(shape, shift, parent, order))
        else:
            shapes.extend(_outlines(shape, shift, parent, order))

    for shape in page.shapes:
        visit(shape, (0.0, 0.0), -1)
    return Sheet(
        page.name, page.width_mm, page.height_mm, tuple(groups), tuple(shapes), tuple(texts)
    )


def _text(shape: Text, shift: tuple[float, float], parent: int, order: int) -> MeasuredText:
    def corners(box: tuple[float, float, float, float]) -> tuple[tuple[float, float], ...]:
        x0, y0, x1, y1 = box
        return tuple(
            (x + shift[0], y + shift[1]) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
        )

    low = 0.23 if set(shape.text) & set("gjpqyQ,;()[]{}|_") else 0.11
    x0, y0, x1, y1 = text_box(shape)
    # the glyphs reach from the base line, or their descenders, to the capitals' height
    over, under = (ASCENT - 0.8) * shape.size_mm, (DESCENT - low) * shape.size_mm
    quarter = round(shape.rotate_deg / 90) % 4
    ink = {
        0: (x0, y0 + over, x1, y1 - under),
        1: (x0 + under, y0, x1 - over, y1),
        2: (x0, y0 + under, x1, y1 - over),
        3: (x0 + over, y0, x1 - under, y1),
    }[quarter]
    return MeasuredText(
        shape.text.strip(),
        corners((x0, y0, x1, y1)),
        corners(ink),
        shape.size_mm,
        shape.size_mm * CAPITAL,
        False,
        parent,
        order,
    )


def _outlines(
    shape: Shape, shift: tuple[float, float], parent: int, order: int
) -> Iterator[MeasuredShape]:
    style: Style = getattr(shape, "style", Style("none"))
    pieces: list[tuple[list[tuple[float, float]], list[bool], bool]] = []
    if isinstance(shape, Polyline):
        count = len(shape.points) - (0 if shape.closed else 1)
        pieces.append((list(shape.points), [False] * count, shape.closed))
    elif isinstance(shape, Rect):
        x0, y0, x1, y1 = shape.x, shape.y, shape.x + shape.width, shape.y + shape.height
        pieces.append(([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], [False] * 4, True))
    elif isinstance(shape, Circle):
        turns = [i * math.pi / 16 for i in range(32)]
        points = [
            (shape.x + shape.radius * math.cos(t), shape.y + shape.radius * math.sin(t))
            for t in turns
        ]
        pieces.append((points, [True] * 32, True))
    elif isinstance(shape, Path):
        for path in sub_paths(shape.d):
            points = list(path.points)
            closed = path.closed or (len(points) > 2 and points[0] == points[-1])
            pieces.append((points[:-1] if closed else points, list(path.curved), closed))
    for points, curved, closed in pieces:
        stroked = style.stroke != "none" and style.stroke_mm > 0 and style.opacity > 0.02
        yield MeasuredShape(
            points=tuple((x + shift[0], y + shift[1]) for x, y in points),
            curved=tuple(curved),
            closed=closed,
            filled=style.fill != "none" and style.opacity > 0.02,
            stroked=stroked,
            stroke_mm=style.stroke_mm if stroked else 0.0,
            fill=style.fill,
            stroke=style.stroke,
            dashed=bool(style.dash_mm),
            group=parent,
            order=order,
        )
