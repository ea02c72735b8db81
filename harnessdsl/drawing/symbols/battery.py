"""Batteries (IEC 60617: long thin plate plus, short thick plate minus)."""

from __future__ import annotations

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import INK, LINE, Element, flipped, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Shape, Style

ORDER = 50


def take(pool: Pool) -> list[Element]:
    """Draw every source, two cells standing for them all."""
    elements = []
    for primitive in pool.take("source"):
        top, bottom, flip = pool.ends(primitive)

        def y(value: float, flip: bool = flip) -> float:
            return flipped(value, flip)

        shapes: list[Shape] = [line((0, y(-4.4)), (0, y(-2.4)))]
        for at in (-2.4, 1.2):
            shapes.append(line((-3.2, y(at)), (3.2, y(at)), style=Style(INK, 0.3)))
            shapes.append(line((-1.6, y(at + 1.2)), (1.6, y(at + 1.2)), style=Style(INK, 0.9)))
        shapes.append(line((0, y(-1.2)), (0, y(1.2)), style=Style(INK, 0.3, dash_mm=(0.5, 0.5))))
        shapes.append(line((0, y(2.4)), (0, y(4.4))))
        shapes.append(line((1.5, y(-3.6)), (3.1, y(-3.6)), style=LINE))
        shapes.append(line((2.3, y(-3.6) - 0.8), (2.3, y(-3.6) + 0.8), style=LINE))
        elements.append(
            upright(
                f"source {primitive.name}",
                top,
                bottom,
                3.4,
                4.4,
                shapes,
                side_texts(pool, primitive),
            )
        )
    return elements
