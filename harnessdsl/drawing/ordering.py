"""The order of what stands in a row: as few crossings as can be found.

In one channel two wires must cross exactly when their ends alternate around the channel's rim
(upper row from left to right, lower row back from right to left). The count is exact, so the
search sees every change. It starts from barycentres and goes on by sifting: each item tries all
places in its row.
"""

from __future__ import annotations

import random
from collections.abc import Mapping

from harnessdsl.drawing.layering import Layers, Segment, Tip

_STRIDE = 64
"""Room for an item's ports between the positions of two neighbours."""
_STARTS = 8
_ROUNDS = 8
_WORK = 900
"""Starts times items: the more there is to sort, the fewer starts."""


def _alternating(rim: tuple[int, int], others: list[tuple[int, int]]) -> int:
    """Count the segments whose ends alternate with those of `rim`. Segments that share a port
    never cross: its pins can be put in the right order."""
    low, high = rim
    return sum(
        1 for a, b in others if (low < a < high) != (low < b < high) and not (a in rim or b in rim)
    )


def _is_special(segment: Segment) -> bool:
    """A segment between two items of one row, or up to a supply line."""
    return segment.b is None or segment.a.upper == segment.b.upper


class Order:
    """The rows of a component with positions, and the crossings that they cause."""

    def __init__(self, layers: Layers, port_rank: Mapping[tuple[int, int], int]) -> None:
        """`port_rank` gives for (element, port) its place among the ports of its side."""
        self.layers = layers
        self.position = [0] * len(layers.items)
        self._port_rank = port_rank
        self._by_channel: list[list[Segment]] = [[] for _ in range(len(layers.rows) + 1)]
        self._at: list[tuple[list[Segment], list[Segment]]] = [
            ([], []) for _ in range(len(layers.items))
        ]
        """Item -> segments in the channel above and in the one below."""
        for segment in layers.segments:
            self._by_channel[segment.channel].append(segment)
            for tip in dict.fromkeys((segment.a, segment.b)):
                if tip is not None:
                    mine = self._at[tip.item][1 if tip.upper else 0]
                    if not any(segment is other for other in mine):
                        mine.append(segment)
        self._offset: dict[int, int] = {}
        for segment in layers.segments:
            for tip in (segment.a, segment.b):
                if tip is not None:
                    self._offset[id(tip)] = self._tip_rank(tip)
        count = len(layers.items)
        self._plain: tuple[list[list[int]], list[list[int]]] = (
            [[] for _ in range(count)],
            [[] for _ in range(count)],
        )
        """Side -> item -> where its segments to the next row end there."""
        self._special = [
            any(_is_special(segment) for side in (0, 1) for segment in self._at[item][side])
            for item in range(count)
        ]
        self.number()

    def _tip_rank(self, tip: Tip) -> int:
        if tip.pin is None:
            return 0
        return self._port_rank[(tip.pin.element, tip.pin.port)]

    def number(self) -> None:
        for row in self.layers.rows:
            for place, item in enumerate(row):
                self.position[item] = place

    def _rim(self, segment: Segment) -> tuple[int, int]:
        """Return where the segment's two ends are on the channel's rim."""
        a = segment.a
        place = self.position[a.item] * _STRIDE + self._offset[id(a)] + 1
        first = place if a.upper else -place
        b = segment.b
        if b is None:  # straight up to the supply line
            return (first, place)
        place = self.position[b.item] * _STRIDE + self._offset[id(b)] + 1
        second = place if b.upper else -place
        return (first, second) if first < second else (second, first)

    def _pairs(self, some: list[Segment], others: list[Segment]) -> int:
        """Count the crossings between two groups of segments of one channel."""
        rims = [self._rim(segment) for segment in others]
        return sum(_alternating(self._rim(segment), rims) for segment in some)

    def crossings(self) -> int:
        """Return the crossings of all channels."""
        found = 0
        for segments in self._by_channel:
            rims = [self._rim(segment) for segment in segments]
            for i, rim in enumerate(rims):
                found += _alternating(rim, rims[i + 1 :])
        return found

    def crossed(self) -> set[int]:
        """Return the threads that take part in a crossing."""
        found: set[int] = set()
        for segments in self._by_channel:
            for i, one in enumerate(segments):
                for other in segments[i + 1 :]:
                    if self._pairs([one], [other]):
                        found.update((one.thread, other.thread))
        return found

    def _swap_gain(self, left: int, right: int) -> int:
        """Return how many crossings are saved when two neighbours change places."""
        gain = 0
        for side in (0, 1):
            mine, theirs = self._plain[side][left], self._plain[side][right]
            for far in mine:
                for other in theirs:
                    # they cross now when their far ends stand the other way round
                    if far > other:
                        gain += 1
                    elif far < other:
                        gain -= 1
        if self._special[left] or self._special[right]:
            gain += self._special_gain(left, right)
        return gain

    def _special_gain(self, left: int, right: int) -> int:
        """The same for pairs with a segment that does not cross its channel from row to row."""
        before = self._special_crossings(left, right)
        position = self.position
        position[left], position[right] = position[right], position[left]
        after = self._special_crossings(left, right)
        position[left], position[right] = position[right], position[left]
        return before - after

    def _special_crossings(self, left: int, right: int) -> int:
        found = 0
        for side in (0, 1):
            mine, theirs = self._at[left][side], self._at[right][side]
            odd = [segment for segment in mine if _is_special(segment)]
            if odd and theirs:
                found += self._pairs(odd, theirs)
            plain = [segment for segment in mine if not _is_special(segment)]
            odd = [segment for segment in theirs if _is_special(segment)]
            if odd and plain:
                found += self._pairs(plain, odd)
        return found

    def _look_around(self, row: list[int]) -> None:
        """Note where the far ends of a row's segments are: they stay while the row is sorted."""
        for item in row:
            for side in (0, 1):
                self._plain[side][item] = [
                    self._far_place(segment, item)
                    for segment in self._at[item][side]
                    if not _is_special(segment)
                ]

    def _far_place(self, segment: Segment, item: int) -> int:
        far = segment.b if segment.a.item == item else segment.a
        assert far is not None
        return self.position[far.item] * _STRIDE + self._offset[id(far)]

    def _reach(self, item: int) -> float:
        """Return how far the item is from what it is joined to, in places."""
        total = 0.0
        rows = self.layers.rows
        items = self.layers.items
        own = (self.position[item] + 0.5) / len(rows[items[item].row])
        for side in (0, 1):
            for segment in self._at[item][side]:
                far = segment.b if segment.a.item == item else segment.a
                if far is not None:
                    width = len(rows[items[far.item].row])
                    total += abs(own - (self.position[far.item] + 0.5) / width)
        return total

    def sift(self) -> int:
        """Let each item try every place of its row; return the crossings saved."""
        saved = 0
        for row in self.layers.rows:
            if len(row) < 2:
                continue
            self._look_around(row)
            for item in list(row):
                saved += self._sift_item(row, item)
        return saved

    def _sift_item(self, row: list[int], item: int) -> int:
        start = self.position[item]
        best, best_gain = start, 0
        for step in (-1, 1):
            gain = 0
            place = start
            while 0 <= place + step < len(row):
                other = row[place + step]
                pair = (other, item) if step < 0 else (item, other)
                gain += self._swap_gain(*pair)
                self._exchange(row, place, place + step)
                place += step
                if gain > best_gain:
                    best, best_gain = place, gain
            while place != start:
                self._exchange(row, place, place - step)
                place -= step
        step = 1 if best > start else -1
        for place in range(start, best, step):
            self._exchange(row, place, place + step)
        return best_gain

    def _exchange(self, row: list[int], i: int, j: int) -> None:
        row[i], row[j] = row[j], row[i]
        self.position[row[i]], self.position[row[j]] = i, j

    def barycentres(self, downwards: bool) -> None:
        """Order each row by the mean place of what its items are joined to in the row before."""
        rows = self.layers.rows
        for index in range(len(rows)) if downwards else range(len(rows) - 1, -1, -1):
            row = rows[index]
            side = 0 if downwards else 1
            key: dict[int, float] = {}
            for item in row:
                places: list[float] = []
                for segment in self._at[item][side]:
                    far = segment.b if segment.a.item == item else segment.a
                    if far is None:
                        continue
                    width = len(rows[self.layers.items[far.item].row])
                    places.append((self.position[far.item] + 0.5) / width)
                own = (self.position[item] + 0.5) / len(row)
                key[item] = sum(places) / len(places) if places else own
            row.sort(key=lambda item, key=key: (key[item], self.position[item]))  # type: ignore[misc]
            for place, item in enumerate(row):
                self.position[item] = place

    def straighten(self) -> None:
        """Exchange neighbours where that brings them nearer to what they are joined to and costs
        no crossing."""
        for _ in range(4):
            changed = False
            for row in self.layers.rows:
                self._look_around(row)
                for place in range(len(row) - 1):
                    left, right = row[place], row[place + 1]
                    before = self._reach(left) + self._reach(right)
                    if self._swap_gain(left, right) < 0:
                        continue
                    self._exchange(row, place, place + 1)
                    if self._reach(left) + self._reach(right) < before - 1e-9:
                        changed = True
                    else:
                        self._exchange(row, place, place + 1)
            if not changed:
                return

    def snapshot(self) -> list[list[int]]:
        return [list(row) for row in self.layers.rows]

    def restore(self, rows: list[list[int]]) -> None:
        for row, saved in zip(self.layers.rows, rows, strict=True):
            row[:] = saved
        self.number()

    def search(self) -> int:
        """Order all rows; return the crossings that are left. The random starts have a fixed
        seed, so that the same circuit is always drawn the same way; a large one has fewer."""
        starts = max(1, min(_STARTS, _WORK // (1 + len(self.layers.items))))
        generator = random.Random(12345)
        first = self.snapshot()
        best: list[list[int]] | None = None
        fewest = 0
        for attempt in range(starts):
            self.restore(first)
            if attempt:
                for row in self.layers.rows:
                    generator.shuffle(row)
                self.number()
            for _ in range(3):
                self.barycentres(True)
                self.barycentres(False)
            for _ in range(_ROUNDS):
                if not self.sift():
                    break
            left = self.crossings()
            if best is None or left < fewest:
                best, fewest = self.snapshot(), left
            if not fewest:
                break
        if best is not None:
            self.restore(best)
        self.straighten()
        return fewest
