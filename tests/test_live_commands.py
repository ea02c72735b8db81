"""The commands that tell what is live: `live`, `meter`, `fuse-chart`, `key-off`, `size-wire`, `draw
--live`.

What they print is checked against the solved circuit, against sums by Kirchhoff's laws, and against
circuits so small that the answer is worked out by hand beside them.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from harnessdsl.cli.main import main
from harnessdsl.electric import matrix
from harnessdsl.electric.study import Study, made_up_conditions
from harnessdsl.model.given_condition import given_condition
from harnessdsl.model.node_names import UnknownPoint, node_named
from harnessdsl.model.topology import build_topology
from harnessdsl.pipeline import load, load_string

DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
PLANTED = DEMO.parent.parent / "planted-electrical.harness"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def output(*words: str | Path) -> str:
    result = run(*words)
    assert result.exit_code == 0, result.output
    return result.stdout


def data(*words: str | Path) -> Any:
    return json.loads(output(*words, "--json"))


def file_of(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "car.harness"
    path.write_text(text, encoding="utf-8")
    return path


CORRODED = """
battery G1 "Battery" 60 Ah 5 mohm
earth E1 "Body stud"
blade-fuse F1 "Lamp" 10 A
connector X1 "Green plug" 2 way {ohm} ohm
lamp E5 "Lamp" 21 W
toggle-switch S1 "Switch"
wire G1.- -> E1  25 mm2 BK 0.4 m
wire G1.+ -> F1.1  4 mm2 RD 0.3 m
wire F1.2 -> S1.1  1.5 mm2 RD 0.3 m
wire S1.2 -> X1.1 -> E5.1  1.5 mm2 RD 1 m
wire E5.2 -> E1  1.5 mm2 BN 0.3 m
condition on "Switch on" {{ S1 = on }}
"""


# --- live

def test_live_prints_what_the_circuit_computes() -> None:
    point = matrix(load(DEMO).vehicle)["fog"]
    [condition] = data("live", DEMO, "fog")["conditions"]
    printed = {row["id"]: row for row in condition["loads"]}
    assert list(printed) == [x.id for x in point.loads]
    for load_state in point.loads:
        assert printed[load_state.id]["voltage_v"] == pytest.approx(load_state.voltage_v, abs=2e-3)
        assert printed[load_state.id]["state"] == load_state.state
    text = output("live", DEMO, "fog")
    assert re.search(r"E7 +Left front fog lamp +13\.3\d +4\.1\d\d +\d\d\.\d +on", text)
    assert re.search(r"K4 +Front fog lamp relay +pulled in", text)
    assert re.search(r"F35 +Front fog lamps +15 A +8\.\d\d A +5\d%", text)
    assert "maker's data" in text


def test_matrix_has_all_conditions_and_marks_what_is_on() -> None:
    text = output("live", DEMO, "--circuit", "fog-lamps")
    names = list(load(DEMO).vehicle.conditions)
    for number, name in enumerate(names, 1):
        assert f"{number:>3}  {name}" in text
    heads = next(line for line in text.splitlines() if re.match(r" +1 +2 +3 ", line))
    row = next(line for line in text.splitlines() if line.startswith("E7 "))
    column = heads.index(f" {names.index('fog') + 1} ") + len(str(names.index("fog") + 1))
    assert row[column] == "#"
    assert row.count("#") == 1, "the front fog lamps are on in 'fog' alone"


def test_given_settings_equal_the_declared_condition() -> None:
    declared = data("live", DEMO, "hazard")["conditions"][0]
    given = data("live", DEMO, "--set", "S8=on")["conditions"][0]
    assert given["loads"] == declared["loads"]
    assert given["fuses"] == declared["fuses"]


def test_settings_lie_on_top_of_a_condition() -> None:
    loads = data("live", DEMO, "parked", "--set", "S8 = on")["conditions"][-1]["loads"]
    assert {x["part"] for x in loads if x["state"] == "on"} >= {"E15", "E16", "E19", "E24"}


def test_temperature_and_engine_can_be_given() -> None:
    cold = data("live", DEMO, "--set", "S1=run", "--set", "engine=60C", "--running")
    hot = data("live", DEMO, "--set", "S1=run", "--set", "engine = 96 C", "--running")
    fan = [next(x for x in found["conditions"][0]["loads"] if x["part"] == "M2")["state"]
           for found in (cold, hot)]
    assert fan == ["off", "on"]


def test_several_conditions_follow_one_another(tmp_path: Path) -> None:
    """A relay that holds itself by its own contact: pressed it pulls in, released it stays in, from
    rest it stays out. (The latch of the text books; no source needed.)"""
    path = file_of(tmp_path, """
battery G1 "B" 60 Ah
earth E1 "Stud"
blade-fuse F1 "F" 10 A
push-switch S1 "Start"
relay K1 "Latch"
splice J1 "Coil"
lamp E5 "Lamp"
wire G1.- -> E1 25 mm2 BK 0.4 m
wire G1.+ -> F1.1 4 mm2 RD 0.3 m
wire F1.2 -> K1.30 2.5 mm2 RD 0.3 m
wire F1.2 -> S1.1 1 mm2 RD 0.3 m
wire S1.2 -> J1 1 mm2 RD 0.3 m
wire K1.87 -> J1 1 mm2 RD 0.3 m
wire J1 -> K1.86 1 mm2 RD 0.3 m
wire J1 -> E5.1 1.5 mm2 RD 0.3 m
wire K1.85 -> E1 1 mm2 BN 0.3 m
wire E5.2 -> E1 1.5 mm2 BN 0.3 m
condition resting rest
condition pressed { S1 = pressed }
""")
    alone = data("live", path, "resting")["conditions"][0]
    assert [r["energised"] for r in alone["relays"]] == [False]
    assert any(w["code"] == "other-state" and "K1 stays in" in w["message"]
               for w in alone["warnings"])
    row = data("live", path, "resting", "pressed", "resting")["conditions"]
    assert [c["relays"][0]["energised"] for c in row] == [False, True, True]
    assert "K1 stays in in this same condition" in output("live", path, "resting")


def test_a_relay_that_feeds_itself_by_its_break_contact_chatters(tmp_path: Path) -> None:
    path = file_of(tmp_path, """
battery G1 "B" 60 Ah
earth E1 "Stud"
blade-fuse F1 "F" 10 A
changeover-relay K1 "Buzzer"
wire G1.- -> E1 25 mm2 BK 0.4 m
wire G1.+ -> F1.1 4 mm2 RD 0.3 m
wire F1.2 -> K1.30 2.5 mm2 RD 0.3 m
wire K1.87a -> K1.86 1 mm2 RD 0.3 m
wire K1.85 -> E1 1 mm2 BN 0.3 m
condition resting rest
""")
    text = output("live", path, "resting")
    assert "K1 chatters" in text
    assert re.search(r"K1 +Buzzer +chatters", text)


def test_an_opened_fuse_is_explained(tmp_path: Path) -> None:
    """21 W lamps never open 10 A; a dead short does, within 0.1 s above 6 times the rating (ISO
    8820-3, from memory)."""
    short = CORRODED.format(ohm="0.001").replace("wire E5.2 -> E1", "wire E5.1 -> E1 2.5 mm2 BN 1 m"
                                                 "\nwire E5.2 -> E1")
    text = output("live", file_of(tmp_path, short), "on")
    assert re.search(r"F1 +Lamp +10 A +0\.0 mA +opened", text)
    assert re.search(r"F1 \(10 A\): \d+ A is [\d.]+ times its rating, opens within", text)


@pytest.mark.parametrize(("words", "said"), [
    (["live", DEMO, "fogg"], "did you mean 'fog'?"),
    (["live", DEMO, "--set", "S1=runn"], "'runn' is no position of S1"),
    (["live", DEMO, "--set", "S99=on"], "there is no part 'S99'"),
    (["live", DEMO, "--set", "engine=warm"], "engine"),
    (["live", DEMO, "--set", "}{"], "Error"),
    (["live", DEMO, "fog", "--circuit", "fogs"], "there is no circuit 'fogs'"),
    (["meter", DEMO, "K2.99"], "'K2' has no terminal '99'"),
    (["meter", DEMO, "K222.30"], "there is no part 'K222'"),
    (["meter", DEMO, "X15"], "which cavity"),
    (["fuse-chart", DEMO, "F999"], "there is no fuse 'F999'"),
    (["key-off", DEMO, "--limit", "much"], "no current"),
    (["size-wire", "8", "3m"], "amperes or watts"),
    (["size-wire", "8A", "long"], "no such figure"),
    (["draw", DEMO, "--live", "nowhere"], "there is no condition 'nowhere'"),
])
def test_wrong_words_are_answered_in_words(words: list[str | Path], said: str) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output


@pytest.mark.parametrize("text", ["", 'lamp E1 "Lamp"', 'battery G1 "B" 60 Ah'])
@pytest.mark.parametrize("command", ["live", "fuse-chart", "key-off"])
def test_a_file_with_hardly_anything_gets_an_answer(text: str, command: str, tmp_path: Path
                                                    ) -> None:
    result = run(command, file_of(tmp_path, text))
    assert result.exit_code in (0, 1), result.output
    assert "Traceback" not in result.output and "itself failed" not in result.output


# --- meter

def test_a_corroded_joint_reads_full_on_the_meter_and_leaves_the_lamp_dark(tmp_path: Path) -> None:
    """By hand: 12.65 V behind 5 kohm, 10 Mohm meter: 12.65 * 10000 / 10005 = 12.64 V with the load
    unplugged. The test lamp (5 W, some ohms) takes the rest: dark. With the lamp connected the
    joint has all of the voltage."""
    unplugged = CORRODED.format(ohm=5000).replace("wire E5.2", "#")
    path = file_of(tmp_path, unplugged)
    [found] = data("meter", path, "X1.b.1", "--condition", "on")["readings"]
    assert found["meter_v"] == pytest.approx(12.65 * 10000 / 10005, abs=0.002)
    assert found["lamp"] == "dark"
    text = output("meter", path, "X1.b.1", "--condition", "on")
    assert "full voltage, but nothing behind it" in text and "5 kohm" in text
    assert "airbag" in text
    healthy = file_of(tmp_path, CORRODED.format(ohm="0.002"))
    [found] = data("meter", healthy, "X1.b.1", "--condition", "on")["readings"]
    assert found["lamp"] == "bright"


def test_between_two_points_the_meter_shows_the_difference() -> None:
    pick = ("--condition", "fog")
    one = data("meter", DEMO, "E7.55", *pick)["readings"][0]["meter_v"]
    other = data("meter", DEMO, "E7.31", *pick)["readings"][0]["meter_v"]
    both = data("meter", DEMO, "E7.55", "E7.31", *pick)["readings"][0]["meter_v"]
    turned = data("meter", DEMO, "E7.31", "E7.55", *pick)["readings"][0]["meter_v"]
    assert both == pytest.approx(one - other, abs=2e-3)
    assert turned == pytest.approx(-both, abs=1e-6)


def test_without_a_condition_all_are_gone_through() -> None:
    found = data("meter", DEMO, "E7.55")["readings"]
    lit = [row["condition"] for row in found if row["lamp"] == "bright"]
    assert len(found) == len(load(DEMO).vehicle.conditions)
    assert lit == ["fog"]


@pytest.mark.parametrize(("said", "node"), [
    ("G1.30", "G1.+"), ("X15.1", "X15.a.1"), ("X15.b.1", "X15.b.1"), ("J38", "J38"),
    ("body", "@body"), ("earth", "@body"), ("31", "@body"), ("engine", "@engine"), ("EP6", "EP6"),
    ("K1.86", "K1.86")])
def test_points_as_a_person_calls_them(said: str, node: str) -> None:
    assert node_named(build_topology(load(DEMO).vehicle), said) == node


def test_a_part_with_several_terminals_asks_which() -> None:
    with pytest.raises(UnknownPoint, match=r"K1\.30"):
        node_named(build_topology(load(DEMO).vehicle), "K1")


# --- the fuse chart

def test_fuses_carry_the_sum_of_what_they_feed() -> None:
    """Kirchhoff's first law at the fuse box: the two dipped beams' fuses carry what the fuse before
    them does, within the current of nothing else."""
    rows = {row["fuse"]: row for row in data("fuse-chart", DEMO)["fuses"]}
    night = {name: row["conditions"]["night-dipped"]["current_a"] for name, row in rows.items()}
    assert night["F32"] + night["F33"] == pytest.approx(night["F28"], abs=1e-3)
    assert rows["F32"]["feeds"] == ["E1 dipped"]
    assert rows["F33"]["feeds"] == ["E2 dipped"]
    assert rows["F32"]["conditions"]["night-dipped"]["share"] == pytest.approx(
        night["F32"] / 10, abs=1e-3)


def test_one_fuse_of_the_chart_in_words() -> None:
    text = output("fuse-chart", DEMO, "F35")
    assert text.startswith("F35  15 A  Front fog lamps")
    assert "feeds E7 (Left front fog lamp), E8 (Right front fog lamp)" in text
    assert re.search(r"8\.\d\d A +5\d% +fog", text)
    assert "never fit a larger one" in text


def test_every_load_that_runs_is_in_the_chart() -> None:
    """Each load that is on is fed through some fuse, but what is meant to be without."""
    vehicle = load(DEMO).vehicle
    study = Study(vehicle)
    fed = {name.split()[0] for row in data("fuse-chart", DEMO)["fuses"] for name in row["feeds"]}
    on = {x.part for p in study.points.values() for x in p.loads if x.on}
    assert on - fed <= {"M1", "G2"}


# --- key-off

def test_key_off_adds_up() -> None:
    [battery] = data("key-off", DEMO)["batteries"]
    total = sum(c["current_a"] for c in battery["consumers"])
    assert total == pytest.approx(battery["current_a"], rel=0.02)
    assert battery["days"] == pytest.approx(0.4 * 66 / (battery["current_a"] * 24), rel=1e-3)


def test_key_off_ends_badly_above_the_limit() -> None:
    assert run("key-off", DEMO).exit_code == 0
    assert run("key-off", DEMO, "--limit", "5 mA").exit_code == 1
    left_open = run("key-off", DEMO, "door-open")
    assert left_open.exit_code == 1
    assert "Front interior lamp" in left_open.output and "no start after 19 hours" in (
        left_open.output)
    week = run("key-off", PLANTED)
    assert week.exit_code == 1 and "no start after 6 days" in week.output


# --- size-wire

def test_size_wire_says_why_and_under_what_conditions() -> None:
    text = output("size-wire", "55W", "3m", "--kind", "headlamp")
    assert re.search(r"^wire +\d", text) and "fuse   7.5 A" in text
    for word in ("because", "voltage drop:", "heat:", "short at the far end", "relay:",
                 "it may carry this if", "maker's data, local codes and licensed practice"):
        assert word in text


def test_size_wire_in_figures() -> None:
    found = data("size-wire", "13A", "5.5 m", "--kind", "heater", "--return", "1 m")
    assert found["fuse_a"] == 20 and found["relay"] is True
    assert found["drop_v"] <= found["allowed_v"]
    wider = data("size-wire", "13A", "5.5 m", "--kind", "heater", "--return", "1 m", "--drop", "2 "
                                                                                               "%")
    assert wider["area_mm2"] > found["area_mm2"]


# --- draw --live

def test_drawing_of_a_state(tmp_path: Path) -> None:
    output("draw", DEMO, "--live", "fog", "--circuit", "fog-lamps", "--out", tmp_path)
    [sheet] = sorted(tmp_path.glob("*fog*.svg"))
    text = sheet.read_text(encoding="utf-8")
    states = set(re.findall(r'data-state="(\w+)"', text))
    assert {"live", "earthed"} <= states
    assert "4.2 A" in text and "13.4 V" in text
    assert "State: Fog: front and rear fog lamps" in text
    assert "joined to earth" in text, "the legend says how states are drawn"


def test_dead_wires_are_dead_on_paper(tmp_path: Path) -> None:
    output("draw", DEMO, "--live", "parked", "--circuit", "fog-lamps", "--out", tmp_path)
    [sheet] = sorted(tmp_path.glob("*fog*.svg"))
    text = sheet.read_text(encoding="utf-8")
    assert 'data-state="dead"' in text
    assert not re.search(r"\d\.\d+ A<", text), "no current is written anywhere"


def test_same_drawing_twice(tmp_path: Path) -> None:
    for name in ("one", "two"):
        output("draw", PLANTED, "--live", "braking", "--out", tmp_path / name)
    first = {p.name: p.read_bytes() for p in (tmp_path / "one").iterdir()}
    assert first == {p.name: p.read_bytes() for p in (tmp_path / "two").iterdir()}


# --- conditions that no file declares

def test_settings_are_read_as_the_file_reads_them() -> None:
    vehicle = load(DEMO).vehicle
    condition, wrong = given_condition(
        vehicle, ["S1=run", "S3.turn = left", "engine=95C", "engine running", "M2 = stalled"])
    assert wrong == []
    assert condition.positions == {("S1", "main"): "run", ("S3", "turn"): "left"}
    assert condition.temperatures_c == {"engine": 95.0}
    assert condition.engine_running
    assert condition.states == {("M2", "motion"): "stalled"}


def test_a_file_without_conditions_is_gone_through_switch_by_switch() -> None:
    vehicle = load_string("""
light-switch-single S1 "Lights"
toggle-switch S2 "Fan"
""").vehicle
    found = list(made_up_conditions(vehicle))
    assert found[0].positions == {}
    assert found[1].positions == {("S1", "main"): "head", ("S2", "main"): "on"}
    reached = {p for c in found for p in c.positions.items()}
    for part in vehicle.parts.values():
        for actuator in part.kind.actuators.values():
            for position in actuator.positions:
                assert ((part.name, actuator.name), position) in reached


def test_check_says_when_figures_were_left_out() -> None:
    assert "--figures" in run("check", DEMO).output
    assert "--figures" not in run("check", "--figures", DEMO).output
