"""One sheet as a graph that can be laid out: elements with ports, and threads between them.

An element is a block, or a junction (a point where wires meet). A thread is a strand that hangs
between two ports (a link) or on one port with a mark at its free end (a stub). Only links take
part in ranking and ordering; a stub needs nothing but room in front of its port.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from itertools import pairwise
from typing import Literal

from harnessdsl.drawing.beads import Bead, Turn
from harnessdsl.drawing.block import GRID_MM, Block
from harnessdsl.drawing.strands import Strand

Side = Literal["top", "bottom"]
WIRE_SIDE_MM = 1.0
"""Half of a wire and some air."""


class MarkKind(Enum):
    """What a stub ends at."""

    RAIL = "rail"
    """The supply line at the top of the sheet, when the way is free; else its name."""
    LINE = "line"
    """The name of a supply line, beside the part that feeds it."""
    EARTH = "earth"
    REFERENCE = "reference"
    LOOSE = "loose"


@dataclass(frozen=True, slots=True)
class EndMark:
    """The free end of a stub, with the room that it takes beyond the wire's end."""

    kind: MarkKind
    node: str
    """The node at the wire's end."""
    text: str
    """What the mark says; for a reference the widest text that it may have to say."""
    length_mm: float = 0.0
    left_mm: float = 0.0
    right_mm: float = 0.0
    sheets: tuple[tuple[int, ...], ...] = ()
    """The sheets that a reference points to."""


@dataclass(slots=True, eq=False)
class Port:
    """A terminal of an element: where it is, and the pins that stand in front of it."""

    node: str
    terminal: str
    side: Side
    x: int
    """In grid units from the element's origin."""
    y_mm: float
    pins: list[Pin] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class Pin:
    """The place of one thread's end in front of a port."""

    element: int
    port: int
    thread: int
    end: Literal[0, 1]
    side: Side
    x: int = 0
    """In grid units from the element's origin."""
    bar_level: int = 0
    beads: tuple[Bead, ...] = ()
    """What is strung on the wire in front of this pin, from the pin outwards."""
    value: Bead | None = None
    """What a state of the vehicle adds at this terminal."""
    far_beads: tuple[Bead, ...] = ()
    """What stands at the far end of a wire that goes straight up to a supply line."""
    turn: Turn = "right"
    weight: int = 1
    """How much it matters that the pin stands straight in front of its port."""
    mark_mm: tuple[float, float] = (0.0, 0.0)
    """How far the mark at the end of a stub reaches to the left and to the right."""

    def sides_mm(self, turn: Turn) -> tuple[float, float]:
        """Return the room to both sides with the texts turned that way."""
        sides = [bead.sides_mm(turn) for bead in (*self.beads, *self.far_beads)]
        left = max([WIRE_SIDE_MM, self.mark_mm[0], *(side[0] for side in sides)])
        right = max([WIRE_SIDE_MM, self.mark_mm[1], *(side[1] for side in sides)])
        return left, right

    @property
    def left_mm(self) -> float:
        return self.sides_mm(self.turn)[0]

    @property
    def right_mm(self) -> float:
        return self.sides_mm(self.turn)[1]

    @property
    def beads_mm(self) -> float:
        return sum(bead.length_mm(self.turn) for bead in self.beads)


@dataclass(frozen=True, slots=True)
class Note:
    """A line beside a symbol: a text, or the sheets that draw the rest of the part. (x, y) is the
    left end of its base line from the block's origin."""

    x: float
    y: float
    text: str = ""
    sheets: tuple[tuple[int, ...], ...] = ()


@dataclass(slots=True, eq=False)
class Element:
    """A block or a junction; lengths in millimetres from its origin."""

    index: int
    node: str
    """For a junction; '' for a block."""
    block: Block | None
    ports: list[Port]
    name_text: str = ""
    """What a junction is called."""
    left_mm: float = 0.0
    right_mm: float = 0.0
    top_mm: float = 0.0
    bottom_mm: float = 0.0
    notes: list[Note] = field(default_factory=list)
    """Lines beside a block's own caption."""
    bar_levels: dict[str, int] = field(default_factory=dict)
    """Side -> how many levels of bars stand in front of it."""

    def side_ports(self, side: Side) -> list[Port]:
        return [port for port in self.ports if port.side == side]

    def side_pins(self, side: Side) -> list[Pin]:
        return [pin for port in self.side_ports(side) for pin in port.pins]


@dataclass(slots=True, eq=False)
class Thread:
    """A link between two pins, or a stub on one (`pins[1]` is None, `mark` is set).

    Beads stand in the order from the first pin on. `strand` runs in the same direction; it is
    None for a mark without a wire.
    """

    index: int
    strand: Strand | None
    pins: tuple[Pin, Pin | None]
    beads: list[Bead]
    mark: EndMark | None = None

    @property
    def is_link(self) -> bool:
        return self.pins[1] is not None


@dataclass(slots=True)
class SheetGraph:
    """Elements and threads of one sheet."""

    elements: list[Element] = field(default_factory=list)
    threads: list[Thread] = field(default_factory=list)

    def links(self) -> Iterator[tuple[Thread, Pin, Pin]]:
        for thread in self.threads:
            first, second = thread.pins
            if second is not None:
                yield thread, first, second

    def components(self) -> list[list[int]]:
        """Return the elements that hang together by links, in the order of their first one."""
        near: dict[int, list[int]] = {element.index: [] for element in self.elements}
        for _, first, second in self.links():
            near[first.element].append(second.element)
            near[second.element].append(first.element)
        found: list[list[int]] = []
        seen: set[int] = set()
        for element in self.elements:
            if element.index in seen:
                continue
            group = [element.index]
            seen.add(element.index)
            for index in group:
                for far in near[index]:
                    if far not in seen:
                        seen.add(far)
                        group.append(far)
            found.append(sorted(group))
        return found


def units(length_mm: float) -> int:
    """Return the grid units that a length needs, rounded up."""
    return -int(-(length_mm - 1e-6) // GRID_MM)


def arrange_pins(element: Element, rank_of: Mapping[int, float]) -> None:
    """Give every pin of an element its place: pins of one port side by side in the order of
    `rank_of` (thread index * 2 + end -> where it goes, from left to right), as near to their
    port as their widths allow, and the bars that join them to the port on levels such that none
    crosses another."""
    sides: tuple[Side, Side] = ("top", "bottom")
    for side in sides:
        ports = element.side_ports(side)
        pins: list[tuple[Pin, int]] = []
        for port in ports:
            port.pins.sort(
                key=lambda pin: (rank_of.get(pin.thread * 2 + pin.end, 0.0), pin.thread, pin.end)
            )
            pins.extend((pin, port.x) for pin in port.pins)
        if pins:
            turn_beads([pin for pin, _ in pins], [place * GRID_MM for _, place in pins])
            places = spread([target for _, target in pins], [pin for pin, _ in pins])
            for (pin, _), place in zip(pins, places, strict=True):
                pin.x = place
        element.bar_levels[side] = _bar_levels(ports) if element.block is not None else 0


def turn_beads(pins: Sequence[Pin], port_x: Sequence[float]) -> None:
    """Choose how the texts in front of neighbouring pins are turned: level where there is room,
    which pins of one port can make by moving apart, else upright."""
    used_to = -1e9  # how far the room to the left is taken
    last = len(pins) - 1
    for index, pin in enumerate(pins):
        x = port_x[index]
        pin.turn = "right"
        if any(bead.text for bead in (*pin.beads, *pin.far_beads)):
            left, right = pin.sides_mm("right")
            joined = index < last and pins[index + 1].port == pin.port
            room = 1e9 if index == last else port_x[index + 1] - WIRE_SIDE_MM - 0.5 - x
            if index == 0 and last > 0 and (joined or room < right):
                pin.turn = "left"
            elif room < right and not joined:
                need = pin.sides_mm("left")[0]
                pin.turn = "left" if x - need > used_to + 0.5 else "up"
            del left
        used_to = max(used_to, x + pin.right_mm)


def gap_units(left: Pin, right: Pin) -> int:
    """Return how far two neighbouring pins must be apart."""
    return max(2, units(left.right_mm + right.left_mm + 0.3))


def spread(targets: list[int], pins: list[Pin]) -> list[int]:
    """Return places in order, each as near to its target as the gaps between pins allow: the
    least sum of weighted distances, by pooling neighbours that push each other (isotonic
    regression). Wires count more than marks without one."""
    offsets = [0]
    for left, right in pairwise(pins):
        offsets.append(offsets[-1] + gap_units(left, right))
    pools: list[tuple[list[int], int]] = []
    """Wanted positions of the pool's members, once for each weight, and how many members."""
    for target, offset, pin in zip(targets, offsets, pins, strict=True):
        wanted = [target - offset] * pin.weight
        members = 1
        while pools and _median(pools[-1][0]) >= _median(wanted):
            before, count = pools.pop()
            wanted = sorted(before + wanted)
            members += count
        pools.append((wanted, members))
    places: list[int] = []
    for wanted, members in pools:
        places.extend([_median(wanted)] * members)
    return [place + offset for place, offset in zip(places, offsets, strict=True)]


def _median(values: list[int]) -> int:
    return values[(len(values) - 1) // 2]


def _bar_levels(ports: list[Port]) -> int:
    """Set the level of each pin's bar and return how many levels there are.

    A bar reaches from its port to its pins. Where it passes in front of a neighbour's port, the
    neighbour's bar must turn off nearer to the block.
    """
    spans: list[tuple[int, int, Port]] = []
    for port in ports:
        if not port.pins:
            continue
        places = [pin.x for pin in port.pins]
        if places == [port.x]:
            continue
        spans.append((min(port.x, *places), max(port.x, *places), port))
    level: dict[int, int] = {}
    order = sorted(range(len(spans)), key=lambda i: -spans[i][0])
    for i in order:  # those that lean to the right, from the right
        low, high, port = spans[i]
        if high > port.x:
            inner = [level[j] for j in level if spans[j][2].x > port.x and spans[j][0] <= high]
            level[i] = 1 + max(inner, default=0)
    for i in reversed(order):  # those that lean to the left, from the left
        low, high, port = spans[i]
        if low < port.x:
            inner = [
                level[j] for j in level if j != i and spans[j][2].x < port.x and spans[j][1] >= low
            ]
            level[i] = max(level.get(i, 0), 1 + max(inner, default=0))
    for i, (_, _, port) in enumerate(spans):
        for pin in port.pins:
            pin.bar_level = level.get(i, 1)
    return max(level.values(), default=0)
