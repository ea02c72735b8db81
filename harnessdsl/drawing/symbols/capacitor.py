"""Capacitors (IEC 60617: two plates)."""

from __future__ import annotations

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import INK, Element, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Style

ORDER = 50
PLATE = Style(INK, 0.5)


def take(pool: Pool) -> list[Element]:
    """Draw every capacitor."""
    elements = []
    for primitive in pool.take("capacitor"):
        top, bottom, _ = pool.ends(primitive)
        shapes = (
            line((0, -2.0), (0, -0.5)),
            line((-2.0, -0.5), (2.0, -0.5), style=PLATE),
            line((-2.0, 0.5), (2.0, 0.5), style=PLATE),
            line((0, 0.5), (0, 2.0)),
        )
        elements.append(
            upright(
                f"capacitor {primitive.name}",
                top,
                bottom,
                2.2,
                2.0,
                shapes,
                side_texts(pool, primitive),
            )
        )
    return elements
