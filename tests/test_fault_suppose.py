"""What if, and the table of symptoms: on the examples, as text and on paper."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from harnessdsl.cli.main import main
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.made_conditions import with_conditions
from harnessdsl.faults.modes import find_faults
from harnessdsl.faults.suppose import by_deed, outcome_lines, outcomes_of
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.faults.symptoms import find_symptoms
from harnessdsl.faults.usual import LIKELIHOOD
from harnessdsl.model.failures import FAILURES
from harnessdsl.pipeline import load, load_string

ROOT = Path(__file__).resolve().parent.parent
EXAMPLES = ROOT / "examples"
DEMO = EXAMPLES / "tourer" / "tourer.harness"
FAN = EXAMPLES / "radiator-fan.harness"
SMALL = EXAMPLES / "motorcycle.harness"


def run(*arguments: str) -> str:
    result = CliRunner().invoke(main, list(arguments))
    assert result.exit_code == 0, result.output
    return result.output


@pytest.fixture(scope="module")
def demo() -> Bench:
    return Bench.of(load(DEMO).vehicle)


def test_every_way_to_fail_is_there(demo: Bench) -> None:
    """The ways that the task names, on the demo vehicle."""
    assert set(LIKELIHOOD) == set(FAILURES)
    found = {f.mode for f in demo.faults}
    assert found >= {
        "wire-open", "wire-short", "wires-touch", "wires-chafed", "wire-corroded", "contact-welded",
        "contact-open", "coil-open", "coil-short", "switch-stuck", "thermal-stuck-open",
        "thermal-stuck-closed", "thermal-shifted", "motor-seized", "motor-worn", "motor-weak",
        "filament-open", "earth-lifted", "earth-corroded", "fuse-blown", "battery-low",
        "output-dead", "input-dead", "module-dead", "plug-pulled", "plug-open", "wrong-relay"}
    assert sum(f.likelihood for f in demo.faults) == pytest.approx(1.0)
    assert len({f.id for f in demo.faults}) == len(demo.faults)


@pytest.mark.parametrize(("deed", "name", "condition", "line"), [
    ("open", "K3", "hot-idle", "dead: M2 Radiator fan"),
    ("never-close", "K3", "hot-idle", "dead: M2 Radiator fan"),
    ("wrong", "K3", "hot-idle", "dead: M2 Radiator fan"),
    ("weld", "K3", "parked", "stays on: M2 Radiator fan"),
    ("wear", "M2", "hot-idle", "slow: M2 Radiator fan"),
    ("seize", "M2", "hot-idle", "blows: F5 Radiator fan"),
    ("short", "F5.2", "parked", "blows: F5 Radiator fan"),
    ("shift", "S9", "hot-idle", "dead: M2 Radiator fan"),
    ("shift", "S9=early", "idling", "stays on: M2 Radiator fan"),
    ("pull", "X9", "hot-idle", "dead: M2 Radiator fan"),
    ("open", "X9.2", "hot-idle", "dead: M2 Radiator fan"),
    ("corrode", "EP4", "hot-idle", "slow: M2 Radiator fan"),
    ("blow", "F5", "hot-idle", "dead: M2 Radiator fan"),
    ("touch", "X9.1=X9.2", "hot-idle", "blows: F5 Radiator fan"),
    ("stick", "S1=off", "hot-idle", "dead: "),
    ("kill", "A1.20", "idling", "dead: M10 Fuel pump"),
    ("kill", "A1", "idling", "M10 Fuel pump"),
    ("open", "K8", "horn", "dead: H11 Horn, high; H12 Horn, low"),
    ("flatten", "G1", "cranking", "slow: M1 Starter"),
])
def test_what_if(deed: str, name: str, condition: str, line: str, demo: Bench) -> None:
    vehicle = demo.vehicle
    bench = Bench.of(vehicle, [vehicle.conditions[condition]])
    faults = by_deed(bench, deed, name)
    assert faults
    text = "\n".join(outcome_lines(bench, faults, outcomes_of(bench, faults)))
    assert line in text, text


def test_two_at_once_are_computed_together() -> None:
    """A second earth that takes over is what hides the first fault: only both together show."""
    text = """vehicle "Two earths" { supply 12 V negative-earth }
battery G1 60 Ah
blade-fuse F1 10 A
horn H1
earth E1
earth E2
wire G1.+ -> F1.1 1 mm2 RD 1 m
wire F1.2 -> H1.1 1 mm2 RD 1 m
wire W1 H1.2 -> E1 1 mm2 BN 1 m
wire W2 H1.2 -> E2 1 mm2 BN 1 m
wire G1.- -> E1 10 mm2 BK 1 m
"""
    bench = Bench.of(with_conditions(load_string(text).vehicle))
    one, other = by_deed(bench, "open", "W1"), by_deed(bench, "open", "W2")
    for single in (one, other):
        assert not outcomes_of(bench, single)[0].effect.states
    lines = "\n".join(outcome_lines(bench, [*one, *other], outcomes_of(bench, [*one, *other])))
    assert "dead: H1" in lines


def test_a_blown_fuse_stays_blown() -> None:
    """The short is there only with the key on; the fuse is gone with the key out as well."""
    text = FAN.read_text(encoding="utf-8").replace(
        "wire S9.2 -> E2", "horn H1\nhorn H2\nwire F6.2 -> H1.1 1 mm2 RD 1 m\n"
        "wire H1.2 -> E2 1 mm2 BN 1 m\nwire S9.2 -> E2")
    vehicle = with_conditions(load_string(text).vehicle)
    bench = Bench.of(vehicle)
    faults = by_deed(bench, "short", "K2.85")
    lines = "\n".join(outcome_lines(bench, faults, outcomes_of(bench, faults)))
    assert "as one finds the car" not in lines  # a relay's coil limits the current
    faults = by_deed(bench, "short", "F6.2")
    lines = "\n".join(outcome_lines(bench, faults, outcomes_of(bench, faults)))
    assert "blows: F6 Fan relay" in lines


@pytest.mark.parametrize("arguments", [
    ["--open", "nothing"], ["--stick", "S3=sideways"], ["--touch", "X9.1"], ["--short", "K3.99"],
    ["--touch", "X9.1=X9.1"], ["no-such-fault"], ["--in", "nowhere", "--open", "K3"], [],
    ["--set", "S1=sideways", "--open", "K3"]])
def test_wrong_words_are_told(arguments: list[str]) -> None:
    result = CliRunner().invoke(main, ["suppose", str(DEMO), *arguments])
    assert result.exit_code in (1, 2)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert "Error" in result.output and "Traceback" not in result.output


def test_the_drawing_marks_the_fault_and_what_it_does(tmp_path: Path) -> None:
    out = run("suppose", str(DEMO), "--short", "F5.2-K3.30", "--in", "hot-idle", "--draw",
              str(tmp_path))
    assert "sheet" in out
    sheets = {path.name: path.read_text(encoding="utf-8") for path in tmp_path.iterdir()}
    assert {"hot-idle-01-supply.svg", "hot-idle-08-fan.svg"} == set(sheets)
    fan = sheets["hot-idle-08-fan.svg"]
    assert 'data-state="fault"' in fan and 'data-state="marked"' in fan
    assert "chafed to metal" in fan and ">dead<" in fan
    assert "not as in the sound car" in fan and "the fault, and what it blew" in fan
    assert ">blown<" in sheets["hot-idle-01-supply.svg"]
    again = tmp_path / "again"
    run("suppose", str(DEMO), "--short", "F5.2-K3.30", "--in", "hot-idle", "--draw", str(again))
    assert {p.name: p.read_text(encoding="utf-8") for p in again.iterdir()} == sheets


def test_a_faulty_earth_point_is_marked_where_it_is_drawn(tmp_path: Path) -> None:
    run("suppose", str(DEMO), "--corrode", "EP4", "--in", "night-dipped", "--draw", str(tmp_path))
    sheets = [f.read_text(encoding="utf-8") for f in sorted(tmp_path.glob("*headlamps.svg"))]
    assert len(sheets) == 1
    assert re.search(r'data-of="EP4"[^>]*data-state="fault"', sheets[0])
    assert not re.search(r'data-of="EP5"[^>]*data-state', sheets[0])
    assert "the fault, and what it blew" in sheets[0]



@pytest.mark.parametrize("file", [FAN, SMALL, EXAMPLES / "van-second-battery.harness"])
def test_examples_without_conditions_can_be_tried_at_once(file: Path) -> None:
    vehicle = with_conditions(load(file).vehicle)
    bench = Bench.of(vehicle)
    assert len(bench.conditions) >= 2
    assert any(effect.states for row in run_sweep(bench).found for effect in row)
    assert "rest" in run("symptoms", str(file)) or load(file).vehicle.conditions


def test_settings_make_a_condition() -> None:
    out = run("suppose", str(FAN), "--open", "K2", "--set", "S1=run", "--set", "engine=100C")
    assert "dead: M3 Radiator fan" in out
    assert "rest" not in out


def test_symptoms_name_causes_for_loads_and_fuses(demo: Bench) -> None:
    found = find_symptoms(run_sweep(demo), 5)
    words = {(s.part, s.word) for s in found}
    assert {("M2", "dead"), ("M2", "slow"), ("M2", "stays on"), ("F5", "blown")} <= words
    for symptom in found:
        shares = [share for _, share, _ in symptom.causes]
        assert shares == sorted(shares, reverse=True) and 0 < sum(shares) <= 1.0001
        assert symptom.conditions
    blown = next(s for s in found if (s.part, s.word) == ("F5", "blown"))
    assert any("chafed" in words or "seized" in words for words, _, _ in blown.causes)


def test_symptoms_on_paper_keep_within_their_frame(tmp_path: Path) -> None:
    out = run("symptoms", str(SMALL), "--paper", str(tmp_path / "book"), "--out",
              str(tmp_path / "s.txt"), "--date", "2026-05-03")
    pages = sorted((tmp_path / "book").iterdir())
    assert f"{len(pages)} page" in out
    text = "".join(path.read_text(encoding="utf-8") for path in pages)
    table = (tmp_path / "s.txt").read_text(encoding="utf-8")
    heads = [line.partition("   (seen")[0] for line in table.splitlines() if "(seen in" in line]
    assert len(heads) > 10
    assert text.count('class="symptom"') >= 2 * len(heads)
    assert "2026-05-03" in text


def test_faults_come_in_the_order_of_the_file(demo: Bench) -> None:
    assert [f.id for f in find_faults(demo.assembled)] == [f.id for f in demo.faults]
