"""Marks of what moves a contact: push, lever, turn, heat, pressure, cam, coil (IEC 60617)."""

from __future__ import annotations

from dataclasses import replace

from harnessdsl.drawing.compose.element import (
    FILLED,
    INK,
    LINE,
    SOLID,
    Element,
    Link,
    line,
    side_lines,
)
from harnessdsl.drawing.scene import Circle, Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import SMALL_MM, shorten
from harnessdsl.model.kind import Actuator, Kind

_LETTERS = {"heat": "θ", "pressure": "p", "trip": "a"}
"""Quantities that move a contact: temperature, pressure, acceleration (ISO 80000 letters)."""
MARK_MM = 3.0
MOST_TEXT_MM = 16.0


def actuator_mark(kind: Kind, key: str, again: bool = False, from_right: bool = False) -> Element:
    """Return the mark for a link's key: an actuator's name, heat, pressure, motion, trip, or
    `coil:NAME` for a coil that is drawn elsewhere.

    The link leaves it at x = 0 to the right, or to the left when it stands `from_right` of the
    contacts. A mark drawn `again` in another row does not repeat the position at rest.
    """
    word = key.split(":")[0]
    lines: list[str] = []
    if key in kind.actuators:
        actuator = kind.actuators[key]
        shapes = _moved_by_hand(actuator)
        lines = actuator_lines(kind, actuator, again)
    elif word in _LETTERS:
        shapes = (Text(-1.1, 0.36 * SMALL_MM, _LETTERS[word], SMALL_MM, anchor="middle"),)
    elif word == "motion":
        shapes = (
            Circle(-1.5, 0.0, 0.9, FILLED),
            Polyline(((-1.5, -0.9), (-0.2, 0), (-1.5, 0.9)), SOLID, closed=True),
        )
    else:
        shapes = (Rect(-2.4, -0.9, 2.4, 1.8, FILLED), line((-2.4, 0.9), (0, -0.9)))
        lines = [word for word in key.split(":")[1:] if word]
    start = 0.0 if from_right else -MARK_MM
    texts, width, height = side_lines(
        [shorten(text, SMALL_MM, MOST_TEXT_MM) for text in lines], start, 3.2
    )
    if from_right:
        shapes = tuple(_mirrored(shape) for shape in shapes)
    return Element(
        f"mark {key}",
        (),
        (),
        left=0.5 if from_right else MARK_MM,
        right=max(MARK_MM if from_right else 0.5, start + width),
        up=1.8,
        down=3.2 + height if lines else 1.8,
        shapes=(*shapes, *texts),
        links=(Link(key, 0.0, drives=True),),
    )


def _mirrored(shape: Shape) -> Shape:
    if isinstance(shape, Polyline):
        return replace(shape, points=tuple((-x, y) for x, y in shape.points))
    if isinstance(shape, Rect):
        return replace(shape, x=-shape.x - shape.width)
    if isinstance(shape, Circle | Text):
        return replace(shape, x=-shape.x)
    return shape


def actuator_lines(kind: Kind, actuator: Actuator, again: bool = False) -> list[str]:
    """Return what is written at the mark: the name where there are several, and the position at
    rest where it is not plain from the contacts."""
    lines = []
    if len(kind.actuators) > 1 or actuator.name not in ("main", ""):
        lines.append(actuator.name)
    if len(actuator.positions) > 2 and actuator.rest and not again:
        lines.append(f"rest {actuator.rest}")
    return lines


def _moved_by_hand(actuator: Actuator) -> tuple[Shape, ...]:
    others = [p for p in actuator.positions if p != actuator.rest]
    if others and all(p in actuator.momentary for p in others):
        if len(others) == 1:  # push button
            return (
                line((-1.6, -1.3), (-2.3, -1.3), (-2.3, 1.3), (-1.6, 1.3)),
                line((-2.3, 0), (0, 0), style=Style(INK, 0.2)),
            )
        return (  # springs back from both sides: lever with its return arrow
            line((-2.3, -1.3), (-2.3, 1.3)),
            line((-2.3, 0), (0, 0), style=Style(INK, 0.2)),
            line((-1.5, -1.2), (-0.7, 0), (-1.5, 1.2), style=Style(INK, 0.2)),
        )
    if len(actuator.positions) > 2:  # turned
        return (
            line((-2.9, -1.3), (-2.3, -1.3), (-2.3, 1.3), (-1.7, 1.3), style=LINE),
            line((-2.3, 0), (0, 0), style=Style(INK, 0.2)),
        )
    return (line((-2.3, -1.3), (-2.3, 1.3)), line((-2.3, 0), (0, 0), style=Style(INK, 0.2)))
