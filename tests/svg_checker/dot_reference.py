"""The same sheet laid out by graphviz's dot engine with orthogonal edges, for comparison.

The graph is read from the SVG: every part, connector, splice, supply and earth point that a wire
of the sheet goes to is a node, as large as it is drawn, and every wire an edge. In this mode dot
joins nodes, not terminals, so it may swap the wires of a part as it likes; drawing them at their
terminals is a harder task than the one it is given here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise

import pygraphviz  # type: ignore[import-untyped]

from svg_checker.geometry import bounds
from svg_checker.sheet import SYMBOL_CLASSES, Sheet, symbol_name
from svg_checker.wires import Crossing, crossings, read_wires

MM_PER_INCH = 25.4
LEAST_MM = 2.0


def part_of(node: str) -> str:
    return node.split(".")[0]


def _sizes(sheet: Sheet) -> dict[str, tuple[float, float]]:
    """Return width and height of the largest symbol of each part on the sheet."""
    found: dict[str, tuple[float, float]] = {}
    for group in sheet.with_class(*SYMBOL_CLASSES):
        shapes = sheet.shapes_in(group.index, without=("label", "wire-label"))
        points = [p for shape in shapes for p in shape.points]
        if points:
            x1, y1, x2, y2 = bounds(points)
            name = part_of(symbol_name(group))
            found[name] = max(found.get(name, (0.0, 0.0)), (x2 - x1, y2 - y1))
    return found


def dot_crossings(sheet: Sheet, net_of: Mapping[str, str]) -> tuple[list[Crossing], int]:
    """Return the crossings in dot's drawing of a sheet, and the number of edges it drew."""
    wires, _ = read_wires(sheet)
    if not wires:
        return [], 0
    sizes = _sizes(sheet)
    graph = pygraphviz.AGraph(directed=True, strict=False, splines="ortho", nodesep="0.2")
    graph.node_attr.update(shape="box", fixedsize="true", label="")
    for wire in wires:
        graph.add_edge(part_of(wire.from_node), part_of(wire.to_node), key=wire.name)
    for node in graph.nodes():
        width, height = sizes.get(str(node), (LEAST_MM, LEAST_MM))
        node.attr["width"] = f"{max(LEAST_MM, width) / MM_PER_INCH:.3f}"
        node.attr["height"] = f"{max(LEAST_MM, height) / MM_PER_INCH:.3f}"
    graph.layout(prog="dot")
    net = {wire.name: net_of.get(wire.from_node, wire.from_node) for wire in wires}
    lines = []
    for edge in graph.edges(keys=True):
        for spline in (graph.get_edge(*edge).attr["pos"] or "").split(";"):
            points = [
                (float(x), float(y))
                for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", _no_arrows(spline))
            ]
            if len(points) > 1:
                lines.append((edge[2], net[edge[2]], list(pairwise(points))))
    return crossings(lines), len(lines)


def _no_arrows(spline: str) -> str:
    """Leave out the tips of arrows, which stand before the line's own points."""
    return " ".join(word for word in spline.split() if word[0] not in "es")
