"""Small marks on and at the ends of wires: plugs, splices, earth points, references.

Each mark is drawn about the point (0, 0) on its wire and tells the box that it fills, so that
placement can reserve the room before the wire is routed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from harnessdsl.drawing.scene import Circle, Path, Point, Polyline, Shape, Style, Text
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    DESCENT,
    SMALL_MM,
    Box,
    line_height,
    text_box,
    text_width,
)

LINE_MM = 0.3
"""Stroke of symbols and marks."""
INK = "#000000"
_LINE = Style(INK, LINE_MM)
_SOLID = Style("none", fill=INK)


@dataclass(frozen=True, slots=True)
class Mark:
    """Shapes about an origin, the box that they fill (texts included) and where wires join."""

    shapes: tuple[Shape, ...]
    box: Box
    joins: tuple[Point, ...] = ()
    """For a plug: where the upper and the lower wire end. For an earth, a reference: one."""
    solid: tuple[Box, ...] = ()
    """The boxes that no other wire and no foreign text may cross."""


PLUG_HEIGHT_MM = 4.0
"""Length of wire that a plug mark takes up; joins are at -PLUG_HEIGHT_MM/2 and +/2."""
SPLICE_RADIUS_MM = 0.9
EARTH_HEIGHT_MM = 7.0
_BESIDE_WIRE_MM = 0.95
"""From a wire's middle to the text beside it: half of the thickest wire, and some air.
Text beside one wire leaves room for a plug on the next at the least distance of two ports."""


def union(*boxes: Box) -> Box:
    """Return the smallest box around some boxes."""
    return (
        min(box[0] for box in boxes),
        min(box[1] for box in boxes),
        max(box[2] for box in boxes),
        max(box[3] for box in boxes),
    )


def upright_text(
    text: str,
    x: float,
    y: float,
    side: Literal["right", "left"],
    beside_mm: float = _BESIDE_WIRE_MM,
) -> Text:
    """Return small text that reads upwards beside a vertical wire at x, its middle at y, clear of
    the wire's middle by `beside_mm`."""
    base = x - beside_mm - DESCENT * SMALL_MM
    if side == "right":
        base = x + beside_mm + ASCENT * SMALL_MM
    return Text(base, y, text, SMALL_MM, anchor="middle", rotate_deg=-90)


def plug_mark(
    connector: str,
    cavity: str,
    upper_half: Literal["a", "b", ""] = "",
    upper_gender: str = "",
    text_side: Literal["right", "left"] = "left",
) -> Mark:
    """Return an in-line plug on a wire that runs downwards: male and female halves facing each
    other (IEC 60617: plug and socket contact), with `X5/1` written upright along the wire on
    `text_side`.

    `upper_half` is the half that the wire from above ends on; it is written before the cavity
    when it is not '', as in `X5a/1`. `upper_gender` is male or female; the other half is the
    opposite, and '' draws the upper half as the male one.
    """
    half = PLUG_HEIGHT_MM / 2
    down = -1.0 if upper_gender == "female" else 1.0
    # the socket is a cup about the pin, open towards it
    cup, pin_back, pin_tip = 0.3 * down, -0.8 * down, 0.75 * down
    radius = 0.95
    sweep = 0 if down > 0 else 1
    shapes: list[Shape] = [
        Polyline(((0, -half), (0, half)), Style("#ffffff", 2.0)),
        Polyline(((0, -half * down), (0, pin_back)), _LINE),
        Polyline(((0, pin_back), (0, pin_tip)), Style(INK, 0.75)),
        Path(f"M {-radius} {cup} A {radius} {radius} 0 0 {sweep} {radius} {cup}", _LINE),
        Polyline(((0, cup + radius * down), (0, half * down)), _LINE),
    ]
    name = f"{connector}{upper_half}/{cavity}" if cavity else f"{connector}{upper_half}"
    text = upright_text(name, 0.0, 0.0, text_side)
    shapes.append(text)
    body = (-radius - 0.15, -half, radius + 0.15, half)
    return Mark(tuple(shapes), union(body, text_box(text)), ((0, -half), (0, half)), (body,))


def splice_mark(name: str = "") -> Mark:
    """Return a splice: a dot at (0, 0), with its name to the upper right when given."""
    radius = SPLICE_RADIUS_MM
    body = (-radius, -radius, radius, radius)
    shapes: tuple[Shape, ...] = (Circle(0, 0, radius, _SOLID),)
    if not name:
        return Mark(shapes, body, ((0, 0),), (body,))
    text = Text(_BESIDE_WIRE_MM, -radius - DESCENT * SMALL_MM, name, SMALL_MM)
    return Mark((*shapes, text), union(body, text_box(text)), ((0, 0),), (body,))


def earth_mark(name: str, conductor: str = "") -> Mark:
    """Return an earth point hanging from a wire that ends at (0, 0) from above: the chassis
    sign (IEC 60617: frame, chassis) with the point's name below it; metal other than the body
    is named too, on a second line."""
    bar = 1.6
    shapes: list[Shape] = [
        Polyline(((0, 0), (0, bar)), _LINE),
        Polyline(((-1.9, bar), (1.9, bar)), Style(INK, 0.6)),
    ]
    for x in (-1.3, 0.0, 1.3):
        shapes.append(Polyline(((x + 0.5, bar), (x - 0.5, bar + 1.3)), _LINE))
    boxes: list[Box] = [(-2.0, 0.0, 2.0, bar + 1.5)]
    base = bar + 1.6 + ASCENT * SMALL_MM
    for line in (name, conductor if conductor not in ("", "body") else ""):
        if line:
            text = Text(0, base, line, SMALL_MM, anchor="middle")
            shapes.append(text)
            boxes.append(text_box(text))
            base += line_height(SMALL_MM)
    return Mark(tuple(shapes), union(*boxes), ((0, 0),), (boxes[0],))


def reference_mark(
    text: str, direction: Literal["in", "out"] = "out", end: Literal["top", "bottom"] = "bottom"
) -> Mark:
    """Return the tag at the end of a wire that goes on elsewhere, joined at (0, 0).

    `text` is such as `2/14` (sheet/track) or `A3.5`, or two lines parted by a newline; it reads
    upwards inside the tag. `direction` is where the current goes: the tag's point looks away
    from the wire (`out`) or towards it (`in`). `end` `bottom` hangs the tag below a wire's lower
    end, `top` stands it on a wire's upper end.
    """
    lines = text.split("\n")
    pitch = line_height(SMALL_MM)
    half = (pitch * len(lines) + 0.8) / 2
    point = 1.5
    length = max(text_width(line, SMALL_MM) for line in lines) + 1.0
    away = 1.0 if end == "bottom" else -1.0
    near, far = 0.0, (length + point) * away
    if direction == "out":
        outline = ((-half, near), (half, near), (half, far - point * away), (0.0, far),
                   (-half, far - point * away))  # fmt: skip
        middle = length / 2 * away
    else:
        outline = ((0.0, near), (half, point * away), (half, far), (-half, far),
                   (-half, point * away))  # fmt: skip
        middle = (length / 2 + point) * away
    shapes: list[Shape] = [Polyline(outline, Style(INK, 0.25, "#ffffff"), closed=True)]
    for index, line in enumerate(lines):
        strip = -half + 0.4 + pitch * index
        base = strip + (pitch - (ASCENT + DESCENT) * SMALL_MM) / 2 + ASCENT * SMALL_MM
        shapes.append(Text(base, middle, line, SMALL_MM, anchor="middle", rotate_deg=-90))
    body = (-half, min(near, far), half, max(near, far))
    return Mark(tuple(shapes), body, ((0, 0),), (body,))


def bar_dot() -> Mark:
    """Return the dot where wires meet on one terminal."""
    radius = 0.65
    body = (-radius, -radius, radius, radius)
    return Mark((Circle(0, 0, radius, _SOLID),), body, ((0, 0),))


def case_mark(conductor: str) -> Mark:
    """Return the sign of a metal case that sits on metal: like an earth point, without a name
    of its own but with that of the metal when it is not the body."""
    return earth_mark("", conductor)
