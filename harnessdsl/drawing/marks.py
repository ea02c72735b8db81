"""Small marks on and at the ends of wires: plugs, splices, earth points, references.

Each mark is drawn about the point (0, 0) on its wire and tells the box that it fills, so that
placement can reserve the room before the wire is routed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from harnessdsl.drawing.scene import Point, Shape
from harnessdsl.drawing.text_metrics import Box


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


def plug_mark(
    connector: str,
    cavity: str,
    upper_half: Literal["a", "b", ""] = "",
    upper_gender: str = "",
    text_side: Literal["right", "left"] = "left",
) -> Mark:
    """Return an in-line plug on a wire that runs downwards: male and female halves facing each
    other, with `X5/1` written upright along the wire on `text_side`.

    `upper_half` is the half that the wire from above ends on; `upper_gender` is male or female
    (the other half is the opposite; '' draws the upper half as the male one).
    """
    raise NotImplementedError


def splice_mark(name: str = "") -> Mark:
    """Return a splice: a dot at (0, 0), with its name to the upper right when given."""
    raise NotImplementedError


def earth_mark(name: str, conductor: str = "") -> Mark:
    """Return an earth point hanging from a wire that ends at (0, 0) from above: the chassis
    sign with the point's name below it; metal other than the body is named too."""
    raise NotImplementedError


def reference_mark(
    text: str, direction: Literal["in", "out"] = "out", end: Literal["top", "bottom"] = "bottom"
) -> Mark:
    """Return the flag at the end of a wire that goes on elsewhere, joined at (0, 0).

    `text` is such as `2 / 14` (sheet / track) or `A3.5`, or two lines parted by a newline.
    `direction` is where the current goes: `out` points away from the wire, `in` towards it.
    `end` `bottom` hangs below a wire's lower end, `top` stands on its upper end.
    """
    raise NotImplementedError


def bar_dot() -> Mark:
    """Return the dot where wires meet on one terminal."""
    raise NotImplementedError
