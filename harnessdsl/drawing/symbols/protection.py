"""Fuses, fusible links and circuit breakers (IEC 60617)."""

from __future__ import annotations

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import FILLED, THIN, Element, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Circle, Path, Rect, Shape
from harnessdsl.model.kind import Primitive

ORDER = 50


def _fuse() -> tuple[list[Shape], float, float]:
    return [Rect(-1.3, -3.2, 2.6, 6.4, FILLED), line((0, -3.2), (0, 3.2))], 1.5, 3.2


def _link() -> tuple[list[Shape], float, float]:
    """A wavy conductor between two terminals."""
    wave = Path("M 0 -2.7 C 2.2 -1.6 2.2 -0.9 0 0 C -2.2 0.9 -2.2 1.6 0 2.7", FILLED)
    ends: list[Shape] = [Circle(0, -2.9, 0.5, FILLED), Circle(0, 2.9, 0.5, FILLED)]
    return [wave, *ends], 1.9, 3.4


def _breaker() -> tuple[list[Shape], float, float]:
    """A closed contact with the cross of a breaker and its thermal release beside it."""
    return (
        [
            line((0, -3.4), (0, -1.8)),
            line((-0.7, -2.5), (0.7, -1.1)),
            line((-0.7, -1.1), (0.7, -2.5)),
            line((0, 3.4), (0, 2.0)),
            line((0, 2.0), (0.9, -1.8)),
            line((-2.0, 0.2), (0.4, 0.2), style=THIN),
            line((-3.6, -0.8), (-2.6, -0.8), (-2.6, 0.2), (-3.6, 0.2), (-3.6, 1.2), (-2.6, 1.2)),
            line((-2.6, 0.2), (-2.0, 0.2), style=THIN),
        ],
        3.8,
        3.4,
    )


def take(pool: Pool) -> list[Element]:
    """Draw whatever opens on over-current."""
    elements = []
    draw = {"fuse": _fuse, "link": _link, "breaker": _breaker}
    for primitive in pool.take("fuse", "link", "breaker"):
        shapes, half_width, half_height = draw[primitive.type]()
        elements.append(_element(pool, primitive, shapes, half_width, half_height))
    return elements


def _element(
    pool: Pool, primitive: Primitive, shapes: list[Shape], half_width: float, half_height: float
) -> Element:
    top, bottom, _ = pool.ends(primitive)
    return upright(
        f"{primitive.type} {primitive.name}",
        top,
        bottom,
        half_width,
        half_height,
        shapes,
        side_texts(pool, primitive),
        right=1.9,
    )
