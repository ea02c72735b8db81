"""Harness runs on the map: branches between places, through grommets, with lengths and wires."""

from __future__ import annotations

import math
from collections.abc import Sequence

from harnessdsl.drawing.cautions import standard_cautions
from harnessdsl.drawing.maps.as_text import damage_text
from harnessdsl.drawing.maps.body import MapFrame
from harnessdsl.drawing.maps.map_pages import (
    drawable,
    file_name,
    pointer,
)
from harnessdsl.drawing.maps.sheet import (
    Line,
    Sheet,
    SheetStyle,
    drawing_area,
    finish,
    flow,
    numbered,
    on_keys,
    split_area,
    wrapped,
)
from harnessdsl.drawing.maps.views import ACCENT, FAINT, INK, Pointer, draw_views, fit_views
from harnessdsl.drawing.scene import Circle, Group, Page, Polyline, Shape, Style
from harnessdsl.model.bundles import Bundles, Damage, Leg
from harnessdsl.model.layout import Layout, Point3
from harnessdsl.model.location import Spot, find_spots
from harnessdsl.model.vehicle import Run, Vehicle

RUN_COLOUR = "#2b5c8a"
_APART_MM = 0.9
"""Between the lines of runs that share a branch."""


def draw_runs(
    vehicle: Vehicle,
    layout: Layout,
    *,
    runs: Sequence[str] = (),
    page_size: str = "A4",
    date: str = "",
    drawn_by: str = "",
) -> list[Page]:
    """Return the harness runs on the body, all of them or those named, each with its branches,
    lengths, grommets, cover and number of wires. No runs, no pages. Raises KeyError for a run
    that is not in the vehicle."""
    style = SheetStyle(page_size, date, drawn_by)
    bundles = Bundles(vehicle)
    chosen = [vehicle.runs[name] for name in (runs or vehicle.runs)]
    numbers = {name: index for index, name in enumerate(vehicle.runs, 1)}
    title = "Harness runs"
    cautions = standard_cautions(frozenset())
    area = drawing_area(vehicle, style, f"{title} (1 of 1)", (), cautions)
    _, keys = split_area(area)
    width = keys[0][2] - keys[0][0]
    blocks = [run_lines(bundles, run, numbers[run.name], width) for run in chosen]
    columns = flow(blocks, keys[0][3] - keys[0][1])
    sheets: list[Sheet] = []
    done = 0
    for page, words in enumerate(on_keys(columns, keys)):
        here = columns[page * len(keys) : (page + 1) * len(keys)]
        heads = sum(line.bold for column in here for line in column)
        members = chosen[done : done + heads]
        done += heads
        legs = [leg for run in members for leg in bundles.legs[run.name]]
        shapes = _map(vehicle, layout, bundles, area, legs,
                      [_run_pointer(bundles, run, numbers[run.name]) for run in members])
        sheets.append(Sheet("", "", (*shapes, words), (), cautions))
    stem = "runs" if not runs else f"run-{file_name(runs[0])}"
    return finish(vehicle, style, numbered(sheets, stem, title))


def draw_damage(
    vehicle: Vehicle,
    layout: Layout,
    damage: Damage,
    *,
    page_size: str = "A4",
    date: str = "",
    drawn_by: str = "",
) -> list[Page]:
    """Return the map of a damaged spot: its branches marked, and beside them what lies there."""
    style = SheetStyle(page_size, date, drawn_by)
    title = f"Damage: {damage.where}"
    cautions = standard_cautions(frozenset(["battery", "fuse"]))
    area = drawing_area(vehicle, style, f"{title} (1 of 1)", (), cautions)
    _, keys = split_area(area)
    width = keys[0][2] - keys[0][0]
    words = [line for text in damage_text(vehicle, damage)
             for line in wrapped(text.strip(), width, 3.0 if text.startswith(" ") else 0.0)]
    here = [pointer(spot, strong=True) for spot in find_spots(vehicle, layout)
            if spot.name == damage.place and damage.place and drawable(spot, layout)]
    shapes = _map(vehicle, layout, Bundles(vehicle), area, list(damage.legs), here, ACCENT)
    sheets = [Sheet("", "", (*shapes, key), (), cautions)
              for key in on_keys(flow([words], keys[0][3] - keys[0][1]), keys)]
    return finish(vehicle, style, numbered(sheets, "damage", title))


def run_lines(bundles: Bundles, run: Run, number: int, width: float) -> list[Line]:
    """Return what there is to say of a run: name, length, cover, wires, branch by branch."""
    found: list[Line] = []
    head = wrapped(f"R{number}  {run.label or run.name} ({run.name})", width, bold=True)
    found.append(Line(head[0].text, bold=True, space_before_mm=1.4))
    # only the first line is bold: it tells where a run begins in a column
    found += [Line(line.text, 6.0) for line in head[1:]]
    wires = len(bundles.wires_of(run.name))
    facts = [plural(wires)]
    if run.length_m is not None:
        facts.insert(0, f"{run.length_m:g} m")
    if run.cover:
        facts.append(run.cover)
    found += wrapped(", ".join(facts), width, 6.0)
    for leg in bundles.legs[run.name]:
        length = "" if leg.length_m is None else (
            f"{leg.length_m:.2f} m" if leg.measured else f"at least {leg.length_m:.2f} m")
        through = " (grommet)" if leg.end in run.grommets else ""
        count = len(bundles.wires_in(leg))
        found += wrapped(
            f"{leg.start} → {leg.end}{through}: "
            + ", ".join(word for word in (length, f"{plural(count)}") if word),
            width, 6.0, colour="#4a4f55")
    return found


def plural(count: int) -> str:
    return f"{count} {'wire' if count == 1 else 'wires'}"


def _run_pointer(bundles: Bundles, run: Run, number: int) -> Pointer | None:
    """Point at the middle of the run's longest branch, away from the places."""
    best: tuple[float, Point3] | None = None
    for leg in bundles.legs[run.name]:
        if leg.start in bundles.positions and leg.end in bundles.positions:
            a, b = bundles.positions[leg.start], bundles.positions[leg.end]
            size = math.dist(a, b)
            if best is None or size > best[0] + 1e-9:
                x, y, z = ((p + q) / 2 for p, q in zip(a, b, strict=True))
                best = (size, (x, y, z))
    if best is None:
        return None
    length = f" {run.length_m:g} m" if run.length_m is not None else ""
    return Pointer(run.name, f"R{number}{length}", best[1], "run", square=True,
                   title=run.label or run.name)


def _map(
    vehicle: Vehicle,
    layout: Layout,
    bundles: Bundles,
    area: tuple[float, float, float, float],
    marked: Sequence[Leg],
    pointers: Sequence[Pointer | None],
    colour: str = RUN_COLOUR,
) -> list[Shape]:
    left, _ = split_area(area)
    spots: list[Spot] = [spot for spot in find_spots(vehicle, layout) if drawable(spot, layout)]
    on_runs = {place for leg in marked for place in (leg.start, leg.end)}
    frames = fit_views(layout, left, [spot.position_mm for spot in spots if spot.position_mm])
    grommets = {place for run in vehicle.runs.values() for place in run.grommets}
    between = {
        view: tuple(_branches(bundles, frame, marked, grommets, colour))
        for view, frame in frames.items()
    }
    shown = [each for each in pointers if each is not None]
    views = draw_views(
        layout, left, shown, faint=[pointer(spot) for spot in spots if spot.name in on_runs],
        between=between, frames=frames)
    return list(views.shapes)


def _branches(
    bundles: Bundles, frame: MapFrame, marked: Sequence[Leg], grommets: set[str], colour: str
) -> list[Shape]:
    """Every branch as a line: marked ones strong, as thick as their bundle, the others faint;
    runs that share a branch lie side by side."""
    sharing: dict[frozenset[str], list[str]] = {}
    for legs in bundles.legs.values():
        for leg in legs:
            sharing.setdefault(frozenset((leg.start, leg.end)), []).append(leg.run)
    strong = set(marked)
    shapes: list[Shape] = []
    for wanted in (False, True):  # the marked ones on top
        for run, legs in bundles.legs.items():
            lines: list[Shape] = []
            for leg in legs:
                if (leg in strong) is not wanted:
                    continue
                line = _branch(bundles, frame, leg, sharing[frozenset((leg.start, leg.end))])
                if line is not None:
                    style = _style(bundles, leg, wanted, colour)
                    lines.append(Group((Polyline(line, style),), css="branch", data={
                        "loom": run, "from": leg.start, "to": leg.end}))
            if lines:
                shapes.append(Group(tuple(lines), css="loom" if wanted else "loom other",
                                    data={"loom": run, "view": str(frame.view)}))
    for place in bundles.positions:
        if place in grommets:
            x, y = frame.at(bundles.positions[place])
            shapes.append(Group(
                (Circle(x, y, 1.7, Style(INK, 0.25, "#ffffff")),
                 Circle(x, y, 1.0, Style(INK, 0.2))),
                css="grommet", data={"place": place, "view": str(frame.view)}, title="grommet"))
    return shapes


def _style(bundles: Bundles, leg: Leg, strong: bool, colour: str) -> Style:
    if not strong:
        return Style(FAINT, 0.35)
    count = len(bundles.wires_in(leg))
    return Style(colour, 0.6 + 0.12 * math.sqrt(count))


def _branch(
    bundles: Bundles, frame: MapFrame, leg: Leg, sharing: Sequence[str]
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    if leg.start not in bundles.positions or leg.end not in bundles.positions:
        return None
    first, last = sorted((leg.start, leg.end))
    a, b = frame.at(bundles.positions[first]), frame.at(bundles.positions[last])
    size = math.dist(a, b)
    if size < 1e-6:
        return (a, b)
    offset = (sharing.index(leg.run) - (len(sharing) - 1) / 2) * _APART_MM
    dx, dy = -(b[1] - a[1]) / size * offset, (b[0] - a[0]) / size * offset
    return ((a[0] + dx, a[1] + dy), (b[0] + dx, b[1] + dy))
