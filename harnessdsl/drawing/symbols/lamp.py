"""Lamps (IEC 60617: circle with a cross), one for each filament."""

from __future__ import annotations

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import FILLED, Element, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Circle

ORDER = 50
RADIUS_MM = 3.0


def take(pool: Pool) -> list[Element]:
    """Draw every filament."""
    elements = []
    for primitive in pool.take("filament"):
        top, bottom, _ = pool.ends(primitive)
        arm = RADIUS_MM * 0.7071
        shapes = (
            Circle(0, 0, RADIUS_MM, FILLED),
            line((-arm, -arm), (arm, arm)),
            line((-arm, arm), (arm, -arm)),
        )
        elements.append(
            upright(
                f"filament {primitive.name}",
                top,
                bottom,
                RADIUS_MM + 0.2,
                RADIUS_MM,
                shapes,
                side_texts(pool, primitive),
            )
        )
    return elements
