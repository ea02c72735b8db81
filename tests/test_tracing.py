"""What to trace next, how sure the file is, and results that come back as evidence."""

from __future__ import annotations

import random
from pathlib import Path

import networkx
from click.testing import CliRunner

from harnessdsl.cli.main import main
from harnessdsl.model.evidence import Trust
from harnessdsl.pipeline import load, load_string
from harnessdsl.plans.evidence_report import Supports, evidence_by_circuit
from harnessdsl.plans.trace_order import TracePlanner, run_in_order

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "examples" / "tourer" / "tourer.harness"


def test_check_verifies_exactly_the_only_way_between_its_points():
    """Against networkx: each check's wires are all simple paths' wires, of which there is one."""
    planner = TracePlanner(load(DEMO).vehicle)
    graph = networkx.MultiGraph()
    for wire in planner.vehicle.wires.values():
        graph.add_edge(wire.a.node, wire.b.node, key=wire.name)
    for part in planner.vehicle.parts.values():
        if part.connector is not None and not part.connector.of:
            for cavity in part.connector.cavities:
                graph.add_edge(f"{part.name}.a.{cavity}", f"{part.name}.b.{cavity}", key="")
        for primitive in part.kind.primitives:
            if primitive.type == "joint":
                graph.add_edge(f"{part.name}.{primitive.a}", f"{part.name}.{primitive.b}", key="")
    sample = random.Random(7).sample(planner.checks, 150)
    for check in sample:
        paths = list(networkx.all_simple_edge_paths(graph, check.a, check.b))
        keys = [[key for *_, key in path if key] for path in paths]
        if len(check.wires) > 1:
            assert keys == [list(check.wires)]
        else:
            assert list(check.wires) in keys


def test_order_verifies_faster_than_file_order_and_chance():
    """Wires verified after N checks and after M minutes, on the demo; chance is a mean of many
    orders. bench/trace_order.py prints the table."""
    planner = TracePlanner(load(DEMO).vehicle)
    ours = run_in_order(planner, [step.check for step in planner.order()])
    assert ours[-1][1] == len(planner.open_wires)
    in_file = [run_in_order(planner, planner.checks)]
    by_chance = [run_in_order(planner, random.Random(seed).sample(planner.checks,
                                                                  len(planner.checks)))
                 for seed in range(10)]
    for others in (in_file, by_chance):
        for count in (10, 20, 40, 80):
            assert ours[count - 1][1] > sum(o[count - 1][1] for o in others) / len(others)
        for minutes in (30, 60, 120):
            done = [sum(max((n for m, n in story if m <= minutes), default=0)
                        for story in stories) / len(stories) for stories in ([ours], others)]
            assert done[0] > 1.3 * done[1]
        assert all(ours[-1][0] < other[-1][0] for other in others)


def test_results_come_back_as_evidence(tmp_path: Path):
    car = tmp_path / "car.harness"
    car.write_text('use "found.harness"\nplace p at 0, 0, 0 mm\nblade-fuse F1 in p\nlamp L1 in p\n'
                   "connector X1 in p 2 way\nwire W1 F1.2 -> X1.1 -> L1.1 1 mm2 RD\n"
                   "wire L1.2 -> X1.2 1 mm2 BN\n")
    found = tmp_path / "found.harness"
    found.write_text("# results\n")
    run = CliRunner().invoke(main, ["trace-next", str(car)])
    assert run.exit_code == 0 and "verifies W1:1, W1:2" in run.output, run.output
    back = CliRunner().invoke(main, ["trace-next", str(car), "--passed", "1", "--failed", "2",
                                     "--date", "2026-04-02", "--by", "Ilse", "--into", str(found)])
    assert back.exit_code == 0, back.output
    vehicle = load(car).vehicle
    assert vehicle.wires["W1:2"].evidence.trust is Trust.MEASURED
    assert vehicle.wires["W1:2"].evidence.by == "Ilse"
    assert vehicle.wires["L1.2-X1.2"].evidence.note.startswith("refuted: no continuity")
    assert car.read_text().startswith('use "found.harness"')


def test_wrong_numbers_and_dates_are_refused(tmp_path: Path):
    car = tmp_path / "car.harness"
    car.write_text("lamp L1\nlamp L2\nwire L1.2 -> L2.1 1 mm2 BN\n")
    into = tmp_path / "r.harness"
    for bad in (["--passed", "9"], ["--passed", "x"], ["--passed", "1", "--failed", "1"],
                ["--passed", "1", "--date", "2.4.26"]):
        run = CliRunner().invoke(main, ["trace-next", str(car), *bad, "--into", str(into)])
        assert run.exit_code == 2, run.output
    assert not into.exists()


def test_evidence_is_counted_by_circuit_and_findings_name_what_they_rest_on():
    text = ("battery G1\nblade-fuse F1\nlamp L1\nearth E1\n"
            "wire G1.- -> E1 measured\nwire G1.+ -> F1.1 traced\nwire W3 F1.2 -> L1.1 guessed\n"
            'wire L1.2 -> E1 copied "book"\ncircuit c "C" { F1 L1 }\n')
    vehicle = load_string(text).vehicle
    entry = evidence_by_circuit(vehicle)[0]
    assert entry.counts[Trust.GUESSED] == 3  # W3 and the two parts, which say nothing
    assert entry.counts[Trust.TRACED] == 1 and entry.counts[Trust.COPIED] == 1
    behind = {wire.name for wire in Supports(vehicle).unverified_behind("L1")}
    assert behind == {"W3", "L1.2-E1"}


def test_findings_and_computed_results_name_the_guess_that_they_rest_on(tmp_path: Path):
    """The lamp's drop is found by computing, and depends on the one wire that is only guessed."""
    car = tmp_path / "car.harness"
    car.write_text(
        'place p at 0, 0, 0 mm\nbattery G1 in p 60 Ah traced\nblade-fuse F1 in p 10 A traced\n'
        "lamp L1 in p 55 W always-live traced\nearth E1 in p traced\n"
        "wire G1.- -> E1 16 mm2 BK 0.5 m traced\nwire G1.+ -> F1.1 2.5 mm2 RD 0.5 m traced\n"
        "wire W3 F1.2 -> L1.1 0.75 mm2 WH 14 m guessed\n"
        "wire L1.2 -> E1 2.5 mm2 BN 0.5 m traced\ncircuit c { F1 L1 }\n")
    plain = CliRunner().invoke(main, ["evidence", str(car)])
    assert plain.exit_code == 0 and "voltage-drop" not in plain.output, plain.output
    computed = CliRunner().invoke(main, ["evidence", str(car), "--figures"])
    assert computed.exit_code == 0, computed.output
    rows = [line for line in computed.output.splitlines() if "W3 (guessed)" in line]
    assert any(row.startswith("voltage-drop") for row in rows), computed.output
    assert any(row.startswith("voltage and current of L1") for row in rows), computed.output
