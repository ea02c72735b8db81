"""Makes the graph of one sheet from its plan: blocks, junctions, links and stubs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from harnessdsl.drawing.bead_sides import choose_bead_ends
from harnessdsl.drawing.beads import Annotations, Bead, string_beads, text_bead
from harnessdsl.drawing.block import GRID_MM, Block
from harnessdsl.drawing.block_notes import place_notes
from harnessdsl.drawing.marks import Mark, earth_mark, reference_mark
from harnessdsl.drawing.scene import Polyline, Shape, Text
from harnessdsl.drawing.sheet_graph import (
    Element,
    EndMark,
    MarkKind,
    Note,
    Pin,
    Port,
    SheetGraph,
    Side,
    Thread,
)
from harnessdsl.drawing.sheet_plan import PageKey, PlacedStrand, Plan, Role, SheetPlan, StrandEnd
from harnessdsl.drawing.strands import in_line
from harnessdsl.drawing.text_metrics import ASCENT, DESCENT, SMALL_MM, shorten, text_width

MAX_NAME_MM = 30.0
REFERENCES_IN_A_MARK = 4
JUNCTION_HALF_HEIGHT_MM = 1.6
WIDEST_REFERENCE = "88/888"
"""As wide as a sheet and track number will be."""


def reference_text(node: str, places: Sequence[str]) -> str:
    """Return what a reference says in at most two lines: the node that the wire goes to, if
    any, and the places (sheet/track) where that is drawn."""
    first = shorten(node, SMALL_MM, MAX_NAME_MM)
    if first:
        return f"{first}\n{' '.join(places)}" if places else first
    if len(places) <= 1:
        return " ".join(places)
    half = (len(places) + 1) // 2
    return f"{' '.join(places[:half])}\n{' '.join(places[half:])}"


def elsewhere_text(places: Sequence[str]) -> str:
    """Return what stands at a part whose rest is drawn at other places (sheet/track)."""
    return f"also {', '.join(places)}"


def mark_of(
    mark: EndMark, side: Side, places: Sequence[str] = (), conductor: str = ""
) -> Mark | None:
    """Return the drawn mark at the free end of a stub on this side of an element; None where the
    wire just ends. `places` are the references' sheets and tracks."""
    end: Literal["top", "bottom"] = side
    if mark.kind is MarkKind.EARTH:
        hanging = earth_mark(shorten(mark.text, SMALL_MM, MAX_NAME_MM), conductor)
        return hanging if side == "bottom" else _raised(hanging)
    if mark.kind in (MarkKind.LINE, MarkKind.RAIL):
        direction: Literal["in", "out"] = "in" if mark.kind is MarkKind.RAIL else "out"
        return reference_mark(mark.text, direction, end)
    if mark.kind is MarkKind.REFERENCE:
        text = reference_text(mark.text, places)
        return reference_mark(text, "out" if side == "bottom" else "in", end)
    return None


def _raised(mark: Mark) -> Mark:
    """Return a hanging mark turned to stand on a wire's upper end, its texts still upright."""
    shapes: list[Shape] = []
    for shape in mark.shapes:
        if isinstance(shape, Polyline):
            points = tuple((x, -y) for x, y in shape.points)
            shapes.append(replace(shape, points=points))
        elif isinstance(shape, Text):
            shapes.append(replace(shape, y=(ASCENT - DESCENT) * shape.size_mm - shape.y))
    x0, y0, x1, y1 = mark.box
    return Mark(tuple(shapes), (x0, -y1, x1, -y0), mark.joins)


def _measured(
    kind: MarkKind,
    node: str,
    text: str,
    side: Side,
    sheets: tuple[tuple[int, ...], ...] = (),
    conductor: str = "",
) -> EndMark:
    blank = EndMark(kind, node, text, sheets=sheets)
    drawn = mark_of(blank, side, [WIDEST_REFERENCE] * len(sheets), conductor)
    if drawn is None:
        return blank
    x0, y0, x1, y1 = drawn.box
    return EndMark(kind, node, text, max(-y0, y1), -x0, x1, sheets)


@dataclass(slots=True)
class _Builder:
    plan: Plan
    sheet: SheetPlan
    annotations: Annotations
    graph: SheetGraph = field(default_factory=SheetGraph)
    at: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    """Node -> (element, port) of a block's port."""
    junction_at: dict[str, int] = field(default_factory=dict)

    def add_block(self, plain: Block) -> None:
        index = len(self.graph.elements)
        block, notes = self.notes(plain)
        ports = [
            Port(port.node, port.terminal, port.side, round(port.x / GRID_MM), port.y)
            for port in sorted(block.ports, key=lambda p: (p.x, p.side))
        ]
        element = Element(index, "", block, ports, "", -block.x0, block.x1, -block.y0, block.y1)
        element.notes = notes
        self.graph.elements.append(element)
        for number, port in enumerate(ports):
            self.at.setdefault(port.node, []).append((index, number))

    def notes(self, block: Block) -> tuple[Block, list[Note]]:
        """Return the block with room for what else is to be said about its part."""
        texts: list[tuple[str, tuple[PageKey, ...]]] = []
        added = self.annotations.parts.get(block.part)
        if added is not None and added.text:
            texts.append((shorten(added.text, SMALL_MM, MAX_NAME_MM), ()))
        for use in self.sheet.parts:
            if use.part == block.part and use.elsewhere:
                some = use.elsewhere[:REFERENCES_IN_A_MARK]
                texts.append((elsewhere_text([WIDEST_REFERENCE] * len(some)), some))
        grown, places = place_notes(block, [text for text, _ in texts])
        notes = [
            Note(x, y, "" if sheets else text, sheets)
            for (x, y), (text, sheets) in zip(places, texts, strict=True)
        ]
        return grown, notes

    def add_values(self) -> None:
        """Write what a state adds at a node beside its terminal, or behind a junction's name."""
        for element in self.graph.elements:
            if element.block is None:
                added = self.annotations.nodes.get(element.node)
                if added is not None and added.text:
                    element.name_text = f"{element.name_text}  {added.text}".strip()
                    element.right_mm = 1.5 + text_width(element.name_text, SMALL_MM)
                continue
            for port in element.ports:
                added = self.annotations.nodes.get(port.node)
                wired = [pin for pin in port.pins if self.graph.threads[pin.thread].strand]
                if added is not None and added.text and wired:
                    wired[0].value = text_bead(
                        "value", port.node, added.text, self.annotations.beside_mm
                    )

    def add_junction(self, node: str) -> int:
        if node in self.junction_at:
            return self.junction_at[node]
        index = len(self.graph.elements)
        part = self.plan.vehicle.parts.get(self.plan.wiring.strung.part_of.get(node, ""))
        named = part is not None and not in_line(part) and part.family != "earth"
        name = shorten(node, SMALL_MM, MAX_NAME_MM) if named else ""
        sides: tuple[Side, Side] = ("top", "bottom")
        ports = [Port(node, "", side, 0, 0.0) for side in sides]
        half = JUNCTION_HALF_HEIGHT_MM
        element = Element(index, node, None, ports, name, 1.25, 1.25, half, half)
        if name:
            element.right_mm = 1.5 + text_width(name, SMALL_MM)
        self.graph.elements.append(element)
        self.junction_at[node] = index
        return index

    def pin(self, place: tuple[int, int], end: Literal[0, 1]) -> Pin:
        element, number = place
        port = self.graph.elements[element].ports[number]
        found = Pin(element, number, len(self.graph.threads), end, port.side)
        port.pins.append(found)
        return found

    def host(self, end: StrandEnd) -> tuple[int, int] | None:
        """Return the block's port that an end is drawn at; (element, -1) for a junction, whose
        side is open; None for a free end."""
        if end.role is Role.PIN and end.node in self.at:
            return self.at[end.node][0]
        if end.role in (Role.PIN, Role.JUNCTION):
            return (self.add_junction(end.node), -1)
        return None

    def junction_side(self, junction: int, other: tuple[int, int] | None, end: StrandEnd) -> Side:
        """Return the side of a junction that a strand to `other` (or to the free `end`) leaves
        on: towards a block's port where there is one, else by where the far end is."""
        if other is not None and other[1] >= 0:
            port = self.graph.elements[other[0]].ports[other[1]]
            return "bottom" if port.side == "top" else "top"
        if end.role is Role.LINE:
            return "top"
        if end.role in (Role.EARTH, Role.LOOSE):
            return "bottom"
        here = self.graph.elements[junction].node
        potential = self.plan.wiring.potential
        return "top" if potential.get(end.node, 1.0) < potential.get(here, 0.0) else "bottom"

    def end_mark(self, end: StrandEnd, side: Side) -> EndMark:
        if end.role is Role.EARTH:
            name = self.plan.wiring.strung.part_of.get(end.node, end.node)
            part = self.plan.vehicle.parts.get(name)
            conductor = part.conductor if part is not None else ""
            return _measured(MarkKind.EARTH, end.node, end.node, side, conductor=conductor)
        if end.role is Role.LINE:
            if side == "top":
                return _measured(MarkKind.RAIL, end.node, end.line, side)
            text = f"{end.line}\n{shorten(end.node, SMALL_MM, MAX_NAME_MM)}"
            return _measured(MarkKind.LINE, end.node, text, side)
        if end.role is Role.REFERENCE:
            return _measured(MarkKind.REFERENCE, end.node, end.node, side, (end.home,))
        return EndMark(MarkKind.LOOSE, end.node, "")

    def add_strand(self, placed: PlacedStrand) -> None:
        strand = placed.strand
        beads = string_beads(strand, self.annotations, self.plan.wiring.cable_of)
        a, b = self.host(placed.a), self.host(placed.b)
        if a is None and b is not None:
            strand, beads = strand.reversed(), beads[::-1]
            last = len(strand.pieces) - 1
            beads = [_turned(bead, last) for bead in beads]
            placed = PlacedStrand(strand, placed.b, placed.a)
            a, b = b, a
        assert a is not None, "every strand has a port or a junction at one end"
        start: Side
        if a[1] < 0:
            start = self.junction_side(a[0], b, placed.b)
            if b is not None and b[1] < 0 and a[0] == b[0]:
                start = "bottom"
            a = (a[0], 0 if start == "top" else 1)
        start = self.graph.elements[a[0]].ports[a[1]].side
        if b is not None:
            if b[1] < 0:
                other = self.junction_side(b[0], a, placed.a)
                b = (b[0], 0 if other == "top" else 1)
            pins = (self.pin(a, 0), self.pin(b, 1))
            self.graph.threads.append(Thread(len(self.graph.threads), strand, pins, beads))
            return
        mark = self.end_mark(placed.b, start)
        if mark.kind is MarkKind.RAIL:
            beads.append(text_bead("name", mark.node, mark.node, self.annotations.beside_mm))
        if mark.kind is MarkKind.LOOSE and (not beads or beads[-1].kind != "plug"):
            beads.append(Bead("bare", beside_mm=self.annotations.beside_mm))
        pin = self.pin(a, 0)
        self.graph.threads.append(Thread(len(self.graph.threads), strand, (pin, None), beads, mark))

    def add_wireless(self, place: tuple[int, int], mark: EndMark) -> None:
        pin = self.pin(place, 0)
        self.graph.threads.append(Thread(len(self.graph.threads), None, (pin, None), [], mark))

    def hint_place(self, node: str) -> tuple[int, int] | None:
        """Return where a mark for `node` hangs: on its port, or on the emptier side of its
        junction."""
        if node in self.at:
            return self.at[node][0]
        if node not in self.junction_at:
            return None
        index = self.junction_at[node]
        top, bottom = (len(port.pins) for port in self.graph.elements[index].ports)
        return (index, 0 if top == 0 or (bottom and top < bottom) else 1)


def _turned(bead: Bead, last: int) -> Bead:
    return replace(bead, piece=last - bead.piece)


def build_graph(
    plan: Plan, sheet: SheetPlan, blocks: Sequence[Block], annotations: Annotations
) -> SheetGraph:
    """Return the graph of one sheet; `blocks` are the symbols of its parts."""
    builder = _Builder(plan, sheet, annotations)
    for block in blocks:
        builder.add_block(block)
    for node in sheet.junctions:
        builder.add_junction(node)
    # junctions take their sides from what is certain, so the strands to ports come first
    for certain in (True, False):
        for placed in sheet.strands:
            free = [builder.host(end) for end in (placed.a, placed.b)]
            sure = not all(place is not None and place[1] < 0 for place in free)
            if sure == certain:
                builder.add_strand(placed)
    for node, index in builder.junction_at.items():
        part = plan.vehicle.parts.get(plan.wiring.strung.part_of.get(node, ""))
        if part is not None and part.family == "earth":
            mark = _measured(MarkKind.EARTH, node, node, "bottom", conductor=part.conductor)
            builder.add_wireless((index, 1), mark)
    for hint in sheet.hints:
        place = builder.hint_place(hint.node)
        if place is None:
            continue
        side = builder.graph.elements[place[0]].ports[place[1]].side
        if hint.line:
            kind = MarkKind.RAIL if side == "top" else MarkKind.LINE
            builder.add_wireless(place, _measured(kind, hint.node, hint.line, side))
            continue
        for start in range(0, len(hint.sheets), REFERENCES_IN_A_MARK):
            some = hint.sheets[start : start + REFERENCES_IN_A_MARK]
            node = hint.node if hint.node in builder.junction_at else ""
            point = plan.vehicle.parts.get(plan.wiring.strung.part_of.get(hint.node, ""))
            if point is not None and point.family == "splice":
                node = ""  # the splice has its name beside it
            builder.add_wireless(place, _measured(MarkKind.REFERENCE, hint.node, node, side, some))
    builder.add_values()
    choose_bead_ends(builder.graph)
    return builder.graph
