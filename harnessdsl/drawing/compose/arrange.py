"""Arranges elements in rows and columns: what a block looks like before anything is drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from harnessdsl.drawing.block import GRID_MM, PORT_PITCH_MM
from harnessdsl.drawing.compose.actuators import actuator_mark
from harnessdsl.drawing.compose.element import Element, Pin
from harnessdsl.drawing.compose.pool import Facing
from harnessdsl.drawing.compose.slots import Item, Problem, assign_slots
from harnessdsl.drawing.text_metrics import SMALL_MM, text_width
from harnessdsl.model.kind import Kind

MOST_ROWS = 4
ROOM_MM = 1.2
"""Between two symbols of a row."""
PORT_TEXT_MM = 0.6
"""From a port's conductor to its terminal's name, and from there to the next conductor."""


@dataclass(frozen=True, slots=True)
class Lead:
    """A terminal that leaves the block, or (without a node) one named inside it only."""

    terminal: str
    net: str
    facing: Facing
    node: str
    text: str = ""

    @property
    def shown(self) -> str:
        return self.text or self.terminal


@dataclass(slots=True)
class Placed:
    """An element with its row and column, and the tap that it stands for."""

    element: Element
    row: int
    x: float = 0.0
    tap: Facing | None = None
    again: bool = False
    """An actuator's mark that repeats one of another row."""


@dataclass(slots=True)
class Arrangement:
    """Elements in place across the page, and the columns where leads rise and fall."""

    placed: list[Placed]
    rows: int
    lead_x: dict[str, float]
    width: float
    """From x = 0 to the right end of symbols and terminal names."""


def arrange(elements: Sequence[Element], leads: Sequence[Lead], kind: Kind) -> Arrangement:
    """Return rows and columns for the elements of one block."""
    rows_of = _rank(elements)
    rows = max(rows_of, default=0) + 1
    placed = [Placed(e, row) for e, row in zip(elements, rows_of, strict=True)]
    placed = _with_marks(placed, kind)
    placed.extend(_passes(placed, leads, rows))
    placed.extend(_taps(placed, leads, rows))
    slots = assign_slots(
        Problem(
            tuple(_item(p) for p in placed),
            rows,
            tuple(dict.fromkeys(lead.net for lead in leads if lead.facing == "top")),
            tuple(dict.fromkeys(lead.net for lead in leads if lead.facing == "bottom")),
        )
    )
    _turn_marks(placed, slots, kind)
    lead_place = _lead_places(placed, slots, leads, rows)
    return _across(placed, slots, leads, lead_place, rows)


def _rank(elements: Sequence[Element]) -> list[int]:
    """Return a row for each element: under whatever feeds its upper end, longest path first."""
    rows = [0] * len(elements)
    for _ in range(MOST_ROWS - 1):
        level: dict[str, int] = {}
        for element, row in zip(elements, rows, strict=True):
            for pin in element.bottoms:
                if not element.plain:
                    level[pin.net] = max(level.get(pin.net, 0), row + 1)
        moved = False
        for index, element in enumerate(elements):
            row = max((level.get(pin.net, 0) for pin in element.tops), default=0)
            row = min(row, MOST_ROWS - 1)
            if row > rows[index]:
                rows[index] = row
                moved = True
        if not moved:
            break
    # a loop would push everything down: close up empty rows
    used = {row: index for index, row in enumerate(sorted(set(rows)))}
    return [used[row] for row in rows]


def _with_marks(placed: Sequence[Placed], kind: Kind) -> list[Placed]:
    """Put an actuator's mark into each row in which it moves something and is not itself."""
    found: list[Placed] = []
    seen: dict[tuple[str, int], None] = {}
    driven = {(k.key, p.row) for p in placed for k in p.element.links if k.drives}
    for p in placed:
        for link in p.element.links:
            place = (link.key, p.row)
            if place not in driven and place not in seen:
                again = any(key == link.key for key, _ in seen)
                seen[place] = None
                found.append(Placed(actuator_mark(kind, link.key, again), p.row, again=again))
        found.append(p)
    return found


def _turn_marks(placed: Sequence[Placed], slots: Sequence[int], kind: Kind) -> None:
    """Let a mark that came to stand to the right of all that it moves look to the left."""
    for p, slot in zip(placed, slots, strict=True):
        if p.element.name.startswith("mark "):
            key = p.element.links[0].key
            moved = [
                s
                for other, s in zip(placed, slots, strict=True)
                if other is not p and other.row == p.row
                and any(link.key == key for link in other.element.links)
            ]  # fmt: skip
            if moved and slot > max(moved):
                p.element = actuator_mark(kind, key, p.again, from_right=True)


def _passes(placed: Sequence[Placed], leads: Sequence[Lead], rows: int) -> list[Placed]:
    """Return plain conductors through rows that a net has to cross."""
    reach: dict[str, list[int]] = {}
    for p in placed:
        for pin in p.element.tops:
            reach.setdefault(pin.net, []).append(p.row)
        for pin in p.element.bottoms:
            reach.setdefault(pin.net, []).append(p.row + 1)
    for lead in leads:
        reach.setdefault(lead.net, []).append(0 if lead.facing == "top" else rows)
    return [
        Placed(_conductor(net), row)
        for net, channels in reach.items()
        for row in range(min(channels), max(channels))
        if not any(
            p.row == row and p.element.plain and p.element.nets() == (net, net) for p in placed
        )
    ]


def _conductor(net: str) -> Element:
    pin = (Pin(0.0, net),)
    return Element(f"pass {net}", pin, pin, 0.4, 0.4, 0.0, 0.0, plain=True)


def _taps(placed: Sequence[Placed], leads: Sequence[Lead], rows: int) -> list[Placed]:
    """Return a column of its own for every lead that finds no pin of its net to stand on."""
    found: list[Placed] = []
    sides: tuple[Facing, ...] = ("top", "bottom")
    for facing in sides:
        free: dict[str, int] = {}
        for p in placed:
            row = 0 if facing == "top" else rows - 1
            for pin in (p.element.tops if facing == "top" else p.element.bottoms):
                if p.row == row:
                    free[pin.net] = free.get(pin.net, 0) + 1
        for lead in leads:
            if lead.facing == facing:
                free[lead.net] = free.get(lead.net, 0) - 1
                if free[lead.net] < 0:
                    element = replace(
                        _conductor(lead.net), name=f"tap {lead.terminal}", tops=(), bottoms=()
                    )
                    tap = Placed(element, 0 if facing == "top" else rows - 1, tap=facing)
                    tap.element.data["net"] = lead.net
                    found.append(tap)
    return found


def _item(p: Placed) -> Item:
    element = p.element
    return Item(
        p.row,
        tuple((pin.x, pin.net) for pin in element.tops),
        tuple((pin.x, pin.net) for pin in element.bottoms),
        tuple(link.key for link in element.links),
        any(link.drives for link in element.links),
        element.plain,
        element.data.get("net", "") if p.tap == "top" else "",
        element.data.get("net", "") if p.tap == "bottom" else "",
    )


LeadPlace = tuple[int, float]
"""Slot and offset in it."""


def _lead_places(
    placed: Sequence[Placed], slots: Sequence[int], leads: Sequence[Lead], rows: int
) -> dict[str, LeadPlace]:
    """Return where each lead stands: on the first free pin of its net, from the left."""
    free: dict[tuple[str, Facing], list[LeadPlace]] = {}
    for p, slot in zip(placed, slots, strict=True):
        if p.row == 0:
            for pin in p.element.tops:
                free.setdefault((pin.net, "top"), []).append((slot, pin.x))
        if p.row == rows - 1:
            for pin in p.element.bottoms:
                free.setdefault((pin.net, "bottom"), []).append((slot, pin.x))
        if p.tap is not None:
            free.setdefault((p.element.data["net"], p.tap), []).append((slot, 0.0))
    for places in free.values():
        places.sort()
    return {lead.terminal: free[lead.net, lead.facing].pop(0) for lead in leads}


def _across(
    placed: list[Placed],
    slots: Sequence[int],
    leads: Sequence[Lead],
    lead_place: dict[str, LeadPlace],
    rows: int,
) -> Arrangement:
    """Give every slot its x on the grid: symbols of a row clear of each other, terminal names
    clear of the next conductor."""
    count = max(slots, default=-1) + 1
    xs: list[float] = []
    row_end = [0.0] * rows
    text_end = {"top": 0.0, "bottom": 0.0}
    by_slot = sorted(zip(slots, placed, strict=True), key=lambda pair: pair[0])
    ports = sorted(((lead_place[lead.terminal], lead) for lead in leads), key=lambda pair: pair[0])
    for slot in range(count):
        here = [p for s, p in by_slot if s == slot]
        leads_here = [(offset, lead) for (s, offset), lead in ports if s == slot]
        x = xs[-1] + PORT_PITCH_MM if xs else 0.0
        for p in here:
            x = max(x, row_end[p.row] + p.element.left)
        for offset, lead in leads_here:
            x = max(x, text_end[lead.facing] + PORT_TEXT_MM - offset)
        x = math.ceil(x / GRID_MM - 1e-6) * GRID_MM
        xs.append(x)
        for p in here:
            p.x = x
            row_end[p.row] = x + p.element.right + ROOM_MM
        for offset, lead in leads_here:
            end = x + offset + PORT_TEXT_MM + text_width(lead.shown, SMALL_MM)
            text_end[lead.facing] = max(text_end[lead.facing], end)
    lead_x = {name: xs[slot] + offset for name, (slot, offset) in lead_place.items()}
    right = max((p.x + p.element.right for p in placed), default=0.0)
    return Arrangement(placed, rows, lead_x, max(right, *text_end.values()))
