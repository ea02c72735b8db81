"""Ignition coils (two windings on a core) and spark gaps."""

from __future__ import annotations

from harnessdsl.drawing.compose.element import INK, Element, Pin, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Polyline, Shape, Style
from harnessdsl.drawing.symbols.coil import winding_path
from harnessdsl.model.kind import Primitive

ORDER = 20
GAP_TYPES = ("load", "capacitor", "resistor")


def take(pool: Pool) -> list[Element]:
    """Draw, in the ignition family only, pairs of windings as a transformer, and what leads
    from the high voltage alone to earth as a spark gap."""
    if pool.part.family != "ignition":
        return []
    elements: list[Element] = []
    windings = pool.take("winding", "inductor")
    while len(windings) > 1:
        elements.append(_transformer(pool, windings.pop(0), windings.pop(0)))
    if len(pool.kind.primitives) == 1:
        elements += [_gap(pool, p) for p in pool.take(*GAP_TYPES)]
    if windings:
        # an odd one: let the family of coils draw it
        pool.give_back(windings)
    return elements


def _transformer(pool: Pool, first: Primitive, second: Primitive) -> Element:
    top_a, bottom_a, _ = pool.ends(first)
    top_b, bottom_b, _ = pool.ends(second)
    shapes: list[Shape] = [
        winding_path(0.0, 1.0),
        winding_path(5.0, -1.0),
        line((2.2, -3.2), (2.2, 3.2), style=Style(INK, 0.4)),
        line((2.8, -3.2), (2.8, 3.2), style=Style(INK, 0.4)),
    ]
    return Element(
        f"transformer {first.name} {second.name}",
        (Pin(0, top_a), Pin(5.0, top_b)),
        (Pin(0, bottom_a), Pin(5.0, bottom_b)),
        left=0.6,
        right=5.6,
        up=3.2,
        down=3.2,
        shapes=tuple(shapes),
    )


def _gap(pool: Pool, primitive: Primitive) -> Element:
    top, bottom, _ = pool.ends(primitive)
    ink = Style(INK, 0.2, INK)
    shapes: list[Shape] = [
        line((0, -3.0), (0, -2.2)),
        Polyline(((-0.9, -2.4), (0.9, -2.4), (0, -0.5)), ink, closed=True),
        Polyline(((-0.9, 2.4), (0.9, 2.4), (0, 0.5)), ink, closed=True),
        line((0, 2.2), (0, 3.0)),
    ]
    return upright("spark gap", top, bottom, 1.2, 3.0, shapes)
