"""Instruments with a pointer (IEC 60617: indicating instrument, circle with an arrow)."""

from __future__ import annotations

from harnessdsl.drawing.compose.element import FILLED, INK, Element, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Circle, Polyline, Style

ORDER = 30
RADIUS_MM = 3.4
MOVEMENTS = ("load", "winding", "coil", "resistor", "inductor", "heater")


def take(pool: Pool) -> list[Element]:
    """Draw the first movement of a gauge as its dial; what else is in it stays as it is."""
    if pool.part.family != "gauge":
        return []
    candidates = [p for p in pool.primitives if p.type in MOVEMENTS]
    if not candidates:
        return []
    first = candidates[0]
    pool.drop([first])
    top, bottom, _ = pool.ends(first)
    shapes = (
        Circle(0, 0, RADIUS_MM, FILLED),
        line((-1.7, 1.9), (1.3, -1.5)),
        Polyline(((1.9, -2.2), (0.6, -1.6), (1.5, -0.8)), Style(INK, 0.2, INK), closed=True),
    )
    return [upright("dial", top, bottom, RADIUS_MM + 0.2, RADIUS_MM, shapes)]
