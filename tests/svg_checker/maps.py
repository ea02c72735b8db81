"""Locator maps: call-outs apart, leaders clear of other texts and ending at their place."""

from __future__ import annotations

import math
from itertools import pairwise

from svg_checker.findings import Finding
from svg_checker.geometry import (
    Point,
    bounds,
    boxes_meet,
    distance,
    overlap_depth,
    segment_polygon_distance,
    shrink,
)
from svg_checker.page import TOUCH_MM
from svg_checker.sheet import Group, Sheet
from svg_checker.wires import chains, crossings

CALL_OUT = ("call-out", "callout")
LEADER_END_MM = 2.0


def _box(sheet: Sheet, group: Group) -> tuple[Point, ...]:
    """Return the call-out's box: all that is painted in it."""
    points = [
        p
        for s in sheet.shapes_in(group.index, without=("leader", "place"))
        if s.visible
        for p in s.points
    ]
    for text in sheet.texts:
        if sheet.inside(text.group, group.index):
            points.extend(text.box)
    if not points:
        return ()
    x1, y1, x2, y2 = bounds(points)
    return ((x1, y1), (x2, y1), (x2, y2), (x1, y2))


def check_map(sheet: Sheet) -> list[Finding]:
    """Return what is wrong with the call-outs, leaders and place marks of one map."""
    findings: list[Finding] = []
    boxes = [
        (group.data.get("place", ""), _box(sheet, group)) for group in sheet.with_class(*CALL_OUT)
    ]
    for name, box in boxes:
        if not box:
            findings.append(Finding(sheet.name, "empty call-out", name))
    boxes = [(name, box) for name, box in boxes if box]
    for i, (name, box) in enumerate(boxes):
        for other, other_box in boxes[i + 1 :]:
            if overlap_depth(box, other_box) > TOUCH_MM:
                findings.append(Finding(sheet.name, "call-outs on each other", name, other, box[0]))

    marks: dict[str, list[Point]] = {}
    for group in sheet.with_class("place"):
        points = [p for s in sheet.shapes_in(group.index) for p in s.points]
        if points:
            x1, y1, x2, y2 = bounds(points)
            marks.setdefault(group.data.get("place", ""), []).append(((x1 + x2) / 2, (y1 + y2) / 2))

    leaders: dict[str, list[list[Point]]] = {}
    for group in sheet.with_class("leader"):
        name = group.data.get("place", "")
        lines = [s for s in sheet.shapes_in(group.index) if s.stroked and not s.closed]
        for points, _ in chains(lines):
            leaders.setdefault(name, []).append(points)
            findings.extend(_check_leader(sheet, name, points, marks.get(name, [])))
    for name, _ in boxes:
        if name not in leaders:
            findings.append(Finding(sheet.name, "call-out without a leader", name))
    findings.extend(_leaders_cross(sheet, leaders))
    return findings


def _check_leader(
    sheet: Sheet, name: str, points: list[Point], marks: list[Point]
) -> list[Finding]:
    findings = []
    gap = min((distance(p, m) for p in (points[0], points[-1]) for m in marks), default=math.inf)
    if gap > LEADER_END_MM:
        detail = f"{gap:.2f} mm off" if marks else "no mark of that place"
        findings.append(Finding(sheet.name, "leader off its place", name, "", points[-1], detail))
    for text in sheet.texts:
        if name in sheet.owners(text.group):
            continue
        box = shrink(text.box, TOUCH_MM)
        if not boxes_meet(bounds(points), bounds(box)):
            continue
        pairs = pairwise(points)
        if any(segment_polygon_distance(a, b, box) == 0 for a, b in pairs):
            findings.append(
                Finding(sheet.name, "leader through another's text", name, text.text, text.at)
            )
    return findings


def _leaders_cross(sheet: Sheet, leaders: dict[str, list[list[Point]]]) -> list[Finding]:
    lines = [
        (name, name, list(pairwise(points))) for name, found in leaders.items() for points in found
    ]
    return [Finding(sheet.name, "leaders cross", c.first, c.second, c.at) for c in crossings(lines)]
