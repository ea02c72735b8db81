"""The same input gives the same bytes, whatever the hash seed of the process."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = ROOT / "examples"
FILES = {
    "tourer": EXAMPLES / "tourer" / "tourer.harness",
    "motorcycle": EXAMPLES / "motorcycle.harness",
    "van": EXAMPLES / "van-second-battery.harness",
}

DRAW = """
import sys, json, hashlib
from pathlib import Path
from harnessdsl.drawing.maps.box_view import draw_box
from harnessdsl.drawing.maps.connector_face import draw_connector
from harnessdsl.drawing.maps.map_pages import draw_maps
from harnessdsl.drawing.schematic import draw_schematics
from harnessdsl.drawing.svg import render_svg
from harnessdsl.model.layout_shelf import load_layout
from harnessdsl.pipeline import load

file = Path(sys.argv[1])
vehicle = load(file).vehicle
pages = list(draw_schematics(vehicle))
layout = load_layout(vehicle.body, file.parent).layout
if layout is not None:
    pages += draw_maps(vehicle, layout)
    for circuit in list(vehicle.circuits)[:2]:
        pages += draw_maps(vehicle, layout, highlight=circuit)
for place in vehicle.places.values():
    if place.slots:
        pages += draw_box(vehicle, place.name)
for part in vehicle.parts.values():
    if part.connector is not None:
        pages += draw_connector(vehicle, part.name)
digest = lambda text: hashlib.sha256(text.encode()).hexdigest()
json.dump([[page.name, digest(render_svg(page))] for page in pages], sys.stdout)
"""

SAY = """
import sys, json
from click.testing import CliRunner
from harnessdsl.cli.main import main

said = []
for call in json.loads(sys.argv[1]):
    result = CliRunner().invoke(main, call)
    assert result.exit_code in (0, 1), (call, result.exit_code, result.output)
    said.append([" ".join(call), result.output])
json.dump(said, sys.stdout)
"""


def in_two_processes(script: str, argument: str) -> list[list[list[str]]]:
    """Run a script with two hash seeds and return what each printed, as pairs of name and text."""
    outputs = []
    for seed in ("1", "4242"):
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)}
        done = subprocess.run(
            [sys.executable, "-c", script, argument],
            env=environment, capture_output=True, text=True, encoding="utf-8",
        )  # fmt: skip
        assert done.returncode == 0, done.stderr[-3000:]
        outputs.append(json.loads(done.stdout))
    return outputs


def test_the_seeds_do_change_the_order_of_sets() -> None:
    """Else the other tests would show nothing."""
    script = "import sys, json; json.dump([[x, ''] for x in {'a', 'b', 'c', 'd', 'e'}], sys.stdout)"
    first, second = in_two_processes(script, "")
    assert first != second


@pytest.mark.parametrize("name", FILES)
def test_drawings_are_the_same_bytes(name: str) -> None:
    first, second = in_two_processes(DRAW, str(FILES[name]))
    assert len(first) > 1
    assert [page for page, other in zip(first, second, strict=True) if page != other] == []


@pytest.mark.parametrize("name", FILES)
def test_answers_are_the_same_text(name: str) -> None:
    file = str(FILES[name])
    part = {"tourer": "K2", "motorcycle": "G1", "van": "G1"}[name]
    calls = [
        ["check", file],
        ["check", "--json", file],
        ["find", file, part],
        ["list-out", file, "wires"],
        ["list-out", file, "fuses"],
        ["evidence", file],
        ["trace-next", file],
        ["locate", file, part],
        ["kinds"],
        ["explain"],
    ]
    first, second = in_two_processes(SAY, json.dumps(calls))
    assert all(text for _, text in first)
    assert [a[0] for a, b in zip(first, second, strict=True) if a != b] == []


def test_a_comparison_is_the_same_text() -> None:
    call = ["compare", str(FILES["van"]), str(FILES["motorcycle"])]
    first, second = in_two_processes(SAY, json.dumps([call]))
    assert len(first[0][1].splitlines()) > 10
    assert first == second


def test_planted_mistakes_are_listed_in_the_same_order() -> None:
    calls = [["check", "--json", str(EXAMPLES / "planted-mistakes.harness")]]
    (first,), (second,) = in_two_processes(SAY, json.dumps(calls))
    assert first == second
    assert len(json.loads(first[1])["findings"]) > 3
