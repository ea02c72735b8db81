"""Turns the few points of a written outline into a fine polyline: rounded corners or a curve.

Pure geometry in whatever unit the points are in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]

CURVE_PIECES = 8
"""Straight pieces for each span of a curve or corner: under 0.1 mm off at the scale of a map."""


def _without_repeats(points: list[Point]) -> list[Point]:
    kept: list[Point] = []
    for point in points:
        if not kept or math.dist(point, kept[-1]) > 1e-9:
            kept.append(point)
    return kept


def rounded(corners: Sequence[tuple[Point, float]], closed: bool) -> list[Point]:
    """Return the polygon with each corner replaced by a curve of about the radius given with it.

    A corner that has too little room gets as much as half of its shorter side allows.
    """
    kept: list[tuple[Point, float]] = []
    for given in corners:
        if not kept or math.dist(given[0], kept[-1][0]) > 1e-9:
            kept.append(given)
    if closed and len(kept) > 1 and math.dist(kept[0][0], kept[-1][0]) < 1e-9:
        kept.pop()
    count = len(kept)
    made: list[Point] = []
    for index, (corner, radius) in enumerate(kept):
        if radius <= 0 or count < 3 or (not closed and index in (0, count - 1)):
            made.append(corner)
            continue
        before, after = kept[index - 1][0], kept[(index + 1) % count][0]
        room_in, room_out = math.dist(before, corner), math.dist(corner, after)
        turn = abs(
            math.remainder(
                math.atan2(after[1] - corner[1], after[0] - corner[0])
                - math.atan2(corner[1] - before[1], corner[0] - before[0]),
                math.tau,
            )
        )
        cut = min(radius * math.tan(min(turn, 2.6) / 2), room_in / 2, room_out / 2)
        if cut < 1e-9:
            made.append(corner)
            continue
        start = _towards(corner, before, cut / room_in)
        end = _towards(corner, after, cut / room_out)
        for piece in range(CURVE_PIECES + 1):
            t = piece / CURVE_PIECES
            # a quadratic Bezier with the corner as control point
            made.append(
                (
                    (1 - t) ** 2 * start[0] + 2 * t * (1 - t) * corner[0] + t * t * end[0],
                    (1 - t) ** 2 * start[1] + 2 * t * (1 - t) * corner[1] + t * t * end[1],
                )
            )
    return _without_repeats(made)


def _towards(a: Point, b: Point, share: float) -> Point:
    return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)


def smooth(points: list[Point], closed: bool) -> list[Point]:
    """Return a centripetal Catmull-Rom curve through the points; a point written twice running is
    a sharp corner (Barry and Goldman's pyramid, 1988)."""
    if closed and len(points) > 1 and math.dist(points[0], points[-1]) < 1e-9:
        points = points[:-1]
    corners: list[int] = []
    knots: list[Point] = []
    for point in points:
        if knots and math.dist(point, knots[-1]) < 1e-9:
            corners.append(len(knots) - 1)
        else:
            knots.append(point)
    if len(knots) < 3:
        return knots
    if closed and corners:  # begin at a corner, so that every stretch is an open curve
        first = corners[0]
        knots = knots[first:] + knots[:first] + [knots[first]]
        corners = [(corner - first) for corner in corners] + [len(knots) - 1]
    elif not closed:
        corners = sorted({0, *corners, len(knots) - 1})
    if not corners:
        return _spline(knots, closed=True)
    made: list[Point] = []
    for begin, end in pairwise(corners):
        made += _spline(knots[begin : end + 1], closed=False)
    if closed:
        made.pop()
    return _without_repeats(made)


def _spline(knots: list[Point], closed: bool) -> list[Point]:
    count = len(knots)
    if count < 3:
        return knots
    if closed:
        around = [knots[-1], *knots, knots[0], knots[1]]
        spans = count
    else:
        lead = (2 * knots[0][0] - knots[1][0], 2 * knots[0][1] - knots[1][1])
        trail = (2 * knots[-1][0] - knots[-2][0], 2 * knots[-1][1] - knots[-2][1])
        around = [lead, *knots, trail]
        spans = count - 1
    made: list[Point] = []
    for span in range(spans):
        p0, p1, p2, p3 = around[span : span + 4]
        t1 = math.sqrt(math.dist(p0, p1))
        t2 = t1 + math.sqrt(math.dist(p1, p2))
        t3 = t2 + math.sqrt(math.dist(p2, p3))
        for piece in range(CURVE_PIECES):
            t = t1 + (t2 - t1) * piece / CURVE_PIECES
            a1, a2, a3 = _mix(p0, p1, 0.0, t1, t), _mix(p1, p2, t1, t2, t), _mix(p2, p3, t2, t3, t)
            b1, b2 = _mix(a1, a2, 0.0, t2, t), _mix(a2, a3, t1, t3, t)
            made.append(_mix(b1, b2, t1, t2, t))
    if not closed:
        made.append(knots[-1])
    return made


def _mix(a: Point, b: Point, ta: float, tb: float, t: float) -> Point:
    share = (t - ta) / (tb - ta)
    return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share)


def circle(centre: Point, radius: float, pieces: int = 48) -> list[Point]:
    """Return a regular polygon that reads as a circle on paper."""
    return [
        (
            centre[0] + radius * math.cos(math.tau * piece / pieces),
            centre[1] + radius * math.sin(math.tau * piece / pieces),
        )
        for piece in range(pieces)
    ]


def arc(centre: Point, radius: float, from_deg: float, to_deg: float) -> list[Point]:
    """Return points along an arc; 0 degrees points to greater first figures, 90 to greater second
    figures, and the arc runs from the one angle to the other without a detour."""
    pieces = max(2, math.ceil(abs(to_deg - from_deg) / 7.5))
    angles = [
        math.radians(from_deg + (to_deg - from_deg) * piece / pieces)
        for piece in range(pieces + 1)
    ]
    return [
        (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))
        for angle in angles
    ]
