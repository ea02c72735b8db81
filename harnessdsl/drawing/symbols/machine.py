"""Motors and generators (IEC 60617: circle with a letter)."""

from __future__ import annotations

import math

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import (
    FILLED,
    INK,
    SOLID,
    THIN,
    Element,
    Pin,
    line,
    upright,
)
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Circle, Rect, Shape, Style, Text
from harnessdsl.model.kind import Primitive

ORDER = 40
RADIUS_MM = 3.8
TWO_SPEED_RADIUS_MM = 4.2
LETTER_MM = 3.4


def take(pool: Pool) -> list[Element]:
    """Draw generators and motors; two windings of one motor on a common lower end share a
    circle, as in a two-speed wiper motor."""
    elements = [_generator(pool, p) for p in pool.take("alternator")]
    motors = pool.take("motor")
    while motors:
        first = motors.pop(0)
        second = next((m for m in motors if _one_armature(pool, first, m)), None)
        if second is not None:
            motors.remove(second)
            elements.append(_two_speed(pool, first, second))
        else:
            elements.append(_motor(pool, first))
    return elements


def _one_armature(pool: Pool, first: Primitive, second: Primitive) -> bool:
    """Two brushes on one commutator have one end in common and differ in speed, not in what they
    drive; motors with figures as far apart as two machines' are still drawn as they are named."""
    top_a, bottom_a, _ = pool.ends(first)
    top_b, bottom_b, _ = pool.ends(second)
    a, b = first.figure("current"), second.figure("current")
    return bottom_a == bottom_b and top_a != top_b and not (a is not None and a == b)


def _letter(x: float, text: str, lift: float = 0.0) -> list[Shape]:
    return [Text(x, 0.36 * LETTER_MM + lift, text, LETTER_MM, anchor="middle")]


def _motor(pool: Pool, primitive: Primitive) -> Element:
    top, bottom, _ = pool.ends(primitive)
    reverses = _reverses(pool, primitive)
    shapes: list[Shape] = [Circle(0, 0, RADIUS_MM, FILLED)]
    shapes += _letter(0, "M", -0.7 if reverses else 0.0)
    shapes += _brushes(0.0, RADIUS_MM)
    if reverses:
        shapes += [
            line((-1.7, 2.2), (1.7, 2.2), style=THIN),
            line((-1.1, 1.7), (-1.7, 2.2), (-1.1, 2.7), style=THIN),
            line((1.1, 1.7), (1.7, 2.2), (1.1, 2.7), style=THIN),
        ]
    return upright(
        f"motor {primitive.name}",
        top,
        bottom,
        RADIUS_MM + 0.2,
        RADIUS_MM + 0.5,
        shapes,
        side_texts(pool, primitive),
    )


def _reverses(pool: Pool, primitive: Primitive) -> bool:
    """A motor neither end of which is an earth turns both ways as it is fed."""
    ends = [pool.terminal(name) for name in (primitive.a, primitive.b)]
    if any(end is None or end.case or end.role == "inner" for end in ends):
        return False
    return not any(name.startswith(("31", "-")) for name in (primitive.a, primitive.b))


def _brushes(x: float, y: float) -> list[Shape]:
    return [Rect(x - 0.6, -y - 0.5, 1.2, 0.6, SOLID), Rect(x - 0.6, y - 0.1, 1.2, 0.6, SOLID)]


def _two_speed(pool: Pool, first: Primitive, second: Primitive) -> Element:
    top_a, bottom, _ = pool.ends(first)
    top_b, _, _ = pool.ends(second)
    radius, middle = TWO_SPEED_RADIUS_MM, 2.5
    shoulder = math.sqrt(radius**2 - middle**2)
    shapes: list[Shape] = [
        Circle(middle, 0, radius, FILLED),
        *_letter(middle, "M"),
        line((0, -radius - 0.4), (0, -shoulder - 0.3)),
        line((5.0, -radius - 0.4), (5.0, -shoulder - 0.3)),
        Rect(-0.6, -shoulder - 0.6, 1.2, 0.7, SOLID),
        Rect(4.4, -shoulder - 0.6, 1.2, 0.7, SOLID),
        line((middle, radius), (middle, radius + 0.4)),
        Rect(middle - 0.6, radius - 0.2, 1.2, 0.6, SOLID),
    ]
    return Element(
        f"motor {first.name} {second.name}",
        (Pin(0, top_a), Pin(5.0, top_b)),
        (Pin(middle, bottom),),
        left=radius - middle + 0.2,
        right=middle + radius + 0.2,
        up=radius + 0.4,
        down=radius + 0.4,
        shapes=tuple(shapes),
    )


def _generator(pool: Pool, primitive: Primitive) -> Element:
    top, bottom, _ = pool.ends(primitive)
    radius = 4.4
    shapes: list[Shape] = [
        Circle(0, 0, radius, FILLED),
        Text(0, 0.5, "G", LETTER_MM, anchor="middle"),
        line((-1.5, 1.9), (1.5, 1.9), style=Style(INK, 0.3)),
        line((-1.5, 2.6), (1.5, 2.6), style=Style(INK, 0.3, dash_mm=(0.7, 0.45))),
    ]
    return upright(f"generator {primitive.name}", top, bottom, radius + 0.2, radius, shapes)
