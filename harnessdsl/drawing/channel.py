"""Routing in one channel: the level of every sideways stretch, and how high the channel must be.

Wires run upright from their pins to one sideways stretch (a track) and on. The room in front of
a pin belongs to what is strung on it: tracks pass below what hangs from the upper row and above
what stands on the lower one. Lengths in millimetres, y from the channel's top downwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

TRACK_PITCH_MM = 2.5
CLEAR_MM = 1.2
"""From a track to the end of what hangs or stands beside it."""
HOP_CLEAR_MM = 2.3
"""The same where the track leaps over the wire that hangs there."""
SIDE_MM = 1.3
"""From an upright stretch to what is beside it: half of the thickest wire and some air."""
_CONFLICT = 1000


@dataclass(frozen=True, slots=True)
class Column:
    """The room taken in front of a pin: from `x - left` to `x + right`, `depth` deep from its
    row's edge (negative where the element ends short of the edge and nothing hangs there)."""

    x: float
    left: float
    right: float
    depth: float


@dataclass(slots=True, eq=False)
class Net:
    """A wire that moves sideways in the channel: pins at `upper` and `lower` (two in all)."""

    thread: int
    upper: tuple[float, ...]
    lower: tuple[float, ...]
    y: float = 0.0
    level_after: Net | None = None
    """The first half of a wire that has to change its track on the way."""

    @property
    def low_x(self) -> float:
        return min(*self.upper, *self.lower)

    @property
    def high_x(self) -> float:
        return max(*self.upper, *self.lower)


def _cost(above: Net, below: Net) -> int:
    """Return what it costs to have one track above the other: crossings, or a conflict when two
    upright stretches would lie on each other."""
    found = 0
    for x in above.lower:
        if below.low_x < x < below.high_x:
            found += 1
        if x in below.upper:
            found += _CONFLICT
    for x in below.upper:
        if above.low_x < x < above.high_x:
            found += 1
    if below.level_after is above:
        found -= _CONFLICT * 10
    if above.level_after is below:
        found += _CONFLICT * 10
    return found


def _near(a: Net, b: Net) -> bool:
    return a.low_x - SIDE_MM < b.high_x + SIDE_MM and b.low_x - SIDE_MM < a.high_x + SIDE_MM


def order_tracks(nets: Sequence[Net], columns: Sequence[float]) -> list[Net]:
    """Return the nets from the uppermost track to the lowest, crossing as little as can be; a
    wire that could only be routed on top of another one is cut in two with a jog between.

    `columns` are the places of all pins, where no jog may be.
    """
    found = _sorted(list(nets))
    for _ in range(len(found)):
        clash = _clash(found)
        if clash is None:
            return found
        found.remove(clash)
        found = _sorted([*found, *_cut(clash, columns)])
    return found


def _sorted(nets: list[Net]) -> list[Net]:
    count = len(nets)
    if count < 2:
        return nets
    cost = [[_cost(a, b) if a is not b and _near(a, b) else 0 for b in nets] for a in nets]
    order: list[int] = []
    for index in range(count):  # insertion at the cheapest place
        best, least, now = 0, 0, sum(cost[index][other] for other in order)
        least = now
        for place, other in enumerate(order):
            now += cost[other][index] - cost[index][other]
            if now < least:
                best, least = place + 1, now
        order.insert(best, index)
    for _ in range(4):
        changed = False
        for index in list(order):
            start = order.index(index)
            order.remove(index)
            now = sum(cost[index][other] for other in order)
            values = [now]
            for other in order:
                now += cost[other][index] - cost[index][other]
                values.append(now)
            least = min(values)
            place = start if values[start] == least else values.index(least)
            changed = changed or place != start
            order.insert(place, index)
        if not changed:
            break
    return [nets[index] for index in order]


def _clash(order: Sequence[Net]) -> Net | None:
    for i, above in enumerate(order):
        for below in order[i + 1 :]:
            if _near(above, below) and _cost(above, below) >= _CONFLICT:
                return above if above.upper and above.lower else below
    return None


def _cut(net: Net, columns: Sequence[float]) -> list[Net]:
    """Return the two halves of a net that changes its track at a place free of pins."""
    if not (net.upper and net.lower):
        return [net]
    goal = net.lower[0]
    step = 0
    while True:
        step += 1
        for x in (goal - 2.5 * step, goal + 2.5 * step):
            if all(abs(x - other) > 2.0 for other in columns):
                first = Net(net.thread, net.upper, (x,))
                second = Net(net.thread, (x,), net.lower, level_after=first)
                return [first, second]


def set_levels(
    order: Sequence[Net], uppers: Sequence[Column], lowers: Sequence[Column], least: float
) -> float:
    """Set every track's y, each as high as it can be; return the height of the channel."""
    for index, net in enumerate(order):
        y = CLEAR_MM
        low, high = net.low_x - SIDE_MM, net.high_x + SIDE_MM
        for column in uppers:
            if column.x - column.left < high and column.x + column.right > low:
                crossed = net.low_x < column.x < net.high_x
                y = max(y, column.depth + (HOP_CLEAR_MM if crossed else CLEAR_MM))
        for before in order[:index]:
            if _near(before, net):
                y = max(y, before.y + TRACK_PITCH_MM)
        net.y = y
    height = least
    for column in uppers:
        height = max(height, column.depth)
    for net in order:
        height = max(height, net.y + CLEAR_MM)
    for column in lowers:
        left, right = column.x - column.left, column.x + column.right
        top = 0.0
        for net in order:
            if net.low_x - SIDE_MM < right and net.high_x + SIDE_MM > left:
                top = max(top, net.y + CLEAR_MM)
        for other in uppers:
            if other.x - other.left < right and other.x + other.right > left:
                top = max(top, other.depth)
        height = max(height, top + column.depth)
    return height
