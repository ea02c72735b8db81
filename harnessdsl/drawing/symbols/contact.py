"""Contacts in their position at rest (IEC 60617): make, break and changeover."""

from __future__ import annotations

import math

from harnessdsl.drawing.block import GRID_MM
from harnessdsl.drawing.compose.caption import switch_point
from harnessdsl.drawing.compose.element import Element, Link, Pin, line, side_lines, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Shape
from harnessdsl.drawing.text_metrics import SMALL_MM, shorten, text_width
from harnessdsl.model.kind import RESERVED_ACTUATORS, Clause, Primitive

ORDER = 50
HALF_MM = 3.0
HINGE_MM = 2.2
FIXED_MM = 2.0
MOST_LINES = 4
MOST_TEXT_MM = 18.0

_REST = {
    "coil": "released",
    "heat": "cold",
    "pressure": "no-pressure",
    "motion": "stopped",
    "trip": "intact",
}
"""How things stand in the car at rest, cold, with the engine off (IEC 61082: drawn at rest)."""


def take(pool: Pool) -> list[Element]:
    """Draw pairs that change over as one blade, every other contact on its own."""
    elements: list[Element] = []
    contacts = pool.take("contact")
    while contacts:
        first = contacts.pop(0)
        other = next((c for c in contacts if _changes_over(pool, first, c)), None)
        if other is None:
            elements.append(_single(pool, first))
        else:
            contacts.remove(other)
            rest = (first, other) if closed_at_rest(pool, first) else (other, first)
            elements.append(_changeover(pool, *rest))
    return elements


def link_key(pool: Pool, clause: Clause) -> str:
    """Return the key of what moves a contact by this clause."""
    return pool.coil_key(clause.of) if clause.actuator == "coil" else clause.actuator


def closed_at_rest(pool: Pool, contact: Primitive) -> bool:
    """Return whether every clause holds with the car at rest."""
    return all(_holds_at_rest(pool, clause) for clause in contact.clauses)


def _holds_at_rest(pool: Pool, clause: Clause) -> bool:
    if clause.actuator in RESERVED_ACTUATORS:
        return _REST[clause.actuator] in clause.positions
    actuator = pool.kind.actuators.get(clause.actuator)
    return actuator is not None and actuator.rest in clause.positions


def _changes_over(pool: Pool, a: Primitive, b: Primitive) -> bool:
    """Return whether a and b are one blade between two fixed contacts."""
    if len(a.clauses) != 1 or len(b.clauses) != 1:
        return False
    one, two = a.clauses[0], b.clauses[0]
    if link_key(pool, one) != link_key(pool, two):
        return False
    if one.actuator in RESERVED_ACTUATORS:
        opposite = one.positions != two.positions
    else:
        actuator = pool.kind.actuators.get(one.actuator)
        opposite = actuator is not None and (
            sorted((*one.positions, *two.positions)) == sorted(actuator.positions)
        )
    top_a, bottom_a, _ = pool.ends(a)
    top_b, bottom_b, _ = pool.ends(b)
    shared = (top_a == top_b) != (bottom_a == bottom_b)
    differ = {top_a, top_b} & {bottom_a, bottom_b} == set()
    return (
        opposite
        and shared
        and differ
        and closed_at_rest(pool, a) != closed_at_rest(pool, b)
        and len({pool.net(n) for n in (a.a, a.b, b.a, b.b)}) == 3
    )


def position_lines(pool: Pool, contact: Primitive) -> list[str]:
    """Return in which positions the contact is closed, as it is written beside it."""
    lines: list[str] = []
    several = len(pool.kind.actuators) > 1
    for clause in contact.clauses:
        if clause.actuator in RESERVED_ACTUATORS:
            continue
        actuator = pool.kind.actuators.get(clause.actuator)
        positions = list(clause.positions)
        missing = [p for p in actuator.positions if p not in positions] if actuator else []
        if actuator is not None and len(positions) > 2 and len(missing) == 1:
            positions = [f"not {missing[0]}"]
        if several and len(contact.clauses) > 1:
            positions = [f"{clause.actuator}: {' '.join(positions)}"]
        lines.extend(positions)
    points = {switch_point(p) for p in pool.kind.primitives if p.type == "contact"} - {""}
    if len(points) > 1:
        lines.append(switch_point(contact))
    if len(lines) > MOST_LINES:
        lines = [*lines[: MOST_LINES - 1], " ".join(lines[MOST_LINES - 1 :])]
    return [shorten(text, SMALL_MM, MOST_TEXT_MM) for text in lines]


def _single(pool: Pool, contact: Primitive) -> Element:
    top, bottom, _ = pool.ends(contact)
    if closed_at_rest(pool, contact):
        shapes: list[Shape] = [
            line((0, -HALF_MM), (0, -FIXED_MM), (1.7, -FIXED_MM)),
            line((0, HALF_MM), (0, HINGE_MM), (1.9, -FIXED_MM - 0.6)),
        ]
        slope = -1.9 / (HINGE_MM + FIXED_MM + 0.6)
    else:
        shapes = [
            line((0, -HALF_MM), (0, -FIXED_MM)),
            line((0, HALF_MM), (0, HINGE_MM), (-2.2, -FIXED_MM)),
        ]
        slope = 2.2 / (HINGE_MM + FIXED_MM)
    links = tuple(Link(key, -slope * HINGE_MM, slope) for key in _keys(pool, contact))
    return upright(
        f"contact {contact.a}-{contact.b}",
        top,
        bottom,
        2.4,
        HALF_MM,
        shapes,
        position_lines(pool, contact),
        links,
        right=2.1,
    )


def _keys(pool: Pool, contact: Primitive) -> tuple[str, ...]:
    return tuple(dict.fromkeys(link_key(pool, clause) for clause in contact.clauses))


def _changeover(pool: Pool, closed: Primitive, opened: Primitive) -> Element:
    """Draw the blade at the common end, lying on the contact that is closed at rest."""
    top_c, bottom_c, _ = pool.ends(closed)
    top_o, bottom_o, _ = pool.ends(opened)
    common_above = top_c == top_o
    left_lines, right_lines = position_lines(pool, closed), position_lines(pool, opened)
    net_c, net_o = (bottom_c, bottom_o) if common_above else (top_c, top_o)
    need = max(text_width(text, SMALL_MM) for text in (*left_lines, net_c)) + 1.4
    left = -GRID_MM
    right = max(GRID_MM, math.ceil((need + left) / GRID_MM) * GRID_MM)
    turn = 1.0 if common_above else -1.0
    blade_x, blade_y = -1.5, 2.4
    tip = 1.2
    shapes: list[Shape] = [
        line((0, -HALF_MM * turn), (0, -HINGE_MM * turn), (blade_x, blade_y * turn)),
        line((left, HALF_MM * turn), (left, 1.7 * turn), (-1.2, 1.7 * turn)),
        line((right, HALF_MM * turn), (right, 1.7 * turn), (tip, 1.7 * turn)),
    ]
    slope = blade_x / (HINGE_MM + blade_y) * turn
    lines_at = HALF_MM + 0.4
    width_right = height = 0.0
    if common_above:
        texts, _, height_left = side_lines(left_lines, left + 0.6, lines_at)
        more, width_right, height_right = side_lines(right_lines, right + 0.6, lines_at)
        shapes += [*texts, *more]
        height = max(height_left, height_right)
    else:
        # the fixed contacts are above: their positions are written under the hinge
        words = [f"{a} | {b}" for a, b in zip(left_lines, right_lines, strict=False)]
        texts, width_right, height = side_lines(words, 0.6, lines_at)
        shapes += texts
    down = HALF_MM
    if height:
        down = lines_at + height
        ends = (left, right) if common_above else (0.0,)
        shapes += [line((x, HALF_MM), (x, down)) for x in ends]
    pins = (Pin(left, net_c), Pin(right, net_o))
    common = (Pin(0, top_c if common_above else bottom_c),)
    extent = right + 0.6 + width_right if common_above else 0.6 + width_right
    return Element(
        f"changeover {net_c} {net_o}",
        common if common_above else pins,
        pins if common_above else common,
        left=-left + 0.4,
        right=max(right + 0.4, extent),
        up=HALF_MM,
        down=down,
        shapes=tuple(shapes),
        links=tuple(
            Link(key, slope * HINGE_MM * turn, slope) for key in _keys(pool, closed)
        ),
    )
