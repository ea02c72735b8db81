"""Numbered call-outs in two rows, above and below a view, with leader lines that do not cross.

All call-outs lie outside the band that holds the marks, so no leader can run through a call-out:
it meets its own from below (or above) and ends there. Upper and lower marks are parted by a
height, so leaders to different rows do not meet either. Within a row, order decides: leaders are
swapped as long as that shortens them, which removes every crossing (two crossing segments are
always longer than the same four ends joined the other way), or keeps them off other marks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from harnessdsl.drawing.scene import Point
from harnessdsl.drawing.text_metrics import SMALL_MM, text_width

TEXT_MM = SMALL_MM
HEIGHT_MM = 4.6
GAP_MM = 0.8
"""Least distance between two call-outs in a row."""
CLEARANCE_MM = 1.1
"""A leader that comes nearer than this to another mark could be taken for that mark's."""
_NEAR_PENALTY_MM = 25.0
_CROSSING_PENALTY_MM = 200.0


@dataclass(frozen=True, slots=True)
class Mark:
    """What a call-out points at: a key that is its own in the view, its number, its spot."""

    key: str
    text: str
    at: Point


@dataclass(frozen=True, slots=True)
class CallOut:
    """A call-out's centre, its width, and the leader from its edge to the mark."""

    mark: Mark
    centre: Point
    width: float
    leader: tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class Rows:
    """Where call-outs of a view may stand: from x0 to x1, centred on two heights."""

    x0: float
    x1: float
    upper_y: float
    lower_y: float

    def capacity(self, widest: str) -> int:
        """Return how many call-outs with a text as wide as `widest` fit in both rows."""
        return 2 * int((self.x1 - self.x0 + GAP_MM) / (width_of(widest) + GAP_MM))


def width_of(text: str) -> float:
    """Return the width of a call-out: a circle for up to two digits, else a longer pill."""
    return max(HEIGHT_MM, text_width(text, TEXT_MM, True) + 1.6)


def place_callouts(marks: Sequence[Mark], rows: Rows) -> list[CallOut]:
    """Return a call-out for every mark, in the order of the marks.

    Raises ValueError when there are more marks than the rows can hold.
    """
    if not marks:
        return []
    upper, lower = _share_out(list(range(len(marks))), marks, rows)
    found: dict[int, CallOut] = {}
    for row, height, edge in (
        (upper, rows.upper_y, HEIGHT_MM / 2), (lower, rows.lower_y, -HEIGHT_MM / 2)
    ):
        for index, x in _arrange(row, marks, rows, height + edge).items():
            mark = marks[index]
            found[index] = CallOut(
                mark, (x, height), width_of(mark.text), (mark.at, (x, height + edge))
            )
    return [found[index] for index in range(len(marks))]


def _share_out(
    members: list[int], marks: Sequence[Mark], rows: Rows
) -> tuple[list[int], list[int]]:
    """Part the marks by a height into an upper and a lower row: about the middle, shifted so that
    neither row is crowded while the other has room."""
    by_height = sorted(members, key=lambda index: (marks[index].at[1], marks[index].at[0], index))
    middle = (rows.upper_y + rows.lower_y) / 2
    natural = sum(marks[index].at[1] < middle for index in members)
    half = len(members) / 2
    slack = max(1.0, len(members) * 0.18)
    cut = round(min(max(natural, half - slack), half + slack))
    widest = max((marks[index].text for index in members), key=width_of)
    most = rows.capacity(widest) // 2

    for step in range(len(members) + 1):
        for candidate in (cut - step, cut + step):
            if 0 <= candidate <= most and 0 <= len(members) - candidate <= most:
                return by_height[:candidate], by_height[candidate:]
    raise ValueError(f"{len(members)} call-outs do not fit beside one view")


def _arrange(
    row: list[int], marks: Sequence[Mark], rows: Rows, edge_y: float
) -> dict[int, float]:
    """Return the x of every call-out of one row."""
    if not row:
        return {}
    # one width for all, so that call-outs may change places
    pitch = max(width_of(marks[index].text) for index in row) + GAP_MM
    order = sorted(row, key=lambda index: (marks[index].at[0], marks[index].at[1], index))
    places = _spaced(order, marks, rows, pitch)
    for _ in range(3):
        if not _keep_clear(order, places, marks, edge_y):
            break
        places = _spaced(order, marks, rows, pitch)
    _uncross(order, places, marks, edge_y)
    return dict(zip(order, places, strict=True))


def _spaced(order: list[int], marks: Sequence[Mark], rows: Rows, pitch: float) -> list[float]:
    """Return centres in this order, each as near to its mark as the pitch allows (pool adjacent
    violators: call-outs that would overlap move together to their mean)."""
    pools: list[tuple[float, int]] = []
    for position, index in enumerate(order):
        mean, count = marks[index].at[0] - position * pitch, 1
        while pools and pools[-1][0] > mean:
            other, size = pools.pop()
            mean, count = (mean * count + other * size) / (count + size), count + size
        pools.append((mean, count))
    low = rows.x0 + (pitch - GAP_MM) / 2
    high = rows.x1 - (pitch - GAP_MM) / 2 - (len(order) - 1) * pitch
    starts = [mean for mean, count in pools for _ in range(count)]
    return [min(max(start, low), high) + position * pitch
            for position, start in enumerate(starts)]


def _keep_clear(
    order: list[int], places: list[float], marks: Sequence[Mark], edge_y: float
) -> bool:
    """Swap near neighbours in `order` while that shortens leaders, parts crossing ones or keeps
    them off other marks; say whether anything changed."""
    count = len(order)
    changed = False

    def cost(position: int, index: int) -> float:
        at, end = marks[index].at, (places[position], edge_y)
        near = sum(
            1 for other in order
            if other != index and _distance(marks[other].at, at, end) < CLEARANCE_MM
            and math.dist(marks[other].at, at) > 2 * CLEARANCE_MM
        )
        return math.dist(at, end) + near * _NEAR_PENALTY_MM

    for _ in range(8):
        better = False
        costs = [cost(position, index) for position, index in enumerate(order)]
        for i in range(count):
            for j in range(i + 1, min(count, i + 7)):
                a, b = order[i], order[j]
                swapped = (cost(i, b), cost(j, a))
                before = costs[i] + costs[j]
                after = swapped[0] + swapped[1]
                before += _CROSSING_PENALTY_MM * _crossings(order, places, marks, edge_y, i, j)
                order[i], order[j] = b, a
                after += _CROSSING_PENALTY_MM * _crossings(order, places, marks, edge_y, i, j)
                if after < before - 1e-6:
                    costs[i], costs[j] = swapped
                    better = changed = True
                else:
                    order[i], order[j] = a, b
        if not better:
            break
    return changed


def _uncross(order: list[int], places: list[float], marks: Sequence[Mark], edge_y: float) -> None:
    """Swap crossing leaders until there are none; each swap shortens the whole, so it ends."""
    for _ in range(len(order) ** 2):  # far more rounds than are ever needed
        found = False
        for i in range(len(order)):
            for j in range(i + 1, len(order)):
                a, b = marks[order[i]].at, marks[order[j]].at
                if _cross(a, (places[i], edge_y), b, (places[j], edge_y)):
                    order[i], order[j] = order[j], order[i]
                    found = True
        if not found:
            break


def _crossings(
    order: list[int], places: list[float], marks: Sequence[Mark], edge_y: float, i: int, j: int
) -> int:
    """Count the crossings of the leaders at positions i and j with all others of the row."""
    count = 0
    for k in (i, j):
        a, b = marks[order[k]].at, (places[k], edge_y)
        for other, index in enumerate(order):
            if other != k and not (k == j and other == i):
                count += _cross(a, b, marks[index].at, (places[other], edge_y))
    return count


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    def turn(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0


def _distance(point: Point, a: Point, b: Point) -> float:
    """Return the distance of a point from the segment a-b."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    share = 0.0 if square == 0 else ((point[0] - a[0]) * dx + (point[1] - a[1]) * dy) / square
    share = min(1.0, max(0.0, share))
    return math.hypot(point[0] - a[0] - share * dx, point[1] - a[1] - share * dy)
