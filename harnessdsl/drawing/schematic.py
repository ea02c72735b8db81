"""Draws a vehicle's schematics: the one module that knows the order of the stages.

plan (what is on which sheet) -> graph (elements and threads) -> components (rows, order, places,
courses) -> page (size, lines) -> references -> shapes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from harnessdsl.drawing.beads import NO_ANNOTATIONS, Annotation, Annotations
from harnessdsl.drawing.colours import legend_codes
from harnessdsl.drawing.component import LaidOut, lay_out
from harnessdsl.drawing.composition import Composed, compose
from harnessdsl.drawing.furniture import (
    PAGE_SIZES_MM,
    Frame,
    Legend,
    TitleBlock,
    frame,
    standard_cautions,
    track_strip,
)
from harnessdsl.drawing.outline import area_mm2, outline_of, rough_outline
from harnessdsl.drawing.page_drawing import Finder, draw_page, note_places
from harnessdsl.drawing.page_split import split_page
from harnessdsl.drawing.scene import Page, Shape
from harnessdsl.drawing.sheet_elements import build_graph
from harnessdsl.drawing.sheet_graph import MarkKind, SheetGraph
from harnessdsl.drawing.sheet_plan import (
    PageKey,
    PageSpec,
    Plan,
    SheetPlan,
    circuit_pages,
)
from harnessdsl.drawing.sheet_planner import plan_sheets
from harnessdsl.drawing.sheet_symbols import BlockCache, symbols_of
from harnessdsl.drawing.states import STATE_NAMES
from harnessdsl.drawing.wiring import Wiring, read_wiring
from harnessdsl.model.vehicle import Vehicle

__all__ = ["Annotation", "Annotations", "SchematicOptions", "draw_schematics"]

SIZES = ("A4", "A3")
TRACK_PITCH_MM = 10.0
_MAX_SPLITS = 60
_MAX_MERGES = 24
_FULL = 0.36
"""Share of a page that symbols can take at most, wires and texts needing the rest: seen on many
drawings."""
_HOPELESS = 0.55


@dataclass(frozen=True, slots=True)
class SchematicOptions:
    """What the user says about the drawing."""

    date: str = ""
    """As given; never taken from the clock."""
    drawn_by: str = ""
    notes: str = ""
    sizes: Sequence[str] = SIZES
    """Paper that may be used, either way up, the smallest first."""

    def formats(self) -> tuple[str, ...]:
        """Return the page formats to be tried, in order."""
        found: dict[str, None] = {}
        for size in self.sizes:
            found[size] = None
            if f"{size}-portrait" in PAGE_SIZES_MM:
                found[f"{size}-portrait"] = None
        return tuple(found)


@dataclass(slots=True)
class Sheet:
    """One sheet on its way through the stages."""

    plan: SheetPlan
    graph: SheetGraph
    laid: list[LaidOut] = field(default_factory=list)
    referred: list[str] = field(default_factory=list)
    size: str = ""
    fits: bool = False
    legend: Legend = field(default_factory=Legend)
    cautions: tuple[str, ...] = ()
    page: Composed | None = None
    frame: Frame | None = None


def draw_schematics(
    vehicle: Vehicle,
    options: SchematicOptions | None = None,
    annotations: Annotations = NO_ANNOTATIONS,
) -> list[Page]:
    """Return all schematic sheets of `vehicle`: one for each circuit (more where one is too
    large for a page) and a last one for what is in no circuit.

    `annotations` add texts and states to wires, parts and nodes. The same vehicle gives the same
    pages.
    """
    options = options or SchematicOptions()
    plan, sheets = _sheets_that_fit(vehicle, options, annotations)
    finder = _number(sheets)
    for sheet in sheets:
        assert sheet.page is not None
        note_places(finder, sheet.plan.key, sheet.graph, sheet.laid, sheet.page)
    return [_draw(plan, sheet, finder, sheets, options, annotations) for sheet in sheets]


@dataclass(slots=True)
class _Studio:
    """Lays out sheets and keeps them, so that a plan that differs in one sheet costs one."""

    wiring: Wiring
    options: SchematicOptions
    annotations: Annotations
    known: dict[PageKey, Sheet] = field(default_factory=dict)
    symbols: BlockCache = field(default_factory=dict)

    def lay_out(self, specs: Sequence[PageSpec], last: bool = False) -> tuple[Plan, list[Sheet]]:
        """Return the plan and its sheets. Unless it is the `last` time, those far too large for
        any page are not laid out."""
        plan = plan_sheets(self.wiring, specs)
        sheets: list[Sheet] = []
        for sheet_plan in plan.sheets:
            sheet = self.known.get(sheet_plan.key)
            if sheet is None or sheet.plan != sheet_plan:
                sheet = self.begin(plan, sheet_plan)
                self.known[sheet_plan.key] = sheet
            if sheet.page is None and (last or self.filling(sheet) < _HOPELESS):
                sheet.laid = [lay_out(sheet.graph, group) for group in sheet.graph.components()]
                sheet.fits = _fit(plan, sheet, self.options)
            sheets.append(sheet)
        return plan, sheets

    def begin(self, plan: Plan, sheet_plan: SheetPlan) -> Sheet:
        blocks = symbols_of(plan, sheet_plan, self.symbols)
        graph = build_graph(plan, sheet_plan, blocks, self.annotations)
        sheet = Sheet(sheet_plan, graph)
        nodes = {port.node for element in graph.elements for port in element.ports}
        sheet.referred = [
            line.name for line in plan.wiring.lines if not nodes.intersection(line.feeders)
        ]
        sheet.legend, sheet.cautions = _explanations(plan, sheet, self.annotations)
        return sheet

    def filling(self, *sheets: Sheet) -> float:
        """Return which share of the largest page the symbols of some sheets take together."""
        paper = max(
            PAGE_SIZES_MM[size][0] * PAGE_SIZES_MM[size][1] for size in self.options.formats()
        )
        return sum(area_mm2(s.graph, range(len(s.graph.elements))) for s in sheets) / paper


def _sheets_that_fit(
    vehicle: Vehicle, options: SchematicOptions, annotations: Annotations
) -> tuple[Plan, list[Sheet]]:
    """Lay out all sheets; those too large for the largest page are split until all fit."""
    studio = _Studio(read_wiring(vehicle), options, annotations)
    specs = circuit_pages(vehicle)
    for _ in range(_MAX_SPLITS):
        plan, sheets = studio.lay_out(specs)
        split: dict[PageKey, list[PageSpec]] = {}
        for sheet in sheets:
            if sheet.fits:
                continue
            spec = next(spec for spec in specs if spec.key == sheet.plan.key)
            areas = [_frame(plan, sheet, size, options, "").area for size in options.formats()]
            outlines = (
                [outline_of(component) for component in sheet.laid]
                if sheet.page is not None
                else [rough_outline(sheet.graph, g) for g in sheet.graph.components()]
            )
            pieces = split_page(spec, sheet.plan, sheet.graph, outlines, areas)
            if len(pieces) > 1:
                split[spec.key] = pieces
        if not split:
            break
        specs = [piece for spec in specs for piece in split.get(spec.key, [spec])]
    if len(specs) > len(circuit_pages(vehicle)):
        specs = _merge(studio, specs)
    return studio.lay_out(specs, last=True)


def _merge(studio: _Studio, specs: list[PageSpec]) -> list[PageSpec]:
    """Put pieces of one circuit together again where they fit on one page after all."""
    bad = sum(not sheet.fits for sheet in studio.lay_out(specs)[1])
    tries = 0
    index = 0
    while index < len(specs) - 1 and tries < _MAX_MERGES:
        first = specs[index]
        mates = [other for other in specs[index + 1 :] if other.key[0] == first.key[0]]
        for other in mates:
            if first.terminals or other.terminals or tries >= _MAX_MERGES:
                continue
            if studio.filling(studio.known[first.key], studio.known[other.key]) > _FULL:
                continue
            tries += 1
            parts = (*first.parts, *(name for name in other.parts if name not in first.parts))
            joined = replace(first, parts=parts)
            trial = [joined if s is first else s for s in specs if s is not other]
            if sum(not sheet.fits for sheet in studio.lay_out(trial)[1]) <= bad:
                specs, first = trial, joined
        index += 1
    return specs


def _explanations(
    plan: Plan, sheet: Sheet, annotations: Annotations
) -> tuple[Legend, tuple[str, ...]]:
    vehicle = plan.vehicle
    wires = [wire for placed in sheet.plan.strands for wire in placed.strand.wires]
    marks = [thread.mark for thread in sheet.graph.threads if thread.mark is not None]
    shown = {note.state for wire in wires if (note := annotations.wires.get(wire.name)) is not None}
    part_of = plan.wiring.strung.part_of
    drawn = [*(use.part for use in sheet.plan.parts),
             *(part_of.get(m.node, m.node) for m in marks if m.kind is MarkKind.EARTH)]
    shown |= {note.state for name in drawn
              if (note := annotations.parts.get(name)) is not None and (
                  note.state in ("fault", "marked"))}
    legend = Legend(
        colours=legend_codes([wire.colour for wire in wires]),
        unverified=any(not wire.evidence.verified for wire in wires),
        references=any(mark.kind is MarkKind.REFERENCE for mark in marks),
        states=tuple(
            (state, annotations.state_names.get(state, name))
            for state, name in STATE_NAMES.items()
            if state in shown
        ),
        plugs=any(p.wire is None for placed in sheet.plan.strands for p in placed.strand.pieces),
    )
    parts = [vehicle.parts[use.part] for use in sheet.plan.parts]
    safety = {part.kind.safety for part in parts}
    if sheet.plan.circuit:
        safety.add(vehicle.circuits[sheet.plan.circuit].safety)
    for part in parts:
        place = vehicle.places.get(part.place)
        if place is not None:
            safety.update(place.cautions)
    cautions = standard_cautions(frozenset(part.family for part in parts), frozenset(safety - {""}))
    return legend, cautions


def _title(plan: Plan, sheet: Sheet, options: SchematicOptions, tracks: str) -> TitleBlock:
    vehicle = plan.vehicle
    earth = "positive earth" if vehicle.positive_earth else "negative earth"
    return TitleBlock(
        vehicle=vehicle.name,
        circuit=sheet.plan.title,
        build=" ".join(filter(None, (vehicle.build, vehicle.year))),
        date=options.date,
        drawn_by=options.drawn_by,
        notes=options.notes,
        supply=f"{vehicle.nominal_v:g} V, {earth}",
        tracks=tracks,
    )


def _frame(plan: Plan, sheet: Sheet, size: str, options: SchematicOptions, tracks: str) -> Frame:
    title = _title(plan, sheet, options, tracks)
    return frame(size, title, sheet.legend, sheet.cautions)


def _fit(plan: Plan, sheet: Sheet, options: SchematicOptions) -> bool:
    """Compose the sheet on the smallest page that holds it; False when none does."""
    lines = [line.name for line in plan.wiring.lines]
    for size in options.formats():
        area = _frame(plan, sheet, size, options, "888-888").area
        page = compose(sheet.laid, sheet.graph, size, area, lines, sheet.referred)
        if page is not None:
            sheet.size, sheet.page = size, page
            return True
    sheet.size = size
    sheet.page = compose(sheet.laid, sheet.graph, size, area, lines, sheet.referred, force=True)
    return False


def _number(sheets: Sequence[Sheet]) -> Finder:
    """Number the sheets and the tracks over all of them."""
    finder = Finder(pitch_mm=TRACK_PITCH_MM)
    track = 1
    for number, sheet in enumerate(sheets, 1):
        assert sheet.page is not None
        key = sheet.plan.key
        finder.sheet_number[key] = number
        for index, band in enumerate(sheet.page.bands):
            x0, x1 = band.rail_x
            count = int((x1 - x0) // TRACK_PITCH_MM)
            finder.first_track[(key, index)] = track
            finder.tracks[(key, index)] = count
            finder.track_x0[key] = x0
            track += count
    return finder


def _draw(
    plan: Plan,
    sheet: Sheet,
    finder: Finder,
    sheets: Sequence[Sheet],
    options: SchematicOptions,
    annotations: Annotations,
) -> Page:
    assert sheet.page is not None
    key = sheet.plan.key
    counts = [finder.tracks[(key, index)] for index in range(len(sheet.page.bands))]
    first = finder.first_track[(key, 0)]
    title = _title(plan, sheet, options, f"{first}-{first + sum(counts) - 1}")
    same = [other for other in sheets if other.plan.key[0] == key[0]]
    name = sheet.plan.title
    if len(same) > 1:
        name = f"{name} ({1 + same.index(sheet)} of {len(same)})"
    number = finder.sheet_number[key]
    title = TitleBlock(
        vehicle=title.vehicle,
        circuit=name,
        build=title.build,
        sheet=number,
        sheets=len(sheets),
        date=title.date,
        drawn_by=title.drawn_by,
        notes=title.notes,
        supply=title.supply,
        tracks=title.tracks,
    )
    framed = frame(sheet.size, title, sheet.legend, sheet.cautions)
    shapes: list[Shape] = [*framed.shapes]
    for index, band in enumerate(sheet.page.bands):
        middle = finder.track_x0[key] + TRACK_PITCH_MM / 2
        start = finder.first_track[(key, index)]
        shapes.extend(track_strip(middle, band.tracks_y, TRACK_PITCH_MM, start, counts[index]))
    shapes.extend(draw_page(plan, key, sheet.graph, sheet.laid, sheet.page, finder, annotations))
    width, height = PAGE_SIZES_MM[sheet.size]
    stem = f"{number:02d}-{sheet.plan.circuit or 'unassigned'}"
    if len(same) > 1:
        stem = f"{stem}-{1 + same.index(sheet)}"
    return Page(stem, width, height, tuple(shapes), name)
