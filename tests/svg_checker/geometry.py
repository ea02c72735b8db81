"""Plane geometry for the checks: segments, polygons and turned boxes, all in millimetres."""

from __future__ import annotations

import math
from collections.abc import Sequence

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""min x, min y, max x, max y"""


def bounds(points: Sequence[Point], grow: float = 0.0) -> Box:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs) - grow, min(ys) - grow, max(xs) + grow, max(ys) + grow)


def boxes_meet(a: Box, b: Box) -> bool:
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


def distance(a: Point, b: Point) -> float:
    return math.hypot(a[0] - b[0], a[1] - b[1])


def _cross(o: Point, a: Point, b: Point) -> float:
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])


def point_segment_distance(p: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    if square == 0:
        return distance(p, a)
    t = max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square))
    return math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy)


def crossing_point(a: Point, b: Point, c: Point, d: Point) -> Point | None:
    """Return where segments ab and cd cross at one point inside both, else None."""
    d1, d2 = _cross(c, d, a), _cross(c, d, b)
    d3, d4 = _cross(a, b, c), _cross(a, b, d)
    if d1 * d2 < 0 and d3 * d4 < 0:
        t = d1 / (d1 - d2)
        return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))
    return None


def segment_distance(a: Point, b: Point, c: Point, d: Point) -> float:
    if crossing_point(a, b, c, d) is not None:
        return 0.0
    return min(
        point_segment_distance(a, c, d),
        point_segment_distance(b, c, d),
        point_segment_distance(c, a, b),
        point_segment_distance(d, a, b),
    )


def inside_polygon(p: Point, polygon: Sequence[Point]) -> bool:
    """Even-odd rule; a point on the outline may go either way."""
    inside = False
    for (x1, y1), (x2, y2) in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        if (y1 > p[1]) != (y2 > p[1]) and p[0] < (x2 - x1) * (p[1] - y1) / (y2 - y1) + x1:
            inside = not inside
    return inside


def segment_polygon_distance(a: Point, b: Point, polygon: Sequence[Point]) -> float:
    """Return 0 when the segment reaches into the polygon, else the distance to its outline."""
    if inside_polygon(a, polygon) or inside_polygon(b, polygon):
        return 0.0
    return min(
        segment_distance(a, b, c, d)
        for c, d in zip(polygon, [*polygon[1:], polygon[0]], strict=True)
    )


def polygon_distance(first: Sequence[Point], second: Sequence[Point]) -> float:
    if inside_polygon(first[0], second) or inside_polygon(second[0], first):
        return 0.0
    return min(
        segment_polygon_distance(a, b, second)
        for a, b in zip(first, [*first[1:], first[0]], strict=True)
    )


def overlap_depth(first: Sequence[Point], second: Sequence[Point]) -> float:
    """Return how far two convex polygons reach into each other (0 when apart): the least shift
    that would part them, by the separating-axis theorem."""
    depth = math.inf
    for polygon in (first, second):
        for (x1, y1), (x2, y2) in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
            length = math.hypot(x2 - x1, y2 - y1)
            if length < 1e-9:
                continue
            nx, ny = (y2 - y1) / length, (x1 - x2) / length
            a = [nx * x + ny * y for x, y in first]
            b = [nx * x + ny * y for x, y in second]
            gap = min(max(a), max(b)) - max(min(a), min(b))
            if gap <= 0:
                return 0.0
            depth = min(depth, gap)
    return 0.0 if depth is math.inf else depth


def shrink(box: Sequence[Point], by: float) -> tuple[Point, ...]:
    """Return a (turned) rectangle made smaller by `by` on each side, never inside out."""
    (ax, ay), (bx, by_), (cx, cy), (dx, dy) = box
    wide, high = math.hypot(bx - ax, by_ - ay), math.hypot(dx - ax, dy - ay)
    if wide < 1e-9 or high < 1e-9:
        return tuple(box)
    u = ((bx - ax) / wide, (by_ - ay) / wide)
    v = ((dx - ax) / high, (dy - ay) / high)
    s, t = min(by, wide / 2), min(by, high / 2)
    return (
        (ax + u[0] * s + v[0] * t, ay + u[1] * s + v[1] * t),
        (bx - u[0] * s + v[0] * t, by_ - u[1] * s + v[1] * t),
        (cx - u[0] * s - v[0] * t, cy - u[1] * s - v[1] * t),
        (dx + u[0] * s - v[0] * t, dy + u[1] * s - v[1] * t),
    )


def trimmed(points: Sequence[Point], start_mm: float, end_mm: float) -> list[Point]:
    """Return the polyline without its first and last millimetres; empty when nothing is left."""

    def cut(line: list[Point], by: float) -> list[Point]:
        while len(line) > 1 and by > 0:
            length = distance(line[0], line[1])
            if length > by:
                t = by / length
                (ax, ay), (bx, by_) = line[0], line[1]
                return [(ax + (bx - ax) * t, ay + (by_ - ay) * t), *line[1:]]
            by -= length
            line = line[1:]
        return line if len(line) > 1 else []

    return cut(cut(list(points), start_mm)[::-1], end_mm)[::-1]
