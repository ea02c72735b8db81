"""Which row each element stands in, and the way of every link through the rows.

Rows are numbered from the top; channel c is the room above row c. A link leaves a top port into
the channel above its row and a bottom port into the one below, so between two neighbouring rows
it stays in one channel, and further on it passes the rows between as a dummy of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from harnessdsl.drawing.network_simplex import Arc, drop_cycles, levels
from harnessdsl.drawing.sheet_graph import MarkKind, Pin, SheetGraph, Thread

_RAIL_PULL = 4
"""How much stronger a supply line pulls its parts to the first row than a wire its two ends."""


@dataclass(slots=True)
class Item:
    """What stands in a row: an element, or the passage of a thread (a dummy)."""

    index: int
    row: int
    element: int = -1
    thread: int = -1


@dataclass(frozen=True, slots=True)
class Tip:
    """One end of a segment: the item, its pin (None on a dummy), and whether the item is in the
    row above the channel (`upper`) or below it."""

    item: int
    pin: Pin | None
    upper: bool


@dataclass(frozen=True, slots=True)
class Segment:
    """A thread's way through one channel, in the thread's direction. `b` is None where the
    thread goes up to a supply line."""

    thread: int
    channel: int
    a: Tip
    b: Tip | None


@dataclass(slots=True)
class Layers:
    """The rows of one component and the segments between them."""

    items: list[Item] = field(default_factory=list)
    rows: list[list[int]] = field(default_factory=list)
    """Items by row, in their order from left to right."""
    segments: list[Segment] = field(default_factory=list)
    of_element: dict[int, int] = field(default_factory=dict)
    """Element -> its item."""
    chains: dict[int, list[int]] = field(default_factory=dict)
    """Thread -> its segments, in the thread's direction."""


def rows_of(graph: SheetGraph, members: Sequence[int]) -> dict[int, int]:
    """Return the row of each element: current flows down every link as far as the circuit has a
    direction, with the least total length, parts on a supply line drawn to the top."""
    number = {element: index for index, element in enumerate(members)}
    top = len(members)
    count = top + 1
    down: list[Arc] = []
    for _, p, q in graph.links():
        if p.element not in number or p.element == q.element or p.side == q.side:
            continue
        upper, lower = (p, q) if p.side == "bottom" else (q, p)
        down.append((number[upper.element], number[lower.element], 1, 2))
    arcs = drop_cycles(count, down)
    arcs.extend((top, index, 0, 0) for index in range(top))
    for thread in graph.threads:
        pin = thread.pins[0]
        if pin.element not in number:
            continue
        if thread.mark is not None and thread.mark.kind is MarkKind.RAIL and pin.side == "top":
            arcs.append((top, number[pin.element], 0, _RAIL_PULL))
    for _, p, q in graph.links():
        if p.element not in number or p.element == q.element or p.side != q.side:
            continue
        # both leave upwards (or both downwards): as near to one row as may be
        helper = count
        count += 1
        for pin in (p, q):
            near = number[pin.element]
            arcs.append((helper, near, 0, 1) if p.side == "top" else (near, helper, 0, 1))
    level = levels(count, arcs)
    lowest = min(level[index] for index in range(top))
    return {element: level[number[element]] - lowest for element in members}


def build_layers(
    graph: SheetGraph, members: Sequence[int], row: dict[int, int], local: frozenset[int]
) -> Layers:
    """Return rows and segments of a component. Threads in `local` do not go up to their supply
    line but end at its name beside the part."""
    layers = Layers(rows=[[] for _ in range(1 + max(row[element] for element in members))])

    def add(item: Item) -> int:
        layers.items.append(item)
        layers.rows[item.row].append(item.index)
        return item.index

    for element in members:
        layers.of_element[element] = add(Item(len(layers.items), row[element], element))
    inside = set(members)

    def tip(pin: Pin) -> Tip:
        return Tip(layers.of_element[pin.element], pin, pin.side == "bottom")

    def channel(pin: Pin) -> int:
        return row[pin.element] + (pin.side == "bottom")

    def chain(thread: Thread, start: Tip, here: int, there: int, end: Tip | None) -> None:
        found: list[int] = []
        near = start
        step = 1 if there > here else -1
        while here != there:
            passed = here if step > 0 else here - 1
            dummy = add(Item(len(layers.items), passed, thread=thread.index))
            found.append(len(layers.segments))
            far = Tip(dummy, None, upper=step < 0)
            layers.segments.append(Segment(thread.index, here, near, far))
            near = Tip(dummy, None, upper=step > 0)
            here += step
        found.append(len(layers.segments))
        layers.segments.append(Segment(thread.index, here, near, end))
        layers.chains[thread.index] = found

    for thread in graph.threads:
        first, second = thread.pins
        if first.element not in inside:
            continue
        if second is not None:
            chain(thread, tip(first), channel(first), channel(second), tip(second))
        elif (
            thread.mark is not None
            and thread.mark.kind is MarkKind.RAIL
            and first.side == "top"
            and thread.index not in local
            and (thread.strand is not None or row[first.element] == 0)
        ):
            chain(thread, tip(first), channel(first), 0, None)
    return layers
