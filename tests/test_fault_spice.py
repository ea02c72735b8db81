"""Faulty states against ngspice: 300 fault-condition pairs of the demo vehicle.

ngspice solves its own equations for the network with the fault in it; relays and fuses stand as the
sweep found them. Its answer is the outside reference for every node and for the loads.
"""

from __future__ import annotations

import random
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from harnessdsl.electric.circuit import Start
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.electric.spice import netlist, node_name, parse_listing
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.exact import faulty_networks, solve_faulty
from harnessdsl.faults.modes import Fault
from harnessdsl.faults.perturb import Answer
from harnessdsl.pipeline import load

DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
PAIRS, SEED = 300, 4711
TOLERANCE_V = 0.010

needs_ngspice = pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is missing")


@pytest.fixture(scope="module")
def bench() -> Bench:
    return Bench.of(load(DEMO).vehicle)


def sample(bench: Bench) -> list[tuple[int, Fault, Answer]]:
    """Pairs that change something: a fault that nobody notices proves little."""
    rng = random.Random(SEED)
    found: list[tuple[int, Fault, Answer]] = []
    numbers = list(range(len(bench.conditions)))
    each = PAIRS // len(numbers)
    for number in numbers:
        faults = rng.sample(bench.faults, 160)
        answers = bench.solve(number, [((f,), ()) for f in faults])
        felt = [(number, f, a) for f, a in zip(faults, answers, strict=True)
                if a.failed or np.abs(a.amperes).max(initial=0.0) > 1e-3]
        rest = [(number, f, a) for f, a in zip(faults, answers, strict=True)
                if not (a.failed or np.abs(a.amperes).max(initial=0.0) > 1e-3)]
        found += [*felt[:each - 2], *rest[:each - len(felt[:each - 2])]]
    return found


def spice(point: OperatingPoint, tmp_path: Path) -> dict[str, float]:
    file = tmp_path / "net.cir"
    # its currents are compared elsewhere; printing each takes longer than solving
    text = "".join(line for line in netlist(point, guess=True).splitlines(keepends=True)
                   if not line.startswith("print @"))
    file.write_text(text, encoding="utf-8")
    done = subprocess.run(["ngspice", "-b", str(file)], capture_output=True, text=True, timeout=120,
                          check=False)
    return dict(parse_listing(done.stdout))


@needs_ngspice
def test_predictions_agree_with_ngspice(bench: Bench, tmp_path: Path) -> None:
    pairs = sample(bench)
    assert len(pairs) >= PAIRS
    healthy = {c.name: p for c, p in zip(bench.conditions, bench.points, strict=False)}
    nodes = bench.assembled.circuit.nodes
    worst, compared, hanging = 0.0, 0, 0
    for number, fault, answer in pairs:
        condition = bench.conditions[number]
        point = solve_faulty(bench.assembled, [fault], [condition], healthy)[0]
        assert not point.failure, fault.id
        shown = spice(point, tmp_path)
        if not answer.failed:
            volts = bench.node_volts(number, [answer])[0]
            assert set(point.opened) == {bench.ports.names[p] for p in answer.opened}, fault.id
        else:
            volts = point.volts
        here = 0
        for index, node in enumerate(nodes):
            name = node_name(point, node)
            if name not in shown or point.is_floating(node):
                continue
            here += 1
            off = abs(shown[name] - float(volts[index]))
            if off >= TOLERANCE_V and hangs(point, node):
                # nanoamperes decide there, and the fast way has a gigaohm for a broken path; the
                # full solve, which has none, must be right
                hanging += 1
                off = abs(shown[name] - float(point.volts[index]))
            worst = max(worst, off)
            assert off < TOLERANCE_V, (fault.id, condition.name, node, off)
        compared += here
        assert here > 400, (fault.id, condition.name, here)
    assert worst > 0.0
    assert hanging < 0.001 * compared


def hangs(point: OperatingPoint, node: str) -> bool:
    """Whether only leaks of diodes tie a node: a meter of 10 megohm pulls it down."""
    from harnessdsl.electric.instruments import measure

    return abs(measure(point, node).voltage_v) < 0.3 and abs(point.voltage_v(node)) > 0


@pytest.mark.parametrize("mode", [
    "wire-open", "wire-corroded", "wire-short", "plug-open", "plug-pulled", "earth-lifted",
    "earth-corroded", "contact-open", "contact-welded", "contact-burnt", "coil-open", "coil-short",
    "wrong-relay", "switch-stuck", "thermal-stuck-open", "thermal-shifted", "motor-worn",
    "motor-seized", "filament-open", "fuse-blown", "battery-low", "alternator-dead", "wires-touch",
    "diode-short", "diode-open", "sender-open"])
def test_every_way_to_fail_agrees_with_the_full_solve(bench: Bench, mode: str) -> None:
    """Effects and voltages of the fast way are those of the whole network solved anew."""
    rng = random.Random(11)
    faults = [f for f in bench.faults if f.mode == mode]
    assert faults, mode
    healthy = {c.name: p for c, p in zip(bench.conditions, bench.points, strict=False)}
    for fault in rng.sample(faults, min(4, len(faults))):
        for number in rng.sample(range(len(bench.conditions)), 4):
            condition = bench.conditions[number]
            answer = bench.solve(number, [((fault,), ())])[0]
            point = solve_faulty(bench.assembled, [fault], [condition], healthy)[0]
            if answer.failed:
                continue
            fast, full = bench.effect(number, answer), bench.effect_of_point(number, point)
            assert fast.states == full.states, (fault.id, condition.name)
            assert set(fast.opened) == set(full.opened)
            assert dict(fast.moved) == dict(full.moved)
            volts = bench.node_volts(number, [answer])[0]
            off = np.abs(volts - point.volts[:len(volts)])
            for index in np.flatnonzero(off > TOLERANCE_V).tolist():
                node = bench.assembled.circuit.nodes[index]
                assert point.is_floating(node) or hangs(point, node), (fault.id, node, off[index])


def test_relays_begin_as_in_the_sound_car(bench: Bench) -> None:
    """A network with its fault starts from the sound car's relays (that is what `solve_faulty`
    hands on), and an open coil never pulls in."""
    number = next(i for i, c in enumerate(bench.conditions) if c.name == "hot-idle")
    fault = next(f for f in bench.faults if f.mode == "coil-open" and f.part == "K3")
    network = faulty_networks(bench.assembled, [fault], [bench.conditions[number]])[0]
    assert network.circuit.nodes == bench.assembled.circuit.nodes
    assert Start(bench.points[number].energised).energised
    answer = bench.solve(number, [((fault,), ())])[0]
    assert answer.energised is not None
    coil = bench.ports.coils.index(bench.assembled.circuit.element_index["K3:coil:86-85"])
    assert not answer.energised[coil]
    assert bench.base(number).energised[coil]
