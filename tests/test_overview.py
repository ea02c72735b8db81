"""The overview: DOT text that the dot engine reads back with every part and wire in it."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pygraphviz
import pytest
from click.testing import CliRunner

from harnessdsl.cli.main import main
from harnessdsl.drawing import overview
from harnessdsl.drawing.overview import dot_text
from harnessdsl.pipeline import load, load_string

DEMO = Path(__file__).parent.parent / "examples" / "tourer" / "tourer.harness"


def test_dot_engine_reads_every_part_and_wire():
    vehicle = load(DEMO).vehicle
    graph = pygraphviz.AGraph(string=dot_text(vehicle))
    assert set(graph.nodes()) == set(vehicle.parts)
    assert len(graph.edges()) == len(vehicle.wires)


def test_labels_of_the_user_stay_text():
    vehicle = load_string('lamp L1 "a \\"b\\" <i>\\\\n</i> -> x; [y]"\n').vehicle
    graph = pygraphviz.AGraph(string=dot_text(vehicle))
    assert list(graph.nodes()) == ["L1"]


def test_picture_is_drawn_and_missing_engine_said(tmp_path: Path, monkeypatch):
    car = tmp_path / "car.harness"
    car.write_text("lamp L1\nearth E1\nwire L1.2 -> E1 1 mm2 BN\n")
    out = tmp_path / "o.svg"
    result = CliRunner().invoke(main, ["overview", str(car), "--out", str(out)])
    assert result.exit_code == 0, result.output
    assert ElementTree.fromstring(out.read_text()).tag.endswith("svg")
    bad = CliRunner().invoke(main, ["overview", str(car), "--out", str(tmp_path / "o.png")])
    assert bad.exit_code == 2

    def none(text: str) -> str:
        raise overview.NoEngine

    monkeypatch.setattr(overview, "lay_out", none)
    lost = CliRunner().invoke(main, ["overview", str(car), "--out", str(tmp_path / "p.svg")])
    assert lost.exit_code == 1 and "pip install pygraphviz" in lost.output
    assert not (tmp_path / "p.svg").exists()


@pytest.mark.parametrize("seed", ["1", "2"])
def test_text_is_the_same_in_every_process(seed: str, tmp_path: Path):
    import os
    import subprocess
    import sys

    out = tmp_path / f"{seed}.dot"
    subprocess.run([sys.executable, "-m", "harnessdsl", "overview", str(DEMO), "--out", str(out)],
                   check=True, env={**os.environ, "PYTHONHASHSEED": seed})
    assert out.read_text() == dot_text(load(DEMO).vehicle)
