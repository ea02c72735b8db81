"""Supply lines and terminal marks: what hangs on a line belongs to it, and every mark of a
connection point is joined by ink to the symbol that it is a terminal of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from svg_checker.findings import Finding
from svg_checker.geometry import (
    Point,
    bounds,
    boxes_meet,
    crossing_point,
    inside_polygon,
    point_segment_distance,
    polygon_distance,
    shrink,
)
from svg_checker.page import TOUCH_MM, symbols
from svg_checker.sheet import SYMBOL_CLASSES, Group, Shape, Sheet, symbol_name
from svg_checker.wires import END_MM, Crossing, DrawnWire

EARTH_LINE = "31"
ANCHORS = (*SYMBOL_CLASSES, "bond", "rail")
_NOT_INK = (
    "wire", "label", "wire-label", "frame", "title-block", "legend", "cautions", "tracks", "paper",
)  # fmt: skip


def rails(sheet: Sheet) -> list[tuple[Group, list[Shape]]]:
    """Return the supply lines and the earth line of a sheet."""
    found = []
    for group in sheet.with_class("rail"):
        lines = [s for s in sheet.shapes_in(group.index) if s.visible and not s.closed]
        if lines:
            found.append((group, lines))
    return found


def rail_crossings(sheet: Sheet, wires: Sequence[DrawnWire]) -> list[Crossing]:
    """Return where wires run over a supply line on to its other side."""
    found = []
    for group, lines in rails(sheet):
        for wire in wires:
            for a, b in wire.segments:
                for shape in lines:
                    for c, d in pairwise(shape.points):
                        at = crossing_point(a, b, c, d)
                        if at is not None:
                            found.append(Crossing(wire.name, group.data.get("rail", ""), at))
    return found


def check_rails(sheet: Sheet) -> list[Finding]:
    """Texts and symbols on a supply line that they do not belong to."""
    findings = []
    drawn = symbols(sheet)
    for group, lines in rails(sheet):
        name = group.data.get("rail", "")
        areas = [area for shape in lines for area in shape.strokes]
        for text in sheet.texts:
            box = shrink(text.box, TOUCH_MM)
            if any(polygon_distance(area, box) == 0 for area in areas):
                findings.append(
                    Finding(sheet.name, "text on a supply line", text.text, name, text.at)
                )
        for symbol, shapes in drawn:
            if "splice" in symbol.classes or (name == EARTH_LINE and "earth" in symbol.classes):
                continue
            if any(
                polygon_distance(area, stroke) == 0
                for shape in shapes
                for stroke in shape.strokes
                for area in areas
                if boxes_meet(bounds(area), bounds(stroke))
            ):
                findings.append(
                    Finding(
                        sheet.name,
                        "symbol on a supply line",
                        symbol_name(symbol),
                        name,
                        shapes[0].points[0],
                    )
                )
    return findings


def _ink(sheet: Sheet) -> list[Shape]:
    return [
        shape
        for shape in sheet.shapes
        if shape.visible and sheet.nearest(shape.group, *_NOT_INK) is None
    ]


def _touches(shape: Shape, at: Point, within: float) -> bool:
    x1, y1, x2, y2 = shape.box
    if not (x1 - within <= at[0] <= x2 + within and y1 - within <= at[1] <= y2 + within):
        return False
    ends = [*shape.points, shape.points[0]] if shape.closed else list(shape.points)
    if shape.filled and len(shape.points) > 2 and inside_polygon(at, shape.points):
        return True
    return any(
        point_segment_distance(at, a, b) <= within + shape.reach_mm for a, b in pairwise(ends)
    )


def _components(shapes: Sequence[Shape]) -> list[int]:
    """Return a number for each shape, the same for shapes whose paint touches."""
    number = list(range(len(shapes)))

    def find(i: int) -> int:
        while number[i] != i:
            number[i] = number[number[i]]
            i = number[i]
        return i

    boxes = [shape.box for shape in shapes]
    strokes = [[(area, bounds(area, 0.05)) for area in shape.strokes] for shape in shapes]
    order = sorted(range(len(shapes)), key=lambda i: boxes[i][0])
    for place, i in enumerate(order):
        for j in order[place + 1 :]:
            if boxes[j][0] > boxes[i][2] + 0.1:
                break
            if find(i) == find(j) or not boxes_meet(
                bounds([boxes[i][:2], boxes[i][2:]], 0.1), boxes[j]
            ):
                continue
            if any(
                boxes_meet(a_box, b_box) and polygon_distance(a, b) <= 0.1
                for a, a_box in strokes[i]
                for b, b_box in strokes[j]
            ):
                number[find(i)] = find(j)
    return [find(i) for i in range(len(shapes))]


def check_terminals(
    sheet: Sheet, net_of: Mapping[str, str], wires: Sequence[DrawnWire]
) -> list[Finding]:
    """Every mark at which a wire ends stands at its own symbol, or is joined to it by ink (a bar
    that several wires share), or stands on a supply line of its own net."""
    if not wires:
        return []
    shapes = _ink(sheet)
    component = _components(shapes)
    index_of = {id(shape): i for i, shape in enumerate(shapes)}
    anchors: dict[str, set[int]] = {}
    marks: list[tuple[Group, Point, str]] = []
    for group in sheet.with_class("terminal"):
        points = [p for s in sheet.shapes_in(group.index) for p in s.points]
        if points:
            x1, y1, x2, y2 = bounds(points)
            marks.append((group, ((x1 + x2) / 2, (y1 + y2) / 2), group.data.get("node", "")))
    held: set[int] = set()
    for group, _, node in marks:
        holder = sheet.nearest(group.parent, *ANCHORS)
        if holder is not None:
            held.add(group.index)
            anchors.setdefault(node, set()).update(
                component[index_of[id(s)]]
                for s in sheet.shapes_in(holder.index)
                if id(s) in index_of
            )
    for group in sheet.with_class(*SYMBOL_CLASSES):
        if group.data.get("node"):
            anchors.setdefault(group.data["node"], set()).update(
                component[index_of[id(s)]]
                for s in sheet.shapes_in(group.index)
                if id(s) in index_of
            )
    on_rail: dict[str, list[tuple[str, Point]]] = {}
    used = [p for wire in wires for p in (wire.points[0], wire.points[-1])]
    findings = []
    for group, at, node in marks:
        if group.index in held or not any(
            abs(p[0] - at[0]) <= END_MM and abs(p[1] - at[1]) <= END_MM for p in used
        ):
            continue
        rail = next(
            (
                g.data.get("rail", "")
                for g, lines in rails(sheet)
                if any(_touches(line, at, END_MM) for line in lines)
            ),
            None,
        )
        if rail is not None:
            on_rail.setdefault(rail, []).append((node, at))
            continue
        here = {component[i] for i, shape in enumerate(shapes) if _touches(shape, at, END_MM)}
        if not here & anchors.get(node, set()):
            what = "joined to nothing of it" if node in anchors else "it is not on this sheet"
            findings.append(
                Finding(sheet.name, "terminal away from its symbol", node, "", at, what)
            )
    for rail, hung in on_rail.items():
        nets = {net_of.get(node, node) for node, _ in hung}
        if rail != EARTH_LINE and len(nets) > 1:
            findings.append(
                Finding(
                    sheet.name,
                    "supply line of several nets",
                    rail,
                    ", ".join(sorted(nets)),
                    hung[0][1],
                )
            )
    return findings
