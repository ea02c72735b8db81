"""Resistors and what is one at heart: heaters, thermistors, senders (IEC 60617)."""

from __future__ import annotations

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import FILLED, INK, THIN, Element, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import SMALL_MM
from harnessdsl.model.kind import Primitive

ORDER = 50
HALF_WIDTH_MM = 1.2
HALF_MM = 3.2


def take(pool: Pool) -> list[Element]:
    """Draw resistors, heaters and thermistors; the resistors of a sender are variable."""
    return [_element(pool, p) for p in pool.take("resistor", "heater", "thermistor")]


def _element(pool: Pool, primitive: Primitive) -> Element:
    top, bottom, _ = pool.ends(primitive)
    half = 2.4 if "suppresses" in primitive.flags else HALF_MM
    shapes: list[Shape] = [Rect(-HALF_WIDTH_MM, -half, 2 * HALF_WIDTH_MM, 2 * half, FILLED)]
    left = right = HALF_WIDTH_MM + 0.3
    if primitive.type == "heater":
        for y in (-0.5, 0.0, 0.5):
            shapes.append(line((-HALF_WIDTH_MM, y * half), (HALF_WIDTH_MM, y * half)))
    elif primitive.type == "thermistor":
        left = right = 2.9
        shapes.append(line((-2.6, 2.2), (-1.4, 2.2), (2.2, -2.4), style=THIN))
        shapes.append(Text(2.0, -0.9 + 0.36 * SMALL_MM + 1.6, "θ", SMALL_MM))
        right = 4.0
    elif pool.part.family == "sender" and "suppresses" not in primitive.flags:
        left = right = 2.9
        shapes.append(line((-2.4, 2.2), (2.0, -2.0), style=Style(INK, 0.25)))
        shapes.append(
            Polyline(((2.6, -2.6), (1.3, -2.2), (2.2, -1.3)), Style(INK, 0.15, INK), closed=True)
        )
    return upright(
        f"{primitive.type} {primitive.name}",
        top,
        bottom,
        left,
        half,
        shapes,
        side_texts(pool, primitive),
        left=left,
        right=right,
    )
