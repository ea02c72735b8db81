"""Chooses the columns of a block: which symbol stands where, counting crossings exactly.

A block is a few rows of symbols with a channel above, between and below them; channel c lies
above row c. All rows share numbered columns (slots), so that what is joined can stand in line.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

PITCH_MM = 6.0
"""Rough width of a slot, used only to weigh pins beside a symbol's first column."""

CROSSING = 3.0
LENGTH = 0.5
BEND = 0.4
TURNED_PORTS = 0.6
SLOT = 0.35
LINK_LENGTH = 0.25
LINK_OVER_SYMBOL = 2.5
LINK_OVER_WIRE = 0.3
LINK_FROM_THE_RIGHT = 0.7
TIE = 0.5
BLOCKED = 1000.0
"""Two nets that would lie on each other: never left in a block."""

MOST_TRIALS = 1500


@dataclass(frozen=True, slots=True)
class Item:
    """What matters of an element for its place: row, pins as (offset mm, net), links."""

    row: int
    tops: tuple[tuple[float, str], ...]
    bottoms: tuple[tuple[float, str], ...]
    links: tuple[str, ...] = ()
    drives: bool = False
    plain: bool = False
    tap_top: str = ""
    """A further port of this net above, without a symbol under it."""
    tap_bottom: str = ""


@dataclass(frozen=True, slots=True)
class Problem:
    items: tuple[Item, ...]
    rows: int
    top_ports: tuple[str, ...]
    """Nets with ports, in drawing order."""
    bottom_ports: tuple[str, ...]


Vertical = tuple[frozenset[float], frozenset[float]]
"""The places where a net enters a channel from above, and from below."""


def crossings_when_above(a: Vertical, b: Vertical) -> float:
    """Return how often nets a and b cross when a's track is above b's; BLOCKED when they would
    run on each other."""
    (up_a, down_a), (up_b, down_b) = a, b
    if up_b & down_a:
        return BLOCKED
    all_a, all_b = up_a | down_a, up_b | down_b
    low_a, high_a, low_b, high_b = min(all_a), max(all_a), min(all_b), max(all_b)
    return sum(low_b < x < high_b for x in down_a) + sum(low_a < x < high_a for x in up_b)


@lru_cache(maxsize=512)
def assign_slots(problem: Problem) -> tuple[int, ...]:
    """Return a slot for each item: local search from the given order, the same every time."""
    search = _Search(problem)
    search.improve()
    slots = search.slots
    if search.cost(slots) >= BLOCKED:
        # every item in a column of its own: nothing can lie on anything else
        slots = list(range(len(problem.items)))
    used = {slot: index for index, slot in enumerate(sorted(set(slots)))}
    return tuple(used[slot] for slot in slots)


class _Search:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.trials = 0
        self.slots = self._start()

    def _start(self) -> list[int]:
        """Symbols in the given order, lower rows under what feeds them; plain conductors then in
        a free place by their net, or in a new column next to it."""
        items = self.problem.items
        slots = [-1] * len(items)
        where: dict[str, list[int]] = {}
        for row in range(self.problem.rows):
            taken: set[int] = set()
            following = 0
            members = [i for i, item in enumerate(items) if item.row == row and not item.plain]
            for index in members:
                near = [s for _, net in items[index].tops for s in where.get(net, ())]
                slot = round(sum(near) / len(near)) if near else following
                while slot in taken:
                    slot += 1
                taken.add(slot)
                slots[index] = slot
                following = max(following, slot + 1)
            for index in members:
                for _, net in (*items[index].tops, *items[index].bottoms):
                    where.setdefault(net, []).append(slots[index])
        for index, item in enumerate(items):
            if item.plain:
                self._insert_plain(slots, index)
        return slots

    def _insert_plain(self, slots: list[int], index: int) -> None:
        items = self.problem.items
        item = items[index]
        net = item.tap_top or item.tap_bottom or item.tops[0][1]
        near = [
            slots[i]
            for i, other in enumerate(items)
            if slots[i] >= 0 and net in (pin for _, pin in (*other.tops, *other.bottoms))
        ]
        taken = {slots[i] for i, other in enumerate(items) if other.row == item.row}
        free = [slot for slot in dict.fromkeys(near) if slot not in taken]
        if free:
            slots[index] = free[0]
            return
        slot = max(near, default=max(slots)) + 1
        if slot in taken:
            for i, old in enumerate(slots):
                if old >= slot:
                    slots[i] = old + 1
        slots[index] = slot

    def improve(self) -> None:
        best = self.cost(self.slots)
        better = True
        while better and self.trials < MOST_TRIALS:
            better = False
            for candidate in self._neighbours():
                cost = self.cost(candidate)
                self.trials += 1
                if cost < best - 1e-9:
                    best, better = cost, True
                    self.slots = candidate
                    break
                if self.trials >= MOST_TRIALS:
                    break

    def _neighbours(self) -> Iterable[list[int]]:
        items, slots = self.problem.items, self.slots
        last = max(slots, default=0) + 1
        count = len(items)
        for left in range(last - 1):  # whole columns change places
            yield [left + 1 if s == left else left if s == left + 1 else s for s in slots]
        reach = last if count <= 8 else 2
        for index in range(count):
            row, old = items[index].row, slots[index]
            here = {slots[i]: i for i in range(count) if items[i].row == row}
            for slot in range(max(0, old - reach), min(last, old + reach) + 1):
                if slot == old:
                    continue
                moved = list(slots)
                moved[index] = slot
                if slot in here:
                    moved[here[slot]] = old
                    yield moved
                    # put in between: those from here on make room
                    moved = [
                        s + 1 if items[i].row == row and s >= slot else s
                        for i, s in enumerate(slots)
                    ]
                    moved[index] = slot
                yield moved
        for slot in range(last):  # a whole column moves to another place
            for target in range(last):
                if abs(target - slot) > 1:
                    yield [_shifted(s, slot, target) for s in slots]

    def cost(self, slots: list[int]) -> float:
        problem = self.problem
        total = SLOT * (len(set(slots)) + 0.2 * max(slots, default=0))
        channels: list[dict[str, tuple[set[float], set[float]]]] = [
            {} for _ in range(problem.rows + 1)
        ]
        for item, slot in zip(problem.items, slots, strict=True):
            for offset, net in item.tops:
                channels[item.row].setdefault(net, (set(), set()))[1].add(slot + offset / PITCH_MM)
            for offset, net in item.bottoms:
                entry = channels[item.row + 1].setdefault(net, (set(), set()))
                entry[0].add(slot + offset / PITCH_MM)
            if item.tap_top:
                channels[0].setdefault(item.tap_top, (set(), set()))[0].add(slot)
            if item.tap_bottom:
                channels[-1].setdefault(item.tap_bottom, (set(), set()))[1].add(slot)
        total += _port_order(channels[0], problem.top_ports, 0)
        total += _port_order(channels[-1], problem.bottom_ports, 1)
        for channel in channels:
            total += _channel_cost(channel)
        return total + self._links(slots)

    def _links(self, slots: list[int]) -> float:
        total = 0.0
        spans: dict[tuple[str, int], list[tuple[int, bool]]] = {}
        for item, slot in zip(self.problem.items, slots, strict=True):
            for key in item.links:
                spans.setdefault((key, item.row), []).append((slot, item.drives))
        firsts: dict[str, int] = {}
        for (key, row), found in spans.items():
            low, high = min(found)[0], max(found)[0]
            total += LINK_LENGTH * (high - low)
            drivers = [slot for slot, drives in found if drives]
            if drivers and min(drivers) != low:
                total += LINK_FROM_THE_RIGHT
            for slot in drivers:
                total += TIE * abs(firsts.setdefault(key, slot) - slot)
            for item, slot in zip(self.problem.items, slots, strict=True):
                if item.row == row and low < slot < high and key not in item.links:
                    total += LINK_OVER_WIRE if item.plain else LINK_OVER_SYMBOL
        return total


def _shifted(slot: int, source: int, target: int) -> int:
    if slot == source:
        return target
    if source < slot <= target:
        return slot - 1
    if target <= slot < source:
        return slot + 1
    return slot


def _port_order(
    channel: dict[str, tuple[set[float], set[float]]], nets: tuple[str, ...], side: int
) -> float:
    """Let each port rise from its net's first column; return the cost of ports out of order."""
    places: list[float] = []
    for net in nets:
        entry = channel.get(net)
        if entry is None:
            continue
        pins = entry[1 - side]
        if pins:
            entry[side].add(min(pins))
            places.append(min(pins))
    turned = sum(
        places[i] > places[j] for i in range(len(places)) for j in range(i + 1, len(places))
    )
    return TURNED_PORTS * turned


def _channel_cost(channel: dict[str, tuple[set[float], set[float]]]) -> float:
    total = 0.0
    nets: list[tuple[Vertical, float]] = []
    for ups, downs in channel.values():
        places = ups | downs
        if not places:
            continue
        length = max(places) - min(places)
        nets.append(((frozenset(ups), frozenset(downs)), length))
        if length:
            total += LENGTH * length + BEND
    for i, (a, length_a) in enumerate(nets):
        for b, length_b in nets[i + 1 :]:
            if length_a or length_b:
                total += CROSSING * min(crossings_when_above(a, b), crossings_when_above(b, a))
    return total
