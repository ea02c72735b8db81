"""Texts, symbols and margins: overlaps, text on foreign things, wires through symbols."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from svg_checker.findings import Finding
from svg_checker.geometry import (
    Box,
    Point,
    bounds,
    boxes_meet,
    overlap_depth,
    polygon_distance,
    segment_polygon_distance,
    shrink,
    trimmed,
)
from svg_checker.sheet import SYMBOL_CLASSES, Group, Shape, Sheet, Text, symbol_name
from svg_checker.wires import DrawnWire

TOUCH_MM = 0.1
"""Boxes of text may come this much into each other: the boxes of fonts are wider than the ink."""
OWN_END_MM = 0.4
"""The stretch at a wire's end that belongs to the terminal which it is on."""


def check_texts(sheet: Sheet) -> list[Finding]:
    """Texts that lie on each other, and texts that a later painted area hides."""
    findings = []
    boxes = [bounds(text.box) for text in sheet.texts]
    for i, text in enumerate(sheet.texts):
        for j in range(i + 1, len(sheet.texts)):
            other = sheet.texts[j]
            if boxes_meet(boxes[i], boxes[j]) and overlap_depth(text.box, other.box) > TOUCH_MM:
                findings.append(
                    Finding(sheet.name, "overlapping texts", text.text, other.text, text.at)
                )
        for shape in sheet.shapes:
            if (
                shape.order > text.order
                and shape.filled
                and len(shape.points) > 2
                and boxes_meet(bounds(text.ink), shape.box)
                and polygon_distance(text.ink, shape.points) == 0
            ):
                findings.append(Finding(sheet.name, "hidden text", text.text, at=text.at))
    return findings


def _shape_text_gap(shape: Shape, box: Sequence[Point]) -> float:
    """Return the distance between the paint of a shape and a text's box (0: they touch)."""
    if (shape.closed or shape.filled) and len(shape.points) > 2:
        return max(0.0, polygon_distance(shape.points, box) - shape.reach_mm)
    return min((polygon_distance(area, box) for area in shape.strokes), default=float("inf"))


def symbols(sheet: Sheet) -> list[tuple[Group, list[Shape]]]:
    """Return the symbols with their visible shapes; symbols nested in symbols count once each."""
    found = []
    for group in sheet.with_class(*SYMBOL_CLASSES):
        shapes = [
            shape
            for shape in sheet.shapes_in(
                group.index, without=(*SYMBOL_CLASSES, "terminal", "label", "wire-label", "wire")
            )
            if shape.visible
        ]
        if shapes:
            found.append((group, shapes))
    return found


def check_text_on_symbols(sheet: Sheet) -> list[Finding]:
    """Texts on the symbol of something else. A closed outline counts with all that is in it."""
    findings = []
    drawn = [(group, shape, shape.box) for group, shapes in symbols(sheet) for shape in shapes]
    for text in sheet.texts:
        owners = sheet.owners(text.group)
        box = shrink(text.box, TOUCH_MM)
        rough = bounds(box)
        for group, shape, shape_box in drawn:
            if not boxes_meet(rough, shape_box):
                continue
            if sheet.inside(text.group, group.index) or symbol_name(group) in owners:
                continue
            if _shape_text_gap(shape, box) == 0:
                findings.append(
                    Finding(
                        sheet.name,
                        "text on a foreign symbol",
                        text.text,
                        symbol_name(group),
                        text.at,
                    )
                )
                break
    return findings


def check_text_on_own_symbol(sheet: Sheet) -> list[Finding]:
    """Texts whose glyphs a line of their own symbol strikes through."""
    findings = []
    drawn = [(group, shape, shape.box) for group, shapes in symbols(sheet) for shape in shapes]
    for text in sheet.texts:
        owners = sheet.owners(text.group)
        ink = shrink(text.ink, TOUCH_MM)
        rough = bounds(ink)
        for group, shape, shape_box in drawn:
            if not shape.stroked or not boxes_meet(rough, shape_box):
                continue
            if not sheet.inside(text.group, group.index) and symbol_name(group) not in owners:
                continue
            if any(polygon_distance(area, ink) == 0 for area in shape.strokes):
                findings.append(
                    Finding(
                        sheet.name,
                        "text struck through by its own symbol",
                        text.text,
                        symbol_name(group),
                        text.at,
                    )
                )
                break
    return findings


def check_text_on_wires(sheet: Sheet, wires: Iterable[DrawnWire]) -> list[Finding]:
    """Texts on a wire: a foreign one with the whole text box, its own with the glyphs."""
    findings = []
    lines = [(wire, wire.box) for wire in wires]
    for text in sheet.texts:
        owners = sheet.owners(text.group)
        for wire, wire_box in lines:
            own = wire.name in owners
            box = shrink(text.ink if own else text.box, TOUCH_MM)
            if not boxes_meet(bounds(box), wire_box):
                continue
            if any(polygon_distance(area, box) == 0 for area in wire.areas):
                what = "text struck through by its own wire" if own else "text on a foreign wire"
                findings.append(Finding(sheet.name, what, text.text, wire.name, text.at))
    return findings


def _enters(line: Sequence[tuple[Point, Point]], shape: Shape, reach: float) -> Point | None:
    area = shape.closed or shape.filled
    for a, b in line:
        if not boxes_meet(bounds((a, b), reach), shape.box):
            continue
        if area and len(shape.points) > 2:
            gap = segment_polygon_distance(a, b, shape.points) - shape.reach_mm
        else:
            gap = min(
                (segment_polygon_distance(a, b, area) for area in shape.strokes),
                default=float("inf"),
            )
        if gap < max(1e-3, reach - 0.05):
            return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return None


def check_wires_through_symbols(sheet: Sheet, wires: Iterable[DrawnWire]) -> list[Finding]:
    """Wires that run into a symbol other than at their own ends.

    A wire may touch the symbols that it ends at only within OWN_END_MM of that end; splices, earth
    points and references are small marks that a wire ends in the middle of.
    """
    findings = []
    drawn = [(group, shape, shape.box) for group, shapes in symbols(sheet) for shape in shapes]
    for wire in wires:
        box = wire.box
        ends = {wire.from_node, wire.to_node}
        parts = {node.split(".")[0] for node in ends}
        seen: set[int] = set()
        for group, shape, shape_box in drawn:
            if group.index in seen or not boxes_meet(box, shape_box):
                continue
            own = symbol_name(group) in ends or group.data.get("part") in parts
            if own and not {"part", "plug"} & set(group.classes):
                continue
            if own:
                line = trimmed(wire.points, OWN_END_MM, OWN_END_MM)
                segments = list(pairwise(line))
                at = _enters(segments, shape, 0.0)
            else:
                at = _enters(wire.pieces, shape, wire.width_mm / 2)
            if at is not None:
                seen.add(group.index)
                findings.append(
                    Finding(sheet.name, "wire through a symbol", wire.name, symbol_name(group), at)
                )
    return findings


def check_symbols_apart(sheet: Sheet) -> list[Finding]:
    """Symbols drawn on each other."""
    findings = []
    drawn = symbols(sheet)
    boxes = [bounds([p for shape in shapes for p in shape.points]) for _, shapes in drawn]
    for i, (group, shapes) in enumerate(drawn):
        for j in range(i + 1, len(drawn)):
            other, others = drawn[j]
            if not boxes_meet(boxes[i], boxes[j]):
                continue
            if sheet.inside(group.index, other.index) or sheet.inside(other.index, group.index):
                continue
            if _belong_together(group, other) and _shallow(boxes[i], boxes[j]):
                continue  # a mark that hangs on the part's own terminal
            if any(_shapes_meet(a, b) for a in shapes for b in others):
                findings.append(
                    Finding(
                        sheet.name,
                        "symbols on each other",
                        symbol_name(group),
                        symbol_name(other),
                        (boxes[j][0], boxes[j][1]),
                    )
                )
    return findings


def _belong_together(group: Group, other: Group) -> bool:
    return symbol_name(group).split(".")[0] == symbol_name(other).split(".")[0]


def _shallow(a: Box, b: Box) -> bool:
    return min(min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])) < OWN_END_MM


def _shapes_meet(a: Shape, b: Shape) -> bool:
    if not boxes_meet(a.box, b.box):
        return False
    reach = a.reach_mm + b.reach_mm - 0.05
    if a.closed and b.closed and len(a.points) > 2 and len(b.points) > 2:
        return polygon_distance(a.points, b.points) < max(1e-3, reach)
    if b.closed and len(b.points) > 2:
        a, b = b, a
    lines = pairwise(b.points)
    return any(_enters([line], a, b.reach_mm) is not None for line in lines)


def check_page(sheet: Sheet) -> list[Finding]:
    """Everything on the paper, and every symbol, wire and text of one within the frame if any."""
    findings = []
    frame = [s for g in sheet.with_class("frame") for s in sheet.shapes_in(g.index) if s.closed]
    limit = (0.0, 0.0, sheet.width_mm, sheet.height_mm)
    inner = bounds([p for s in frame for p in s.points]) if frame else limit

    def beyond(points: Sequence[Point], area: tuple[float, float, float, float]) -> bool:
        x1, y1, x2, y2 = bounds(points)
        slack = 1e-3
        return (
            x1 < area[0] - slack
            or y1 < area[1] - slack
            or x2 > area[2] + slack
            or y2 > area[3] + slack
        )

    for shape in sheet.shapes:
        if not shape.visible:
            continue
        thing = sheet.nearest(shape.group, *SYMBOL_CLASSES, "wire", "call-out", "callout", "leader")
        if beyond(shape.points, inner if thing is not None else limit):
            name = (symbol_name(thing) or thing.data.get("wire", "")) if thing else "a line"
            findings.append(Finding(sheet.name, "part off the page", name, at=shape.points[0]))
    for text in sheet.texts:
        owned = bool(sheet.owners(text.group))
        if beyond(text.box, inner if owned else limit):
            findings.append(Finding(sheet.name, "text off the page", text.text, at=text.at))
        if text.mirrored:
            findings.append(Finding(sheet.name, "mirrored text", text.text, at=text.at))
    return list(dict.fromkeys(findings))


def smallest_text(sheets: Iterable[Sheet]) -> tuple[float, float]:
    """Return the smallest font size and the smallest height of capitals, in mm on paper."""
    texts: list[Text] = [text for sheet in sheets for text in sheet.texts]
    return (
        min((text.size_mm for text in texts), default=0.0),
        min((text.capital_mm for text in texts), default=0.0),
    )
