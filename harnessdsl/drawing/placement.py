"""Where everything in a component's rows stands from left to right.

The order of each row is given. Positions are those with the least total sideways travel of all
wires, found exactly (network simplex), so that as many wires as can be come out straight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from harnessdsl.drawing.layering import Item, Layers, Segment, Tip
from harnessdsl.drawing.network_simplex import Arc, levels
from harnessdsl.drawing.sheet_graph import WIRE_SIDE_MM, Element, SheetGraph, arrange_pins, units

_WEIGHT_DUMMIES = 6
_WEIGHT_WIRE = 4
_WEIGHT_WIDTH = 1
_AIR_MM = 1.0


@dataclass(slots=True)
class Places:
    """The places of a component's items in grid units; the leftmost edge is near 0."""

    x: list[int]

    def tip(self, tip: Tip) -> int:
        """Return where a segment's end stands."""
        return self.x[tip.item] + (tip.pin.x if tip.pin is not None else 0)


def item_extent(graph: SheetGraph, item: Item) -> tuple[float, float]:
    """Return how far an item reaches to the left and to the right of its origin, in mm."""
    if item.element < 0:
        pin = graph.threads[item.thread].pins[0]
        sides = [bead.sides_mm(pin.turn) for bead in pin.far_beads if item.row == 0]
        return (
            max([WIRE_SIDE_MM, *(side[0] for side in sides)]),
            max([WIRE_SIDE_MM, *(side[1] for side in sides)]),
        )
    return element_extent(graph.elements[item.element])


def element_extent(element: Element) -> tuple[float, float]:
    left, right = element.left_mm, element.right_mm
    outer = 0.0
    for port in element.ports:
        for pin in port.pins:
            left = max(left, pin.left_mm - pin.x * 2.5)
            right = max(right, pin.right_mm + pin.x * 2.5)
            outer = max(outer, pin.x * 2.5)
    if element.block is None and element.name_text:
        right = max(right, outer + element.right_mm)
    return left, right


def arrange_all_pins(
    graph: SheetGraph, layers: Layers, position: Sequence[int], places: Places | None
) -> None:
    """Order the pins of all elements by where their threads go: by place where that is known,
    else by the order of the rows."""
    rank: dict[int, float] = {}
    for thread_index, chain in layers.chains.items():
        first, last = layers.segments[chain[0]], layers.segments[chain[-1]]
        rank[thread_index * 2] = _direction(layers, first, first.a, first.b, position, places)
        if last.b is not None:
            rank[thread_index * 2 + 1] = _direction(layers, last, last.b, last.a, position, places)
    for element_index, item in layers.of_element.items():
        element = graph.elements[element_index]
        own = _share(layers, item, position) if places is None else float(places.x[item])
        for port in element.ports:
            for pin in port.pins:
                key = pin.thread * 2 + pin.end
                if key not in rank:
                    rank[key] = 0.0 if places is None else own + port.x
        # a mark without a way of its own stands between what goes left and what goes right
        arrange_pins(element, rank)


_FAR = 1e6


def _share(layers: Layers, item: int, position: Sequence[int]) -> float:
    row = layers.rows[layers.items[item].row]
    return (position[item] + 0.5) / len(row)


def _direction(
    layers: Layers,
    segment: Segment,
    own: Tip,
    far: Tip | None,
    position: Sequence[int],
    places: Places | None,
) -> float:
    """Return a number that grows from left to right with where a pin's thread goes. A thread to
    the same side of the channel goes around those that it passes: nearest first to the left,
    farthest first to the right."""
    if far is None:
        return 0.0 if places is None else float(places.tip(own))
    if places is None:
        here, there = _share(layers, own.item, position), _share(layers, far.item, position)
        offset = there - here
    else:
        offset = float(places.tip(far) - places.tip(own))
    if far.upper == own.upper:
        if offset == 0.0 and far.pin is not None and own.pin is not None:
            offset = float(far.pin.x - own.pin.x)
        return (-_FAR - offset) if offset < 0 else (_FAR - offset)
    if places is None:
        return offset
    return float(places.tip(far))


def place_items(graph: SheetGraph, layers: Layers) -> Places:
    """Return places for all items such that neighbours keep their distance and the sideways
    travel of all segments is least."""
    extents = [item_extent(graph, item) for item in layers.items]
    count = len(layers.items)
    arcs: list[Arc] = []
    left_edge, right_edge = count, count + 1
    count += 2
    arcs.append((left_edge, right_edge, 0, _WEIGHT_WIDTH))
    for row in layers.rows:
        for near, far in pairwise(row):
            gap = units(extents[near][1] + extents[far][0] + _AIR_MM)
            dummies = layers.items[near].element < 0 and layers.items[far].element < 0
            arcs.append((near, far, max(gap, 2 if dummies else 1), 0))
        if row:
            arcs.append((left_edge, row[0], units(extents[row[0]][0]), 0))
            arcs.append((row[-1], right_edge, units(extents[row[-1]][1]), 0))
    for segment in layers.segments:
        a, b = segment.a, segment.b
        if b is None or a.item == b.item:
            continue
        weight = _WEIGHT_DUMMIES if a.pin is None and b.pin is None else _WEIGHT_WIRE
        helper = count
        count += 1
        # helper <= both ends; what the two ends are above it is their distance
        arcs.append((helper, a.item, -(a.pin.x if a.pin is not None else 0), weight))
        arcs.append((helper, b.item, -(b.pin.x if b.pin is not None else 0), weight))
    level = levels(count, arcs)
    return Places([level[index] - level[left_edge] for index in range(len(layers.items))])
