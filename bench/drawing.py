"""Counts what is good and bad in the drawing of schematics, against graphviz's dot engine.

    python bench/drawing.py [FILE ...]

Both draw the same sheets: the same parts, splices, earth points and references, each as large as
it is on the sheet, joined by the same wires. dot lays them out with orthogonal edges
(splines=ortho), in which mode it knows no terminals and writes no labels, so its task is the easier
one. Counted from the finished shapes: crossings of wires of different nets, bends, and wires
through symbols. Ends with status 1 when a drawing has more than 0.15 crossings or 1.1 bends a
wire, or more crossings than dot's.
"""

from __future__ import annotations

import argparse
import re
import sys
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import graphviz  # type: ignore[import-untyped]
import pygraphviz  # type: ignore[import-untyped]

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from scene_sheet import sheet_of  # noqa: E402
from svg_checker.geometry import bounds  # noqa: E402
from svg_checker.page import check_wires_through_symbols  # noqa: E402
from svg_checker.sheet import SYMBOL_CLASSES, Sheet, symbol_name  # noqa: E402
from svg_checker.wires import DrawnWire, crossings, nets, read_wires  # noqa: E402

from harnessdsl.drawing.schematic import draw_schematics  # noqa: E402
from harnessdsl.pipeline import load  # noqa: E402

MM_PER_INCH = 25.4
POINTS_PER_INCH = 72.0
MOST_CROSSINGS = 0.15
MOST_BENDS = 1.1
Line = list[tuple[float, float]]


@dataclass(slots=True)
class Count:
    wires: int = 0
    crossings: int = 0
    bends: int = 0
    through: int = 0
    """Wires that run through a symbol which they do not end on."""

    def add(self, other: Count) -> None:
        self.wires += other.wires
        self.crossings += other.crossings
        self.bends += other.bends
        self.through += other.through


def owner(node: str) -> str:
    return node.split(".")[0]


def sizes_mm(sheet: Sheet) -> dict[str, tuple[float, float]]:
    """Return width and height of the largest symbol of each part on a sheet."""
    found: dict[str, tuple[float, float]] = {}
    for group in sheet.with_class(*SYMBOL_CLASSES):
        points = [p for shape in sheet.shapes_in(group.index) for p in shape.points]
        if points:
            x1, y1, x2, y2 = bounds(points)
            name = owner(symbol_name(group))
            wide, high = found.get(name, (2.0, 2.0))
            found[name] = (max(wide, x2 - x1), max(high, y2 - y1))
    return found


def by_dot(sheet: Sheet, wires: list[DrawnWire], net: dict[str, str]) -> Count:
    """Return the counts of dot's drawing of the sheet's wires."""
    count = Count(wires=len(wires))
    if not wires:
        return count
    sizes = sizes_mm(sheet)
    source = graphviz.Digraph(
        graph_attr={"splines": "ortho", "nodesep": "0.2"},
        node_attr={"shape": "box", "fixedsize": "true", "label": ""},
        strict=False,
    )
    names = {owner(node) for wire in wires for node in (wire.from_node, wire.to_node)}
    for name in sorted(names):
        wide, high = sizes.get(name, (2.0, 2.0))
        source.node(name, width=f"{wide / MM_PER_INCH:.3f}", height=f"{high / MM_PER_INCH:.3f}")
    for number, wire in enumerate(wires):
        source.edge(owner(wire.from_node), owner(wire.to_node), key=str(number), id=str(number))
    graph = pygraphviz.AGraph(string=source.source)
    graph.layout(prog="dot")
    lines: list[tuple[str, str, list[tuple[tuple[float, float], tuple[float, float]]]]] = []
    for edge in graph.edges(keys=True):
        attributes = graph.get_edge(*edge).attr
        wire = wires[int(attributes["id"])]
        line = corners(attributes["pos"] or "")
        count.bends += max(0, len(line) - 2)
        lines.append((wire.name, net.get(wire.from_node, wire.from_node), list(pairwise(line))))
        count.through += any(
            str(node) not in edge[:2] and enters(line, graph.get_node(node).attr)
            for node in graph.nodes()
        )
    count.crossings = len(crossings(lines))
    return count


def corners(pos: str) -> Line:
    """Return the corners of an edge: its spline's points without those on a straight."""
    words = [word for word in pos.replace(";", " ").split() if word[0] not in "es"]
    found: Line = []
    for x, y in (map(float, word.split(",")) for word in words if re.match(r"-?[\d.]", word)):
        if found and abs(found[-1][0] - x) < 0.01 and abs(found[-1][1] - y) < 0.01:
            continue
        if len(found) > 1:
            (ax, ay), (bx, by) = found[-2:]
            if (abs(ax - bx) < 0.01 and abs(bx - x) < 0.01) or (
                abs(ay - by) < 0.01 and abs(by - y) < 0.01
            ):
                found[-1] = (x, y)
                continue
        found.append((x, y))
    return found


def enters(line: Line, node: dict[str, str]) -> bool:
    """Whether a line runs through the box of a node (all in points)."""
    x, y = map(float, node["pos"].split(","))
    half_x = float(node["width"]) * POINTS_PER_INCH / 2 - 0.5
    half_y = float(node["height"]) * POINTS_PER_INCH / 2 - 0.5
    return any(
        min(a[0], b[0]) < x + half_x
        and max(a[0], b[0]) > x - half_x
        and min(a[1], b[1]) < y + half_y
        and max(a[1], b[1]) > y - half_y
        for a, b in pairwise(line)
    )


def compare(path: Path) -> tuple[Count, Count, int]:
    vehicle = load(path).vehicle
    net = nets((wire.a.node, wire.b.node) for wire in vehicle.wires.values())
    ours, dots = Count(), Count()
    pages = draw_schematics(vehicle)
    for page in pages:
        sheet = sheet_of(page)
        wires, _ = read_wires(sheet)
        lines = [(w.name, net.get(w.from_node, w.from_node), w.segments) for w in wires]
        through = {f.subject for f in check_wires_through_symbols(sheet, wires)}
        ours.add(
            Count(len(wires), len(crossings(lines)), sum(w.bends for w in wires), len(through))
        )
        dots.add(by_dot(sheet, wires, net))
    return ours, dots, len(pages)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument(
        "files", nargs="*", type=Path, default=[ROOT / "examples/tourer/tourer.harness"]
    )
    bad = 0
    for path in parser.parse_args().files:
        ours, dots, sheets = compare(path)
        print(f"{path.name}: {sheets} sheets, {ours.wires} wires\n")
        print(f"{'':<24}{'crossings':>12}{'a wire':>9}{'bends a wire':>14}{'through symbols':>17}")
        for name, count in (("this layout", ours), ("dot, splines=ortho", dots)):
            wires = max(1, count.wires)
            print(
                f"{name:<24}{count.crossings:>12}{count.crossings / wires:>9.3f}"
                f"{count.bends / wires:>14.2f}{count.through:>17}"
            )
        print()
        wires = max(1, ours.wires)
        bad += (
            ours.crossings / wires > MOST_CROSSINGS
            or ours.bends / wires > MOST_BENDS
            or ours.crossings > dots.crossings
            or ours.through > 0
        )
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
