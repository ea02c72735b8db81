"""The course of every wire of a component, and where its beads and marks lie on it.

Rows and channels alternate from the top: channel 0 (to the supply lines), row 0, channel 1, ...
and a last channel (to earth). x in millimetres from the component's left edge, y from the top of
channel 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from harnessdsl.drawing.beads import Bead, Turn
from harnessdsl.drawing.block import GRID_MM
from harnessdsl.drawing.channel import Column, Net, order_tracks, set_levels
from harnessdsl.drawing.layering import Layers, Segment, Tip
from harnessdsl.drawing.placement import Places
from harnessdsl.drawing.scene import Point
from harnessdsl.drawing.sheet_graph import WIRE_SIDE_MM, MarkKind, Pin, SheetGraph, Thread

BAR_MM = 1.6
"""From a terminal to the bar that joins several wires on it, and from bar to bar."""
LEAD_MM = 0.6
"""Bare wire between a terminal and the first bead."""
JUNCTION_LEAD_MM = 1.5
"""The same at a junction, whose name stands beside its dot."""
ROW_AIR_MM = 2.0
"""The least height of a channel."""


@dataclass(frozen=True, slots=True)
class PlacedBead:
    """A bead's middle on its wire; `downwards` when the thread runs down there."""

    bead: Bead
    x: float
    y: float
    downwards: bool
    turn: Turn


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

    def depth(self, thread: Thread, pin: Pin) -> float:
        """Return how deep into the channel a pin's own room reaches."""
        depth = self.start(pin) + self.lead(pin) + pin.beads_mm
        mark = self.local_mark(thread) if pin.end == 0 else None
        if mark is not None:
            depth += mark
        return depth

    def lead(self, pin: Pin) -> float:
        """Return the bare wire between a pin and what is strung in front of it."""
        block = self.graph.elements[pin.element].block
        thread = self.graph.threads[pin.thread]
        if block is None:
            return JUNCTION_LEAD_MM
        return LEAD_MM if thread.strand is not None else 0.0

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

    def columns(self, channel: int) -> tuple[list[Column], list[Column]]:
        """Return the rooms in front of the pins above and below a channel."""
        found: tuple[list[Column], list[Column]] = ([], [])
        for row, side, into in ((channel - 1, "bottom", 0), (channel, "top", 1)):
            if not 0 <= row < len(self.layers.rows):
                continue
            for item in self.layers.rows[row]:
                index = self.layers.items[item].element
                if index < 0:
                    x = self.places.x[item] * GRID_MM + self.left_mm
                    found[into].append(Column(x, WIRE_SIDE_MM, WIRE_SIDE_MM, 0.0))
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
                    turn = self.graph.threads[segment.thread].pins[0].turn
                    depth = sum(bead.length_mm(turn) for bead in names) + LEAD_MM
                    sides = [bead.sides_mm(turn) for bead in names]
                    left = max([WIRE_SIDE_MM, *(side[0] for side in sides)])
                    right = max([WIRE_SIDE_MM, *(side[1] for side in sides)])
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
        """Return the channel's height and the tracks of each segment (by identity)."""
        pairs = self.nets(channel)
        uppers, lowers = self.columns(channel)
        pins = [column.x for group in (uppers, lowers) for column in group]
        order = order_tracks([net for _, net in pairs], pins)
        height = set_levels(order, uppers, lowers, ROW_AIR_MM)
        tracks: dict[int, list[Net]] = {}
        for segment, _ in pairs:
            mine = [net for net in order if net.thread == segment.thread]
            mine.sort(key=lambda net: net.level_after is not None)
            tracks[id(segment)] = mine if segment.a.upper else mine[::-1]
        return height, tracks


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
        for pin in (first, second):
            if pin is not None:
                _place_beads(course, pin, router.lead(pin))
        if second is None and not chain:
            down = first.side == "bottom"
            length = router.lead(first) + first.beads_mm
            end = points[0][1] + (length if down else -length)
            points.append((points[0][0], end))
        routed.courses.append(course)


def _place_beads(course: Course, pin: Pin, lead: float) -> None:
    """Place what is strung in front of a pin, from the pin outwards."""
    x, y = course.points[0] if pin.end == 0 else course.points[-1]
    away = 1.0 if pin.side == "bottom" else -1.0
    along = lead
    for bead in pin.beads:
        length = bead.length_mm(pin.turn)
        middle = y + away * (along + length / 2)
        down = (away > 0) == (pin.end == 0)
        course.beads.append(PlacedBead(bead, x, middle, down, pin.turn))
        along += length
