"""Times the drawing of the demo's schematics, layout and SVG together.

    python bench/draw.py [--runs 3] [--file examples/tourer/tourer.harness]

The reference is graphviz's dot engine laying out graphs with as many nodes and edges as each sheet
has parts and wires, orthogonal edges included. Ends with status 1 when a sheet takes more than
0.15 s on average.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

LIMIT_S = 0.15


def dot_seconds(svg: str) -> float:
    """Return the processor time that dot takes for a graph of this sheet's wires."""
    import re

    import pygraphviz

    ends = re.findall(r'<g[^>]* data-from="([^"]*)" data-to="([^"]*)"', svg)
    graph = pygraphviz.AGraph(directed=True, strict=False, splines="ortho")
    for a, b in ends:
        graph.add_edge(a.split(".")[0], b.split(".")[0])
    start = time.process_time()
    graph.layout(prog="dot")
    return time.process_time() - start


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--file", type=Path, default=ROOT / "examples/tourer/tourer.harness")
    parser.add_argument("--runs", type=int, default=3)
    options = parser.parse_args()

    from harnessdsl.drawing.schematic import draw_schematics
    from harnessdsl.drawing.svg import render_svg
    from harnessdsl.pipeline import load

    vehicle = load(options.file).vehicle
    layout_s, svg_s = [], []
    for _ in range(options.runs):
        # each run in a process of its own, forked here: what one run has looked up must not
        # help the next, as nobody draws a car twice in one go
        reader, writer = os.pipe()
        child = os.fork()
        if child == 0:
            start = time.process_time()
            pages = draw_schematics(vehicle)
            middle = time.process_time()
            for page in pages:
                render_svg(page)
            os.write(writer, json.dumps([middle - start, time.process_time() - middle]).encode())
            os._exit(0)
        os.waitpid(child, 0)
        os.close(writer)
        with os.fdopen(reader) as stream:
            layout, svg = json.load(stream)
        layout_s.append(layout)
        svg_s.append(svg)
    pages = draw_schematics(vehicle)
    svgs = [render_svg(page) for page in pages]
    count = len(pages)
    wires = sum(svg.count('data-wire="') for svg in svgs)
    dot_s = sum(dot_seconds(svg) for svg in svgs)
    print(
        f"{options.file.name}: {count} sheets, {wires} wires drawn; best of {options.runs} runs\n"
    )
    print(f"{'':<38} {'cpu s':>8} {'median':>8} {'a sheet':>8}")
    for name, seconds in (("layout", layout_s), ("SVG", svg_s)):
        print(
            f"{name:<38} {min(seconds):8.3f} {statistics.median(seconds):8.3f} "
            f"{min(seconds) / count:8.3f}"
        )
    total = min(a + b for a, b in zip(layout_s, svg_s, strict=True))
    print(f"{'both':<38} {total:8.3f} {'':>8} {total / count:8.3f}")
    print(f"{'dot, orthogonal, layout only':<38} {dot_s:8.3f} {'':>8} {dot_s / count:8.3f}")
    print(f"\n{total / count:.3f} s a sheet (at most {LIMIT_S:g})")
    return 0 if total / count <= LIMIT_S else 1


if __name__ == "__main__":
    raise SystemExit(main())
