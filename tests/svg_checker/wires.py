"""The wires of a sheet: where they run, where they end, where they cross and bend."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from svg_checker.findings import Finding
from svg_checker.geometry import (
    Box,
    Point,
    bounds,
    boxes_meet,
    crossing_point,
    distance,
    point_segment_distance,
)
from svg_checker.sheet import Group, Shape, Sheet

JOIN_MM = 0.05
"""Pieces of one line meet this closely."""
END_MM = 0.3
"""How near a wire's end must be to its terminal."""
LAYER_MM = 0.3
"""How far the tracer and the outline may be from the wire's own line."""
STRAIGHT_DEG = 5.0


@dataclass(frozen=True)
class DrawnWire:
    """One wire group put together again: its line from end to end."""

    sheet: str
    name: str
    from_node: str
    to_node: str
    points: tuple[Point, ...]
    curved: tuple[bool, ...]
    width_mm: float
    group: int

    @property
    def box(self) -> Box:
        return bounds(self.points, self.width_mm / 2)

    @property
    def segments(self) -> list[tuple[Point, Point]]:
        """The line with each hop (an arc that goes on in the same direction) made straight, so
        that a crossing with a hop counts once and like any other."""
        points = [self.points[0]]
        for i, point in enumerate(self.points[1:]):
            inside_curve = self.curved[i] and i + 1 < len(self.curved) and self.curved[i + 1]
            if not inside_curve:
                points.append(point)
        return list(pairwise(points))

    @property
    def pieces(self) -> list[tuple[Point, Point]]:
        """The line as painted, hops included."""
        return list(pairwise(self.points))

    @cached_property
    def areas(self) -> list[tuple[Point, ...]]:
        """What the line paints: a rectangle for each piece, square at the wire's ends (butt caps)
        and reaching round the corners between pieces."""
        reach = self.width_mm / 2
        found: list[tuple[Point, ...]] = []
        for i, (a, b) in enumerate(self.pieces):
            length = distance(a, b)
            if length < 1e-9:
                continue
            ux, uy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
            start = reach if i else 0.0
            end = reach if i + 2 < len(self.points) else 0.0
            ax, ay, bx, by = a[0] - ux * start, a[1] - uy * start, b[0] + ux * end, b[1] + uy * end
            nx, ny = uy * reach, -ux * reach
            found.append(
                ((ax + nx, ay + ny), (bx + nx, by + ny), (bx - nx, by - ny), (ax - nx, ay - ny))
            )
        return found

    @property
    def bends(self) -> int:
        """Changes of direction between straight stretches; a hop is none, a rounded corner one."""
        directions: list[float] = []
        for (a, b), curved in zip(pairwise(self.points), self.curved, strict=True):
            if not curved and distance(a, b) > 1e-3:
                directions.append(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
        return sum(
            1 for a, b in pairwise(directions) if abs((b - a + 180) % 360 - 180) > STRAIGHT_DEG
        )


def chains(shapes: Sequence[Shape]) -> list[tuple[list[Point], list[bool]]]:
    """Join lines that meet end to end; returns one (points, curved) for each connected line."""
    pieces = [(list(s.points), list(s.curved)) for s in shapes]
    joined = True
    while joined:
        joined = False
        for i in range(len(pieces)):
            for j in range(i + 1, len(pieces)):
                (a, ac), (b, bc) = pieces[i], pieces[j]
                for a_turned in (False, True):
                    for b_turned in (False, True):
                        left = (a[::-1], ac[::-1]) if a_turned else (a, ac)
                        right = (b[::-1], bc[::-1]) if b_turned else (b, bc)
                        if not joined and distance(left[0][-1], right[0][0]) <= JOIN_MM:
                            pieces[i] = (left[0] + right[0][1:], left[1] + right[1])
                            del pieces[j]
                            joined = True
                if joined:
                    break
            if joined:
                break
    return pieces


def _length(points: Sequence[Point]) -> float:
    return sum(distance(a, b) for a, b in pairwise(points))


def read_wire(sheet: Sheet, group: Group) -> tuple[DrawnWire | None, list[Finding]]:
    """Return the wire that `group` draws, with what is wrong in the drawing of it.

    A wire is painted in layers (outline, colour, tracer); the longest layer is taken as its line
    and the others must follow it.
    """
    name = group.data.get("wire", "")
    shapes = [
        s
        for s in sheet.shapes_in(group.index, without=("terminal", "wire-label", "label"))
        if s.stroked and not s.closed and len(s.points) > 1
    ]
    if not shapes:
        return None, [Finding(sheet.name, "wire without a line", name)]
    layers: dict[tuple[str, float, bool], list[Shape]] = {}
    for shape in shapes:
        layers.setdefault((shape.stroke, shape.stroke_mm, shape.dashed), []).append(shape)
    chained = {key: chains(found) for key, found in layers.items()}
    main_key = max(chained, key=lambda key: (sum(_length(p) for p, _ in chained[key]), key[1]))
    findings: list[Finding] = []
    if len(chained[main_key]) > 1:
        gap = chained[main_key][0][0][-1]
        findings.append(Finding(sheet.name, "wire in pieces", name, at=gap))
    points, curved = max(chained[main_key], key=lambda piece: _length(piece[0]))
    for key, pieces in chained.items():
        for line, _ in pieces if key != main_key else ():
            strays = [p for p in line if gap_to_line(p, points) > LAYER_MM]
            if not key[2]:  # a dashed line is a tracer, which may stop short of the ends
                strays += [p for p in points if gap_to_line(p, line) > LAYER_MM]
            if strays:
                findings.append(Finding(sheet.name, "stray line in a wire", name, at=strays[0]))
    width = max(shape.stroke_mm for shape in shapes)
    ends = (group.data.get("from", ""), group.data.get("to", ""))
    return DrawnWire(
        sheet.name, name, *ends, tuple(points), tuple(curved), width, group.index
    ), findings


def gap_to_line(point: Point, line: Sequence[Point]) -> float:
    return min(point_segment_distance(point, a, b) for a, b in pairwise(line))


def read_wires(sheet: Sheet) -> tuple[list[DrawnWire], list[Finding]]:
    """Return all wires of a sheet and what is wrong with the drawing of single ones."""
    wires: list[DrawnWire] = []
    findings: list[Finding] = []
    for group in sheet.with_class("wire"):
        wire, wrong = read_wire(sheet, group)
        findings.extend(wrong)
        if wire is not None:
            wires.append(wire)
    return wires, findings


def terminals(sheet: Sheet) -> dict[str, list[Point]]:
    """Return the drawn connection points of each node: the middle of each terminal mark."""
    found: dict[str, list[Point]] = {}
    for group in sheet.with_class("terminal"):
        points = [p for s in sheet.shapes_in(group.index) for p in s.points]
        if points:
            x1, y1, x2, y2 = bounds(points)
            found.setdefault(group.data.get("node", ""), []).append(((x1 + x2) / 2, (y1 + y2) / 2))
    return found


def check_wire_ends(sheet: Sheet, wires: Iterable[DrawnWire]) -> list[Finding]:
    """Both ends of each wire on a terminal mark of the node that the wire says it goes to."""
    marks = terminals(sheet)
    findings = []
    for wire in wires:
        first, last = wire.points[0], wire.points[-1]
        ways = []
        for a, b in ((first, last), (last, first)):
            gaps = [
                min((distance(p, m) for m in marks.get(node, ())), default=math.inf)
                for p, node in ((a, wire.from_node), (b, wire.to_node))
            ]
            ways.append((max(gaps), gaps, (a, b)))
        worst, gaps, points = min(ways, key=lambda way: way[0])
        if worst > END_MM:
            end = 0 if gaps[0] > gaps[1] else 1
            node = (wire.from_node, wire.to_node)[end]
            findings.append(
                Finding(
                    sheet.name,
                    "wire end off its terminal",
                    wire.name,
                    node,
                    points[end],
                    "no such terminal drawn" if node not in marks else f"{gaps[end]:.2f} mm off",
                )
            )
    return findings


def check_every_wire_once(
    wires: Iterable[DrawnWire], expected: Mapping[str, tuple[str, str]]
) -> list[Finding]:
    """Each wire of the file on exactly one place of all sheets, between the nodes of the file.

    `expected` maps a wire's name to its two node keys.
    """
    drawn = list(wires)
    count = Counter(wire.name for wire in drawn)
    findings = [Finding("", "wire not drawn", name) for name in expected if not count[name]]
    for wire in drawn:
        if wire.name not in expected:
            findings.append(Finding(wire.sheet, "wire that the file does not have", wire.name))
        elif {wire.from_node, wire.to_node} != set(expected[wire.name]):
            findings.append(Finding(wire.sheet, "wire between the wrong nodes", wire.name))
        if count[wire.name] > 1:
            findings.append(Finding(wire.sheet, "wire drawn twice", wire.name))
    return findings


def nets(joins: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return for each node a name of its net: nodes joined by wire belong together."""
    root: dict[str, str] = {}

    def find(node: str) -> str:
        root.setdefault(node, node)
        while root[node] != node:
            root[node] = root[root[node]]
            node = root[node]
        return node

    for a, b in joins:
        root[find(a)] = find(b)
    return {node: find(node) for node in root}


@dataclass(frozen=True)
class Crossing:
    first: str
    second: str
    at: Point


def crossings(lines: Sequence[tuple[str, str, list[tuple[Point, Point]]]]) -> list[Crossing]:
    """Return every point where lines of different nets cross; `lines` is (name, net, segments)."""
    boxes = [bounds([p for s in segments for p in s]) for _, _, segments in lines]
    found = []
    for i, (first, net, segments) in enumerate(lines):
        for j in range(i + 1, len(lines)):
            second, other_net, others = lines[j]
            if net == other_net or not boxes_meet(boxes[i], boxes[j]):
                continue
            for a, b in segments:
                for c, d in others:
                    at = crossing_point(a, b, c, d)
                    if at is not None:
                        found.append(Crossing(first, second, at))
    return found


def check_false_joints(wires: Sequence[DrawnWire], net_of: Mapping[str, str]) -> list[Finding]:
    """Wires of different nets that run on top of each other, or where one ends on another."""
    findings = []
    boxes = [wire.box for wire in wires]
    for i, wire in enumerate(wires):
        for j, other in enumerate(wires):
            if i == j or net_of.get(wire.from_node) == net_of.get(other.from_node):
                continue
            if not boxes_meet(boxes[i], boxes[j]):
                continue
            for p in (wire.points[0], wire.points[-1]):
                if gap_to_line(p, other.points) < 0.1:
                    findings.append(
                        Finding(wire.sheet, "wire ends on a foreign wire", wire.name, other.name, p)
                    )
            if i < j:
                at = _runs_along(wire, other)
                if at is not None:
                    findings.append(
                        Finding(wire.sheet, "wires on top of each other", wire.name, other.name, at)
                    )
    return findings


def _runs_along(wire: DrawnWire, other: DrawnWire) -> Point | None:
    """Return a point where two wires run side by side nearer than half their widths."""
    near = (wire.width_mm + other.width_mm) / 2
    for a, b in wire.segments:
        length = distance(a, b)
        if length < 1e-6:
            continue
        u = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
        for c, d in other.segments:
            if abs(u[0] * (d[1] - c[1]) - u[1] * (d[0] - c[0])) > 0.05 * distance(c, d):
                continue  # not parallel
            if abs(u[0] * (c[1] - a[1]) - u[1] * (c[0] - a[0])) >= near:
                continue
            along = sorted(u[0] * (p[0] - a[0]) + u[1] * (p[1] - a[1]) for p in (c, d))
            start, end = max(0.0, along[0]), min(length, along[1])
            if end - start > 0.2:
                middle = (start + end) / 2
                return (a[0] + u[0] * middle, a[1] + u[1] * middle)
    return None
