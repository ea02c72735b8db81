"""The same sheet laid out by graphviz's dot engine with orthogonal edges, for comparison.

The graph is read from the SVG: every drawn symbol is a node of its own size, every wire an edge.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise

import pygraphviz  # type: ignore[import-untyped]

from svg_checker.geometry import Point, bounds, distance
from svg_checker.sheet import SYMBOL_CLASSES, Sheet
from svg_checker.wires import Crossing, DrawnWire, crossings, read_wires

MM_PER_INCH = 25.4
LEAST_MM = 2.0


def symbol_at(sheet: Sheet) -> list[tuple[Point, str, int]]:
    """Return (place, node, symbol's group or -1) of every terminal mark."""
    found = []
    for group in sheet.with_class("terminal"):
        points = [p for s in sheet.shapes_in(group.index) for p in s.points]
        if points:
            x1, y1, x2, y2 = bounds(points)
            holder = sheet.nearest(group.index, *SYMBOL_CLASSES)
            at = ((x1 + x2) / 2, (y1 + y2) / 2)
            found.append((at, group.data.get("node", ""), holder.index if holder else -1))
    return found


def _end(
    wire: DrawnWire, at: Point, node: str, marks: list[tuple[Point, str, int]]
) -> tuple[str, int]:
    """Return the graph's node for one end of a wire: the symbol there, or the bare point."""
    near = [mark for mark in marks if mark[1] == node]
    if not near:
        return f"{wire.name}@{node}", -1
    best = min(near, key=lambda mark: distance(mark[0], at))
    return (f"s{best[2]}", best[2]) if best[2] >= 0 else (f"n{node}@{best[0]}", -1)


def dot_crossings(sheet: Sheet, net_of: Mapping[str, str]) -> tuple[list[Crossing], int]:
    """Return the crossings in dot's drawing of a sheet, and the number of edges it drew."""
    wires, _ = read_wires(sheet)
    marks = symbol_at(sheet)
    graph = pygraphviz.AGraph(directed=True, strict=False, splines="ortho", nodesep="0.2")
    graph.node_attr.update(shape="box", fixedsize="true", label="")
    sizes: dict[str, int] = {}
    for wire in wires:
        ends = []
        turned = distance(wire.points[0], wire.points[-1]) > 0 and _is_turned(wire, marks)
        first, last = wire.points[0], wire.points[-1]
        for at, node in zip(
            (last, first) if turned else (first, last), (wire.from_node, wire.to_node), strict=True
        ):
            name, group = _end(wire, at, node, marks)
            sizes[name] = group
            ends.append(name)
        graph.add_edge(*ends, key=wire.name)
    for name, group in sizes.items():
        width = height = LEAST_MM
        if group >= 0:
            points = [
                p for s in sheet.shapes_in(group, without=("label", "wire-label")) for p in s.points
            ]
            x1, y1, x2, y2 = bounds(points)
            width, height = max(LEAST_MM, x2 - x1), max(LEAST_MM, y2 - y1)
        node = graph.get_node(name)
        node.attr["width"] = f"{width / MM_PER_INCH:.3f}"
        node.attr["height"] = f"{height / MM_PER_INCH:.3f}"
    if not wires:
        return [], 0
    graph.layout(prog="dot")
    lines = []
    nets = {wire.name: net_of.get(wire.from_node, wire.from_node) for wire in wires}
    for edge in graph.edges(keys=True):
        for spline in (graph.get_edge(*edge).attr["pos"] or "").split(";"):
            points = [
                (float(x), float(y))
                for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", _no_arrows(spline))
            ]
            if len(points) > 1:
                lines.append((edge[2], nets[edge[2]], list(pairwise(points))))
    return crossings(lines), len(lines)


def _no_arrows(spline: str) -> str:
    """Leave out the tips of arrows, which stand before the line's own points."""
    return " ".join(word for word in spline.split() if word[0] not in "es")


def _is_turned(wire: DrawnWire, marks: list[tuple[Point, str, int]]) -> bool:
    """Say whether the line was drawn from the wire's second end to its first."""
    starts = [distance(m[0], wire.points[0]) for m in marks if m[1] == wire.from_node]
    ends = [distance(m[0], wire.points[-1]) for m in marks if m[1] == wire.from_node]
    return bool(starts) and min(ends) < min(starts)
