"""Draws the connections in one channel of a block: a track for each net, dots where it forks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

from harnessdsl.drawing.compose.element import SOLID, line
from harnessdsl.drawing.compose.slots import BLOCKED, Vertical, crossings_when_above
from harnessdsl.drawing.scene import Circle, Shape

TRACK_MM = 1.8
DOT_MM = 0.5
_TRY_ALL = 6


@dataclass(frozen=True, slots=True)
class Channel:
    """Tracks by net (0 is the uppermost; straight nets have none) and how many there are."""

    nets: Mapping[str, Vertical]
    tracks: Mapping[str, int]
    count: int

    def height(self, least: float) -> float:
        """Return the room for the tracks in mm; `least` when there are none."""
        return least if self.count == 0 else self.count * TRACK_MM + least

    def shapes(self, top: float, bottom: float) -> list[Shape]:
        """Return the lines from the row above (y = top) to the row below (y = bottom)."""
        drawn: list[Shape] = []
        dots: list[Shape] = []
        pitch = (bottom - top) / (self.count + 1)
        for net, (ups, downs) in self.nets.items():
            if net not in self.tracks:
                drawn.extend(line((x, top), (x, bottom)) for x in sorted(ups & downs))
                continue
            y = top + pitch * (self.tracks[net] + 1)
            places = sorted(ups | downs)
            drawn.append(line((places[0], y), (places[-1], y)))
            drawn.extend(line((x, top), (x, y)) for x in sorted(ups))
            drawn.extend(line((x, y), (x, bottom)) for x in sorted(downs))
            for x in places:
                arms = (x in ups) + (x in downs) + (x > places[0]) + (x < places[-1])
                if arms > 2:
                    dots.append(Circle(x, y, DOT_MM, SOLID))
        return [*drawn, *dots]


def route(nets: Mapping[str, Vertical]) -> Channel:
    """Return the channel with tracks in the order that crosses least.

    Nets that cannot lie on each other share a track when they stand clear of one another.
    """
    tracked = [net for net, (ups, downs) in nets.items() if len(ups | downs) > 1]
    order = _best_order(nets, tracked)
    tracks: dict[str, int] = {}
    for place, net in enumerate(order):
        level = 0
        for earlier in order[:place]:
            if _touch(nets[net], nets[earlier]) or _must_be_under(nets, net, earlier):
                level = max(level, tracks[earlier] + 1)
        tracks[net] = level
    return Channel(dict(nets), tracks, max(tracks.values(), default=-1) + 1)


def _touch(a: Vertical, b: Vertical) -> bool:
    all_a, all_b = a[0] | a[1], b[0] | b[1]
    return min(all_a) <= max(all_b) and min(all_b) <= max(all_a)


def _must_be_under(nets: Mapping[str, Vertical], net: str, earlier: str) -> bool:
    return bool(nets[earlier][0] & nets[net][1])


def _order_cost(nets: Mapping[str, Vertical], order: Sequence[str]) -> float:
    return sum(
        crossings_when_above(nets[a], nets[b])
        for i, a in enumerate(order)
        for b in order[i + 1 :]
    )


def _best_order(nets: Mapping[str, Vertical], tracked: Sequence[str]) -> tuple[str, ...]:
    if len(tracked) <= 1:
        return tuple(tracked)

    def cost(tried: tuple[str, ...]) -> float:
        return _order_cost(nets, tried)

    if len(tracked) <= _TRY_ALL:
        return min(permutations(tracked), key=cost)
    order: list[str] = []
    for net in tracked:  # each is put where it crosses least
        trials = [(*order[:i], net, *order[i:]) for i in range(len(order) + 1)]
        best = min(trials, key=cost)
        order = list(best)
    better = True
    while better:
        better = False
        for i in range(len(order) - 1):
            swapped = [*order[:i], order[i + 1], order[i], *order[i + 2 :]]
            if _order_cost(nets, swapped) < _order_cost(nets, order):
                order, better = swapped, True
    return tuple(order)


def is_clear(nets: Mapping[str, Vertical]) -> bool:
    """Return whether some order of the tracks lets no net lie on another."""
    tracked = [net for net, (ups, downs) in nets.items() if len(ups | downs) > 1]
    return _order_cost(nets, _best_order(nets, tracked)) < BLOCKED
