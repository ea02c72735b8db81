"""Loudspeakers, horns, buzzers and antennas."""

from __future__ import annotations

from harnessdsl.drawing.compose.element import FILLED, Element, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Polyline, Rect, Shape

ORDER = 30


def take(pool: Pool) -> list[Element]:
    """Draw speakers, the horn that a lone load under the letter H is, and antennas."""
    elements = [_sounder(pool, p.name, *pool.ends(p)[:2]) for p in pool.take("speaker")]
    lone = len(pool.kind.primitives) == 1
    if lone and pool.kind.letter == "H" and pool.part.family == "load":
        elements += [_sounder(pool, p.name, *pool.ends(p)[:2]) for p in pool.take("load")]
    if lone and pool.part.family == "antenna":
        for p in pool.take():
            top, bottom, _ = pool.ends(p)
            elements.append(upright("antenna", top, bottom, 2.7, 3.4, _antenna()))
    return elements


def _sounder(pool: Pool, name: str, top: str, bottom: str) -> Element:
    """A driver with its cone to the right (IEC 60617: loudspeaker)."""
    shapes: list[Shape] = [
        Rect(-1.2, -2.0, 2.4, 4.0, FILLED),
        Polyline(((1.2, -1.2), (3.6, -3.0), (3.6, 3.0), (1.2, 1.2)), FILLED, closed=True),
    ]
    shapes += [line((0, -3.1), (0, -2.0)), line((0, 2.0), (0, 3.1))]
    return upright(f"speaker {name}", top, bottom, 1.4, 3.1, shapes, right=3.8)


def _antenna() -> list[Shape]:
    return [
        Rect(-2.5, -3.4, 5.0, 6.8, FILLED),
        line((0, 2.0), (0, -1.0)),
        line((-1.5, -2.4), (0, -0.6), (1.5, -2.4)),
        line((0, -2.4), (0, -0.6)),
    ]
