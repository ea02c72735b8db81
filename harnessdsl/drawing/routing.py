"""The course of every wire of a component, and where its beads and marks lie on it.

Rows and channels alternate from the top: channel 0 (to the supply lines), row 0, channel 1, ...
and a last channel (to earth). x in millimetres from the component's left edge, y from the top of
channel 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from harnessdsl.drawing.beads import Bead
from harnessdsl.drawing.block import GRID_MM
from harnessdsl.drawing.channel import Column, Net, order_tracks, set_levels
from harnessdsl.drawing.layering import Layers, Segment, Tip
from harnessdsl.drawing.placement import Places
from harnessdsl.drawing.scene import Point
from harnessdsl.drawing.sheet_graph import MarkKind, Pin, SheetGraph, Thread

BAR_MM = 1.6
"""From a terminal to the bar that joins several wires on it, and from bar to bar."""
LEAD_MM = 0.6
"""Bare wire between a terminal and the first bead."""
BEAD_AIR_MM = 0.6
ROW_AIR_MM = 2.0
"""The least height of a channel."""


@dataclass(frozen=True, slots=True)
class PlacedBead:
    """A bead's middle on its wire; `downwards` when the thread runs down there."""

    bead: Bead
    x: float
    y: float
    downwards: bool


@dataclass(slots=True)
class Course:
    """The way of one thread: its corners from the first pin to its end."""

    thread: Thread
    points: list[Point]
    beads: list[PlacedBead] = field(default_factory=list)
    to_rail: bool = False
    """It goes straight up from its last point to the supply line."""
    name_bead: Bead | None = None
    """Written beside the upper end at the supply line."""


@dataclass(slots=True)
class Routed:
    """A component with all its places in millimetres."""

    width_mm: float
    channels: list[float]
    """Heights of the channels."""
    rows: list[float]
    router: _Router
    tracks: dict[int, list[Net]]
    element_at: dict[int, Point] = field(default_factory=dict)
    """Element -> its origin."""
    courses: list[Course] = field(default_factory=list)
    height_mm: float = 0.0

    def settle(self) -> None:
        """Work out all places from the heights of channels, which may have been raised."""
        _settle(self.router, self, self.tracks)


@dataclass(slots=True)
class _Router:
    graph: SheetGraph
    layers: Layers
    places: Places
    left_mm: float
    row_height: list[float] = field(default_factory=list)
    shift: dict[int, float] = field(default_factory=dict)
    """Element -> its origin's distance from the top of its row."""
    pin_at: dict[int, Pin] = field(default_factory=dict)
    mode: dict[int, str] = field(default_factory=dict)
    """Thread -> where its beads lie: at its `first` pin, its `last` one, `split` between both,
    or in the row of a `dummy`."""
    dummy_of: dict[int, int] = field(default_factory=dict)
    """Thread with its beads on a dummy -> the item."""

    def x(self, tip: Tip) -> float:
        return self.places.tip(tip) * GRID_MM + self.left_mm

    def pin_x(self, pin: Pin) -> float:
        item = self.layers.of_element[pin.element]
        return (self.places.x[item] + pin.x) * GRID_MM + self.left_mm

    def measure_rows(self) -> None:
        for row in self.layers.rows:
            elements = [
                self.graph.elements[self.layers.items[item].element]
                for item in row
                if self.layers.items[item].element >= 0
            ]
            height = max((e.top_mm + e.bottom_mm for e in elements), default=0.0)
            self.row_height.append(height)
            for element in elements:
                if element.block is None:
                    self.shift[element.index] = height / 2
                else:
                    self.shift[element.index] = element.top_mm

    def start(self, pin: Pin) -> float:
        """Return where a pin's wire begins, measured from its row's edge into the channel."""
        element = self.graph.elements[pin.element]
        row = self.layers.items[self.layers.of_element[pin.element]].row
        port = element.ports[pin.port]
        bar = 0.0
        if element.block is not None and [p.x for p in port.pins] != [port.x]:
            bar = pin.bar_level * BAR_MM
        y = self.shift[pin.element] + port.y_mm
        return (y - self.row_height[row] if pin.side == "bottom" else -y) + bar

    def beads_at(self, thread: Thread, pin: Pin) -> list[Bead]:
        """Return the beads that lie in front of a pin, from the pin outwards."""
        beads = [bead for bead in thread.beads if bead.kind != "name"]
        if thread.pins[1] is None:
            return [] if thread.index in self.dummy_of else beads
        mode = self.mode.get(thread.index, "first")
        if mode == "dummy":
            return []
        cut = len(beads)
        if mode == "last":
            cut = 0
        elif mode == "split":
            cut = next((i + 1 for i, bead in enumerate(beads) if bead.kind == "plug"), len(beads))
        return beads[:cut] if pin.end == 0 else beads[cut:][::-1]

    def depth(self, thread: Thread, pin: Pin) -> float:
        """Return how deep into the channel a pin's own room reaches."""
        depth = self.start(pin) + LEAD_MM
        beads = self.beads_at(thread, pin)
        depth += sum(bead.length_mm for bead in beads) + BEAD_AIR_MM * len(beads)
        mark = self.local_mark(thread)
        if mark is not None:
            depth += mark
        return depth

    def local_mark(self, thread: Thread) -> float | None:
        """Return the length of the mark that stands at a stub's own end; None for a link and for
        a thread that goes up to its supply line."""
        if thread.mark is None or thread.index in self.layers.chains:
            return None
        if thread.mark.kind is MarkKind.EARTH and self.drops_free(thread.pins[0]):
            return LEAD_MM
        return thread.mark.length_mm

    def drops_free(self, pin: Pin) -> bool:
        """Whether a wire can go straight down from a pin to the earth line: nothing is below."""
        row = self.layers.items[self.layers.of_element[pin.element]].row
        last = len(self.layers.rows)
        if pin.side != "bottom" or row != last - 1:
            return False
        return not any(segment.channel == last for segment in self.layers.segments)

    def choose_dummies(self) -> None:
        """Let the beads of a wire that passes a row lie in that row where they fit."""
        for thread_index, chain in self.layers.chains.items():
            thread = self.graph.threads[thread_index]
            if len(chain) > 1 and thread.pins[1] is not None:
                self.mode[thread_index] = self.mode_for(thread_index, "upper")
            need = sum(b.length_mm + BEAD_AIR_MM for b in thread.beads if b.kind != "name")
            if not need:
                continue
            for number in chain[1:]:
                item = self.layers.segments[number].a.item
                if self.row_height[self.layers.items[item].row] >= need:
                    self.mode[thread_index] = "dummy"
                    self.dummy_of[thread_index] = item
                    break

    def columns(self, channel: int) -> tuple[list[Column], list[Column]]:
        """Return the rooms in front of the pins above and below a channel."""
        found: tuple[list[Column], list[Column]] = ([], [])
        for row, side, into in ((channel - 1, "bottom", 0), (channel, "top", 1)):
            if not 0 <= row < len(self.layers.rows):
                continue
            for item in self.layers.rows[row]:
                index = self.layers.items[item].element
                if index < 0:
                    thread = self.graph.threads[self.layers.items[item].thread]
                    pin = thread.pins[0]
                    x = self.places.x[item] * GRID_MM + self.left_mm
                    found[into].append(Column(x, pin.left_mm, pin.right_mm, 0.0))
                    continue
                for port in self.graph.elements[index].ports:
                    if port.side != side:
                        continue
                    for pin in port.pins:
                        depth = self.depth(self.graph.threads[pin.thread], pin)
                        found[into].append(
                            Column(self.pin_x(pin), pin.left_mm, pin.right_mm, depth)
                        )
        if channel == 0:
            for segment in self.layers.segments:
                if segment.b is None:
                    names = [
                        bead
                        for bead in self.graph.threads[segment.thread].beads
                        if bead.kind == "name"
                    ]
                    depth = sum(bead.length_mm for bead in names) + LEAD_MM
                    left = max((bead.left_mm for bead in names), default=1.0)
                    right = max((bead.right_mm for bead in names), default=1.0)
                    found[0].append(Column(self.x(segment.a), left, right, depth))
        return found

    def nets(self, channel: int) -> list[tuple[Segment, Net]]:
        found: list[tuple[Segment, Net]] = []
        for segment in self.layers.segments:
            if segment.channel != channel or segment.b is None:
                continue
            a, b = segment.a, segment.b
            if a.upper != b.upper and self.places.tip(a) == self.places.tip(b):
                continue
            upper = tuple(self.x(tip) for tip in (a, b) if tip.upper)
            lower = tuple(self.x(tip) for tip in (a, b) if not tip.upper)
            found.append((segment, Net(segment.thread, upper, lower)))
        return found

    def route_channel(self, channel: int) -> tuple[float, dict[int, list[Net]]]:
        """Return the channel's height and the tracks of each segment (by identity), having
        chosen where the beads lie so that the channel is as low as can be."""
        pairs = self.nets(channel)
        singles = [
            chain[0]
            for chain in self.layers.chains.values()
            if len(chain) == 1 and self.layers.segments[chain[0]].channel == channel
        ]
        threads = [
            self.layers.segments[number].thread
            for number in singles
            if self.layers.segments[number].b is not None
        ]
        best: tuple[float, str] | None = None
        pins = [column.x for group in self.columns(channel) for column in group]
        order = order_tracks([net for _, net in pairs], pins)
        for mode in ("upper", "lower", "split"):
            for thread in threads:
                self.mode[thread] = self.mode_for(thread, mode)
            uppers, lowers = self.columns(channel)
            height = set_levels(order, uppers, lowers, ROW_AIR_MM)
            if best is None or height < best[0] - 1e-6:
                best = (height, mode)
            if not threads:
                break
        assert best is not None
        for thread in threads:
            self.mode[thread] = self.mode_for(thread, best[1])
        uppers, lowers = self.columns(channel)
        height = set_levels(order, uppers, lowers, ROW_AIR_MM)
        tracks: dict[int, list[Net]] = {}
        for segment, _ in pairs:
            mine = [net for net in order if net.thread == segment.thread]
            mine.sort(key=lambda net: net.level_after is not None)
            tracks[id(segment)] = mine if segment.a.upper else mine[::-1]
        return height, tracks

    def mode_for(self, thread: int, mode: str) -> str:
        """Return `upper` and `lower` as seen from the thread's first pin."""
        first = self.graph.threads[thread].pins[0]
        if mode == "split":
            return mode
        return "first" if (first.side == "bottom") == (mode == "upper") else "last"


def route(
    graph: SheetGraph,
    layers: Layers,
    places: Places,
    extents: Sequence[tuple[float, float]],
) -> Routed:
    """Return the component with every wire's course; `extents` are how far each item reaches to
    its left and right, in mm."""
    left = min(places.x[i] * GRID_MM - extents[i][0] for i in range(len(layers.items)))
    right = max(places.x[i] * GRID_MM + extents[i][1] for i in range(len(layers.items)))
    router = _Router(graph, layers, places, -left)
    router.measure_rows()
    router.choose_dummies()
    heights: list[float] = []
    tracks: dict[int, list[Net]] = {}
    for channel in range(len(layers.rows) + 1):
        height, found = router.route_channel(channel)
        heights.append(height)
        tracks.update(found)
    routed = Routed(right - left, heights, router.row_height, router=router, tracks=tracks)
    routed.settle()
    return routed


def _settle(router: _Router, routed: Routed, tracks: dict[int, list[Net]]) -> None:
    """Turn levels into points, with the heights as they now are."""
    routed.courses.clear()
    graph, layers = router.graph, router.layers
    channel_top: list[float] = []
    row_top: list[float] = []
    y = 0.0
    for index, height in enumerate(routed.channels):
        channel_top.append(y)
        y += height
        if index < len(routed.rows):
            row_top.append(y)
            y += routed.rows[index]
    routed.height_mm = y

    def pin_point(pin: Pin) -> Point:
        item = layers.items[layers.of_element[pin.element]]
        edge = row_top[item.row]
        start = router.start(pin)
        if pin.side == "bottom":
            return (router.pin_x(pin), edge + routed.rows[item.row] + start)
        return (router.pin_x(pin), edge - start)

    for element_index, item_index in layers.of_element.items():
        item = layers.items[item_index]
        x = router.places.x[item_index] * GRID_MM + router.left_mm
        routed.element_at[element_index] = (x, row_top[item.row] + router.shift[element_index])
    members = set(layers.of_element)
    for thread in graph.threads:
        first, second = thread.pins
        if first.element not in members:
            continue
        points = [pin_point(first)]
        chain = layers.chains.get(thread.index, [])
        for number in chain:
            segment = layers.segments[number]
            top = channel_top[segment.channel]
            for net in tracks.get(id(segment), ()):
                here = points[-1][0]
                ends = [*net.upper, *net.lower]
                ends.remove(min(ends, key=lambda end: abs(end - here)))
                points.append((here, top + net.y))
                points.append((ends[0], top + net.y))
        course = Course(thread, points)
        if second is not None:
            points.append(pin_point(second))
        elif chain:
            course.to_rail = True
            course.name_bead = next((b for b in thread.beads if b.kind == "name"), None)
        _place_beads(router, course, first, second, row_top, routed)
        if second is None and not chain:
            down = first.side == "bottom"
            length = sum(b.length_mm + BEAD_AIR_MM for b in thread.beads if b.kind != "name")
            if thread.strand is not None or thread.mark is None:
                length += LEAD_MM
            end = points[0][1] + (length if down else -length)
            points.append((points[0][0], end))
        routed.courses.append(course)


def _place_beads(
    router: _Router,
    course: Course,
    first: Pin,
    second: Pin | None,
    row_top: list[float],
    routed: Routed,
) -> None:
    thread = course.thread
    if thread.index in router.dummy_of:
        item = router.layers.items[router.dummy_of[thread.index]]
        x = router.places.x[item.index] * GRID_MM + router.left_mm
        beads = [bead for bead in thread.beads if bead.kind != "name"]
        total = sum(bead.length_mm + BEAD_AIR_MM for bead in beads)
        down = _runs_down(router, thread, item.index)
        y = row_top[item.row] + (routed.rows[item.row] - total) / 2
        for bead in beads if down else beads[::-1]:
            length = bead.length_mm + BEAD_AIR_MM
            course.beads.append(PlacedBead(bead, x, y + length / 2, down))
            y += length
        return
    for pin in (first, second):
        if pin is None:
            continue
        x, y = course.points[0] if pin.end == 0 else course.points[-1]
        away = 1.0 if pin.side == "bottom" else -1.0
        along = LEAD_MM
        for bead in router.beads_at(thread, pin):
            length = bead.length_mm + BEAD_AIR_MM
            middle = y + away * (along + length / 2)
            down = (away > 0) == (pin.end == 0)
            course.beads.append(PlacedBead(bead, x, middle, down))
            along += length


def _runs_down(router: _Router, thread: Thread, item: int) -> bool:
    """Whether the thread passes a dummy from above."""
    for number in router.layers.chains[thread.index]:
        segment = router.layers.segments[number]
        if segment.b is not None and segment.b.item == item and segment.b.pin is None:
            return not segment.b.upper
    return True
