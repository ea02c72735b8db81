"""Diodes and light-emitting diodes (IEC 60617), drawn with the anode where the current enters."""

from __future__ import annotations

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import INK, LINE, Element, flipped, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Polyline, Shape, Style

ORDER = 50
HALF_MM = 1.5


def take(pool: Pool) -> list[Element]:
    """Draw every diode and LED."""
    elements = []
    for primitive in pool.take("diode", "led"):
        top, bottom, flip = pool.ends(primitive)

        def y(value: float, flip: bool = flip) -> float:
            return flipped(value, flip)

        shapes: list[Shape] = [
            line((0, -HALF_MM - 0.8), (0, HALF_MM + 0.8)),
            Polyline(
                ((-1.6, y(-HALF_MM)), (1.6, y(-HALF_MM)), (0, y(HALF_MM))),
                Style(INK, 0.3, INK if primitive.type == "diode" else "#ffffff"),
                closed=True,
            ),
            line((-1.6, y(HALF_MM)), (1.6, y(HALF_MM)), style=Style(INK, 0.5)),
        ]
        right = 1.8
        if primitive.type == "led":
            right = 4.3
            for lift in (-0.9, 0.5):
                shapes += [
                    line((1.7, lift), (3.5, lift - 1.4)),
                    line((2.7, lift - 1.4), (3.5, lift - 1.4), (3.5, lift - 0.6), style=LINE),
                ]
        elements.append(
            upright(
                f"{primitive.type} {primitive.name}",
                top,
                bottom,
                1.8,
                HALF_MM + 0.8,
                shapes,
                side_texts(pool, primitive),
                right=right,
            )
        )
    return elements
