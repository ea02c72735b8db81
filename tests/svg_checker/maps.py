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

LEADER_END_MM = 2.0

Thing = tuple[str, ...]
"""What a mark, a leader or a call-out is about: its data- attributes (place and view, or part)."""


def _about(group: Group) -> Thing:
    return tuple(value for _, value in sorted(group.data.items()))


def _named(group: Group) -> str:
    return " ".join(_about(group))


def _ending(sheet: Sheet, *words: str) -> list[Group]:
    """Return the groups with a class that is one of the words, or ends in it (`part-leader`)."""
    endings = tuple(f"-{word}" for word in words)
    return [
        group
        for group in sheet.groups
        if any(name in words or name.endswith(endings) for name in group.classes)
    ]


def call_outs(sheet: Sheet) -> list[Group]:
    return _ending(sheet, "callout", "call-out")


def leaders(sheet: Sheet) -> list[Group]:
    return _ending(sheet, "leader")


def marks(sheet: Sheet) -> dict[Thing, list[Point]]:
    """Return where each thing is marked: every group with the data of some leader that is
    neither a leader nor a call-out."""
    wanted = {_about(group) for group in leaders(sheet)}
    others = {group.index for group in [*leaders(sheet), *call_outs(sheet)]}
    found: dict[Thing, list[Point]] = {}
    for group in sheet.groups:
        if _about(group) in wanted and group.index not in others and group.data:
            points = [p for s in sheet.shapes_in(group.index) for p in s.points]
            if points:
                x1, y1, x2, y2 = bounds(points)
                found.setdefault(_about(group), []).append(((x1 + x2) / 2, (y1 + y2) / 2))
    return found


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
    boxes = [(group, _box(sheet, group)) for group in call_outs(sheet)]
    for group, box in boxes:
        if not box:
            findings.append(Finding(sheet.name, "empty call-out", _named(group)))
    boxes = [(group, box) for group, box in boxes if box]
    for i, (group, box) in enumerate(boxes):
        for other, other_box in boxes[i + 1 :]:
            if overlap_depth(box, other_box) > TOUCH_MM:
                findings.append(
                    Finding(
                        sheet.name, "call-outs on each other", _named(group), _named(other), box[0]
                    )
                )
    marked = marks(sheet)
    lines: list[tuple[str, str, list[tuple[Point, Point]]]] = []
    led: set[Thing] = set()
    for group in leaders(sheet):
        led.add(_about(group))
        strokes = [s for s in sheet.shapes_in(group.index) if s.stroked and not s.closed]
        for points, _ in chains(strokes):
            lines.append((_named(group), _named(group), list(pairwise(points))))
            findings.extend(_check_leader(sheet, group, points, marked.get(_about(group), [])))
    for group, box in boxes:
        if _about(group) not in led:
            findings.append(
                Finding(sheet.name, "call-out without a leader", _named(group), at=box[0])
            )
    findings.extend(
        Finding(sheet.name, "leaders cross", c.first, c.second, c.at) for c in crossings(lines)
    )
    return findings


def _check_leader(
    sheet: Sheet, group: Group, points: list[Point], marks: list[Point]
) -> list[Finding]:
    findings = []
    name = _named(group)
    gap = min((distance(p, m) for p in (points[0], points[-1]) for m in marks), default=math.inf)
    if gap > LEADER_END_MM:
        detail = f"{gap:.2f} mm off" if marks else "no mark of that place"
        findings.append(Finding(sheet.name, "leader off its place", name, "", points[-1], detail))
    for text in sheet.texts:
        if any(_about(g) == _about(group) for g in sheet.chain(text.group)):
            continue
        box = shrink(text.box, TOUCH_MM)
        if not boxes_meet(bounds(points), bounds(box)):
            continue
        if any(segment_polygon_distance(a, b, box) == 0 for a, b in pairwise(points)):
            findings.append(
                Finding(sheet.name, "leader through another's text", name, text.text, text.at)
            )
    return findings
