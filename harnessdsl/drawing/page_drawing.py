"""Draws one composed page: symbols, bars, junctions, wires, marks, lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from harnessdsl.drawing.beads import Annotations
from harnessdsl.drawing.block import GRID_MM, Block
from harnessdsl.drawing.colours import wire_width
from harnessdsl.drawing.component import LaidOut
from harnessdsl.drawing.composition import EARTH_NAMES_MM, Band, Composed
from harnessdsl.drawing.furniture import rail
from harnessdsl.drawing.marks import bar_dot, splice_mark
from harnessdsl.drawing.routing import BAR_MM, Course, PlacedBead
from harnessdsl.drawing.scene import Circle, Group, Point, Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.sheet_elements import elsewhere_text, mark_of
from harnessdsl.drawing.sheet_graph import Element, EndMark, MarkKind, Pin, Port, SheetGraph
from harnessdsl.drawing.sheet_plan import PageKey, Plan
from harnessdsl.drawing.states import symbol_halo_style
from harnessdsl.drawing.strands import in_line
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    DESCENT,
    SMALL_MM,
    line_height,
    text_width,
)
from harnessdsl.drawing.wire_drawing import (
    LEAD_STYLE,
    VALUE_RGB,
    DrawnThread,
    crossings_of,
    cut_wires,
    draw_bead,
    draw_wire,
    terminal_group,
)

_BAR = Style("#000000", 0.35)


@dataclass(slots=True)
class Finder:
    """Where every node is drawn, so that references can name sheet and track."""

    sheet_number: dict[PageKey, int] = field(default_factory=dict)
    first_track: dict[tuple[PageKey, int], int] = field(default_factory=dict)
    """(sheet, band) -> the number of its first track."""
    tracks: dict[tuple[PageKey, int], int] = field(default_factory=dict)
    track_x0: dict[PageKey, float] = field(default_factory=dict)
    """The left edge of the first track."""
    pitch_mm: float = 10.0
    node_at: dict[tuple[PageKey, str], tuple[int, float]] = field(default_factory=dict)
    """Node on a sheet -> its band and x."""
    part_at: dict[tuple[PageKey, str], tuple[int, float]] = field(default_factory=dict)

    def track(self, key: PageKey, at: tuple[int, float]) -> int:
        band, x = at
        offset = int((x - self.track_x0[key]) // self.pitch_mm)
        return self.first_track[(key, band)] + min(max(offset, 0), self.tracks[(key, band)] - 1)

    def place(self, key: PageKey, node: str) -> str:
        """Return `sheet/track` of a node; the sheet alone when the node has no place on it."""
        if key not in self.sheet_number:
            return "-"
        at = self.node_at.get((key, node))
        number = self.sheet_number[key]
        return f"{number}" if at is None else f"{number}/{self.track(key, at)}"

    def part_place(self, key: PageKey, part: str) -> str:
        at = self.part_at.get((key, part))
        number = self.sheet_number.get(key, 0)
        return f"{number}" if at is None else f"{number}/{self.track(key, at)}"


def note_places(
    finder: Finder,
    key: PageKey,
    graph: SheetGraph,
    laid: Sequence[LaidOut],
    page: Composed,
) -> None:
    """Enter where the nodes of a page are drawn: terminals and junctions first, then the other
    ends of wires."""
    for number, component in enumerate(laid):
        band, x0 = page.band_of[number], page.origins[number][0]
        for index, (x, _) in component.routed.element_at.items():
            element = graph.elements[index]
            if element.block is None:
                finder.node_at[(key, element.node)] = (band, x0 + x)
                continue
            middle = x0 + x + (element.right_mm - element.left_mm) / 2
            finder.part_at.setdefault((key, element.block.part), (band, middle))
            for port in element.ports:
                finder.node_at[(key, port.node)] = (band, x0 + x + port.x * GRID_MM)
    for number, component in enumerate(laid):
        band, x0 = page.band_of[number], page.origins[number][0]
        for course in component.routed.courses:
            if course.thread.mark is not None and course.thread.mark.node:
                place = (key, course.thread.mark.node)
                finder.node_at.setdefault(place, (band, x0 + course.points[-1][0]))


def draw_page(
    plan: Plan,
    key: PageKey,
    graph: SheetGraph,
    laid: Sequence[LaidOut],
    page: Composed,
    finder: Finder,
    annotations: Annotations,
) -> tuple[Shape, ...]:
    """Return everything of the page but its furniture."""
    drawer = _Drawer(plan, key, graph, page, finder, annotations)
    for band in page.bands:
        drawer.rails(band)
        for number in band.members:
            drawer.component(laid[number], page.origins[number], band)
    return drawer.result()


@dataclass(slots=True)
class _Drawer:
    plan: Plan
    key: PageKey
    graph: SheetGraph
    page: Composed
    finder: Finder
    annotations: Annotations
    lines: list[Shape] = field(default_factory=list)
    symbols: list[Shape] = field(default_factory=list)
    threads: list[DrawnThread] = field(default_factory=list)
    over: list[Shape] = field(default_factory=list)
    """What is drawn above the wires: dots, marks, labels."""

    def result(self) -> tuple[Shape, ...]:
        wires = [cut for thread in self.threads for cut in cut_wires(thread)]
        hops = crossings_of(wires)
        drawn: list[Shape] = []
        # sideways wires last, so that their hops pass over the others
        order = sorted(range(len(wires)), key=lambda index: (index in hops, index))
        for index in order:
            wire, enters, leaves, points = wires[index]
            note = self.annotations.wires.get(wire.name)
            drawn.append(draw_wire(wire, (enters, leaves), points, hops.get(index, {}), note))
        return (*self.lines, *drawn, *self.symbols, *self.over)

    def rails(self, band: Band) -> None:
        x0, x1 = band.rail_x
        feeders = {line.name: line.feeders for line in self.plan.wiring.lines}
        for name, y in band.rails.items():
            self.lines.extend(rail(name, x0, x1, y))
            text = self.rail_reference(feeders.get(name, ()))
            if text:
                base = y + 2.2 + ASCENT * SMALL_MM
                mark = Text(x0 - 1.5, base, text, SMALL_MM, anchor="end")
                data = {"of": name, "node": feeders[name][0]}
                self.over.append(Group((mark,), css="label", data=data))
        if band.earth_rail:
            self.lines.extend(rail("31", x0, x1, band.earth_y, "earth"))

    def rail_reference(self, feeders: Sequence[str]) -> str:
        """Return where the part that feeds a line is drawn, when that is another sheet."""
        for node in feeders:
            home = self.feeder_home(node)
            if home is not None and home != self.key:
                return self.finder.place(home, node)
        return ""

    def feeder_home(self, node: str) -> PageKey | None:
        part = self.part_of(node)
        for key, found in self.finder.node_at:
            if found == node and (key, part) in self.finder.part_at:
                return key
        return None

    def part_of(self, node: str) -> str:
        return self.plan.wiring.strung.part_of.get(node, node)

    def component(self, component: LaidOut, origin: Point, band: Band) -> None:
        for index, (x, y) in component.routed.element_at.items():
            at = (origin[0] + x, origin[1] + y)
            element = self.graph.elements[index]
            if element.block is not None:
                self.block(element, at)
            else:
                self.junction(element, at)
        for course in component.routed.courses:
            self.course(course, origin, band)

    def block(self, element: Element, at: Point) -> None:
        block = element.block
        assert block is not None
        data = {"part": block.part}
        note = self.annotations.parts.get(block.part)
        if note is not None and note.state:
            data["state"] = note.state
            self.halo(block, at, note.state)
        self.symbols.append(Group(block.shapes, css="block", data=data, shift=at))
        for line in element.notes:
            text = line.text
            if line.sheets:
                places = [self.finder.part_place(key, block.part) for key in line.sheets]
                text = elsewhere_text(places)
            colour = "#000000" if line.sheets else VALUE_RGB
            drawn = Text(at[0] + line.x, at[1] + line.y, text, SMALL_MM, colour=colour)
            self.over.append(Group((drawn,), css="label", data={"of": block.part}))
        for port in element.ports:
            x, y = at[0] + port.x * GRID_MM, at[1] + port.y_mm
            self.over.append(terminal_group(port.node, (x, y)))
            self.bar(port, (x, y), at[0])

    def halo(self, block: Block, at: Point, state: str) -> None:
        """Surround a symbol by its state's colour."""
        style = symbol_halo_style(state)
        if style is None or not block.body:
            return
        x0, y0 = min(box[0] for box in block.body), min(box[1] for box in block.body)
        x1, y1 = max(box[2] for box in block.body), max(box[3] for box in block.body)
        around = Rect(at[0] + x0 - 0.6, at[1] + y0 - 0.6, x1 - x0 + 1.2, y1 - y0 + 1.2, style, 1.0)
        self.lines.append(Group((around,), css="state", data={"of": block.part, "state": state}))

    def bar(self, port: Port, at: Point, origin_x: float) -> None:
        """Join the pins of a terminal to it: a lead, a bar, and a dot where they meet."""
        places = [origin_x + pin.x * GRID_MM for pin in port.pins]
        if not places or places == [at[0]]:
            return
        step = port.pins[0].bar_level * BAR_MM * (1 if port.side == "bottom" else -1)
        y = at[1] + step
        low, high = min(at[0], *places), max(at[0], *places)
        shapes: list[Shape] = [
            Polyline((at, (at[0], y)), _BAR),
            Polyline(((low, y), (high, y)), _BAR),
        ]
        self.lines.append(Group(tuple(shapes), css="bar", data={"node": port.node}))
        if len(places) > 1:
            self.over.append(
                Group(bar_dot().shapes, css="joint", data={"node": port.node}, shift=(at[0], y))
            )

    def junction(self, element: Element, at: Point) -> None:
        places = [at[0], *(at[0] + pin.x * GRID_MM for port in element.ports for pin in port.pins)]
        low, high = min(places), max(places)
        node = element.node
        if high > low:
            line = Polyline(((low, at[1]), (high, at[1])), _BAR)
            self.lines.append(Group((line,), css="bar", data={"node": node}))
        part = self.plan.vehicle.parts.get(self.part_of(node))
        splice = part is not None and part.family == "splice"
        shapes: list[Shape] = list((splice_mark() if splice else bar_dot()).shapes)
        if element.name_text:
            base = (ASCENT - DESCENT) / 2 * SMALL_MM
            name = Text(high - at[0] + 1.5, base, element.name_text, SMALL_MM)
            shapes.append(Group((name,), css="label", data={"of": node}))
        data = {"node": node}
        if part is not None:
            data["part"] = part.name
        if splice or in_line(part):
            css = "splice"  # several wires crimped into one cavity are a joint too
        else:
            css = "joint" if part is not None and part.family == "earth" else "reference"
        self.over.append(Group(tuple(shapes), css=css, data=data, shift=at))
        self.over.append(terminal_group(node, at))

    def course(self, course: Course, origin: Point, band: Band) -> None:
        thread = course.thread
        points = [(origin[0] + x, origin[1] + y) for x, y in course.points]
        beads = [
            PlacedBead(b.bead, origin[0] + b.x, origin[1] + b.y, b.downwards, b.turn)
            for b in course.beads
        ]
        mark = thread.mark
        if course.to_rail and mark is not None:
            top = band.rails[mark.text]
            wires = thread.strand.wires if thread.strand is not None else ()
            points.append((points[-1][0], top))
            for other in band.rails.values():
                if other > top:  # passes over the lines below
                    x = points[-1][0]
                    width = max([0.8, *(wire_width(w.area_mm2) for w in wires)])
                    gap = Style("#ffffff", width + 1.4)
                    self.lines.append(Polyline(((x, other - 0.7), (x, other + 0.7)), gap))
            if course.name_bead is not None:
                bead = course.name_bead
                lowest = max(band.rails.values())
                turn = thread.pins[0].turn
                middle = lowest + 1.0 + bead.length_mm(turn) / 2
                beads.append(PlacedBead(bead, points[-1][0], middle, True, turn))
            dot = Circle(*points[-1], 0.75, Style("none", fill="#000000"))
            self.over.append(Group((dot,), css="joint", data={"node": mark.node}))
        elif thread.index in self.page.dropped and mark is not None:
            points.append((points[-1][0], band.earth_y))
            self.earth_name(mark, points[-1])
        elif mark is not None:
            self.mark(mark, thread.pins[0], points)
        if thread.strand is None:
            if abs(points[0][1] - points[-1][1]) < 5.0 and not course.to_rail:
                self.lines.append(Polyline(tuple(points), LEAD_STYLE))
            elif course.to_rail or thread.index in self.page.dropped:
                line = Polyline(tuple(points), Style("#000000", 0.8))
                self.lines.append(
                    Group((line,), css="lead", data={"node": mark.node if mark else ""})
                )
            return
        strand = thread.strand
        drawn = DrawnThread(strand, points, beads)
        if strand.wires:
            self.threads.append(drawn)
        else:
            self.lines.append(Polyline(tuple(points), LEAD_STYLE))
        self.over.append(terminal_group(strand.a, points[0]))
        last_is_plug = bool(beads) and mark is not None and mark.kind is MarkKind.LOOSE
        if not last_is_plug or strand.pieces[-1].wire is not None:
            self.over.append(terminal_group(strand.b, points[-1]))
        for placed in beads:
            shape = draw_bead(self.plan.vehicle, strand, placed)
            if shape is not None:
                self.over.append(shape)

    def earth_name(self, mark: EndMark, at: Point) -> None:
        """Name an earth point below the earth line."""
        part = self.plan.vehicle.parts.get(self.part_of(mark.node))
        conductor = part.conductor if part is not None else ""
        dot = Circle(at[0], at[1], 0.75, Style("none", fill="#000000"))
        shapes: list[Shape] = [dot]
        base = at[1] + EARTH_NAMES_MM + ASCENT * SMALL_MM
        for line in (mark.text, conductor if conductor != "body" else ""):
            if line:
                shapes.append(Text(at[0], base, line, SMALL_MM, anchor="middle"))
                base += line_height(SMALL_MM)
        data = {
            "node": mark.node,
            "part": self.part_of(mark.node),
        }
        half = text_width(mark.text, SMALL_MM) / 2 + 0.7
        top = at[1] + EARTH_NAMES_MM - 0.3
        bottom = base - line_height(SMALL_MM) + DESCENT * SMALL_MM + 0.3
        self.earth_halo(mark, Rect(at[0] - half, top, 2 * half, bottom - top, Style("none"), 0.6))
        self.over.append(Group(tuple(shapes), css="earth", data=data))

    def earth_halo(self, mark: EndMark, around: Rect) -> None:
        """Surround an earth point by its state's colour."""
        part = self.part_of(mark.node)
        note = self.annotations.parts.get(part)
        style = symbol_halo_style(note.state) if note is not None else None
        if note is not None and style is not None:
            ring = replace(around, style=style)
            self.lines.append(Group((ring,), css="state", data={"of": part, "state": note.state}))

    def mark(self, mark: EndMark, pin: Pin, points: list[Point]) -> None:
        places: list[str] = []
        for key in mark.sheets:
            places.append(self.finder.place(key, mark.node))
        part = self.plan.vehicle.parts.get(self.part_of(mark.node))
        conductor = part.conductor if part is not None else ""
        drawn = mark_of(mark, pin.side, places, conductor)
        if drawn is None:
            return
        data: dict[str, str] = {"node": mark.node}
        if mark.kind is MarkKind.EARTH:
            x, y = points[-1]
            self.earth_halo(mark, Rect(x - 2.5, y + 0.4, 5.0, 3.2, Style("none"), 1.0))
            css = "earth"
            data["part"] = self.part_of(mark.node)
        else:
            css = "reference"
            if places:
                sheet, _, track = places[0].partition("/")
                data.update({"sheet": sheet, "track": track})
        self.over.append(Group(drawn.shapes, css=css, data=data, shift=points[-1]))
