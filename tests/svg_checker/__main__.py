"""Checks SVG files by hand: PYTHONPATH=tests python -m svg_checker [--file CAR] out/*.svg

With the vehicle's file, that every wire of it is drawn exactly once is checked too.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from svg_checker.browser import shared_browser
from svg_checker.maps import check_map, leaders
from svg_checker.page import check_page, check_texts
from svg_checker.report import check_schematics
from svg_checker.wires import read_wires


def main() -> int:
    parser = argparse.ArgumentParser(prog="svg_checker", description=__doc__.split("\n", 1)[0])
    parser.add_argument("--file", type=Path, help="the vehicle that the schematics are of")
    parser.add_argument("svgs", type=Path, nargs="+")
    options = parser.parse_args()
    drawings = [(path.name, path.read_text(encoding="utf-8")) for path in options.svgs]
    sheets = shared_browser().measure_all(drawings)
    maps = [sheet for sheet in sheets if leaders(sheet)]
    schematics = [sheet for sheet in sheets if not leaders(sheet)]
    findings = [f for sheet in maps for f in check_map(sheet) + check_texts(sheet)]
    findings += [f for sheet in maps for f in check_page(sheet)]
    if options.file is not None:
        from harnessdsl.pipeline import load
        from svg_checker.joins import joins_within_parts

        vehicle = load(options.file).vehicle
        expected = {wire.name: (wire.a.node, wire.b.node) for wire in vehicle.wires.values()}
        joined = joins_within_parts(vehicle)
    else:
        drawn = [wire for sheet in schematics for wire in read_wires(sheet)[0]]
        expected = {wire.name: (wire.from_node, wire.to_node) for wire in drawn}
        joined = []
    report = check_schematics(schematics, expected, joined)
    findings += report.findings
    for finding in findings:
        print(finding)
    print(
        f"{len(sheets)} sheets, {len(findings)} findings; {len(report.wires)} wires, "
        f"{len(report.crossings)} crossings, {len(report.rail_crossings)} over supply lines, "
        f"{report.bends_per_wire:.2f} bends a wire, smallest capitals "
        f"{report.smallest_capital_mm:.2f} mm"
    )
    return 1 if findings else 0


if __name__ == "__main__":
    raise SystemExit(main())
