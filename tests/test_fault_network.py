"""The fast way of computing faults against slower, independent ones.

References: numpy's dense inverse; the whole circuit solved anew with the fault in it, which other
tests hold against ngspice; the meter as an element of the circuit.
"""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu
from synthetic import synthetic_text

from harnessdsl.electric.instruments import measure
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.faults.behind_diodes import DIODE_OHM
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.changes import FAILED
from harnessdsl.faults.exact import solve_faulty
from harnessdsl.faults.paths import Paths, ways_to_root
from harnessdsl.faults.predictions import Candidate, Predictor, State
from harnessdsl.faults.shifts import Reach
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load, load_string

FAN = Path(__file__).resolve().parent.parent / "examples" / "radiator-fan.harness"
DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
HUB_V, NODE_V = 1e-3, 10e-3
HUB_DEGREE = 6


@st.composite
def networks(draw: st.DrawFn) -> tuple[csc_matrix, list[tuple[int, int]]]:
    """A connected network, its reference left out, conductances from a leak to a thick cable."""
    nodes = draw(st.integers(2, 24))
    siemens = st.floats(-6, 4).map(lambda power: 10.0 ** power)
    pairs = [(draw(st.integers(0, i - 1)), i) for i in range(1, nodes)]
    pairs += draw(st.lists(st.tuples(st.integers(0, nodes - 1), st.integers(0, nodes - 1)).filter(
        lambda p: p[0] != p[1]), max_size=20))
    matrix = np.zeros((nodes, nodes))
    for a, b in pairs:
        g = draw(siemens)
        matrix[[a, b], [a, b]] += g
        matrix[[a, b], [b, a]] -= g
    return csc_matrix(matrix[1:, 1:]), pairs


@settings(max_examples=200, deadline=None)
@given(networks())
def test_rows_multiply_to_the_inverse(case: tuple[csc_matrix, list[tuple[int, int]]]) -> None:
    matrix, pairs = case
    factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                   options={"SymmetricMode": True})
    rows = ways_to_root(factors)
    inverse = np.linalg.inv(matrix.toarray())
    # an inverse of entries from 1e-4 to 1e6 ohm is as accurate as its diagonal
    scale = np.sqrt(np.outer(inverse.diagonal(), inverse.diagonal()))
    assert (np.abs((rows @ rows.T).toarray() - inverse) <= 1e-4 * scale).all()
    incidence = np.zeros((matrix.shape[0], len(pairs)))
    for column, (a, b) in enumerate(pairs):
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node:
                incidence[node - 1, column] += sign
    ports = csc_matrix(incidence)
    found = Paths(rows, ports).of(ports)
    wanted = incidence.T @ (rows @ rows.T).toarray() @ incidence
    scale = np.sqrt(np.outer(wanted.diagonal(), wanted.diagonal())) + 1e-9 * np.abs(wanted).max()
    assert (np.abs(found.times(found) - wanted) <= 1e-6 * scale).all()
    assert np.allclose(found.squares(), wanted.diagonal(), rtol=1e-6,
                       atol=1e-9 * np.abs(wanted).max())


@settings(max_examples=100, deadline=None)
@given(networks(), st.data())
def test_nothing_that_moves_is_overlooked(case: tuple[csc_matrix, list[tuple[int, int]]],
                                          data: st.DataObject) -> None:
    """Whatever the shortcut says, it says of the same ports as the whole product does."""
    matrix, pairs = case
    factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                   options={"SymmetricMode": True})
    incidence = np.zeros((matrix.shape[0], len(pairs)))
    for column, (a, b) in enumerate(pairs):
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node:
                incidence[node - 1, column] += sign
    paths = Paths(ways_to_root(factors), csc_matrix(incidence))
    seen = paths.of(csc_matrix(incidence))
    care = np.asarray(data.draw(st.lists(st.floats(1e-6, 1e3), min_size=len(pairs),
                                         max_size=len(pairs))))
    amperes = np.asarray(data.draw(st.lists(st.floats(-30, 30), min_size=len(pairs),
                                            max_size=len(pairs))))
    moved = -amperes[:, None] * seen.times(seen)
    found = Reach(seen, care, np.zeros(0, dtype=np.intp)).shifts(
        seen.scaled(amperes), np.zeros(len(pairs), dtype=bool))
    shown = {(r, p): v for r, p, v in zip(found.rows.tolist(), found.places.tolist(),
                                          found.volts.tolist(), strict=True)}
    for row, place in zip(*np.nonzero(np.abs(moved) > care * (1 + 1e-9)), strict=True):
        assert shown.pop((row, place)) == pytest.approx(moved[row, place], rel=1e-6, abs=1e-9)
    for (row, place), _ in shown.items():
        assert abs(moved[row, place]) > care[place] * (1 - 1e-9)


def synthetic() -> Vehicle:
    return load_string(synthetic_text(200)).vehicle


def demo() -> Vehicle:
    return load(DEMO).vehicle


@pytest.fixture(scope="module", params=[synthetic, demo], ids=["synthetic", "demo"])
def predictor(request: pytest.FixtureRequest) -> Predictor:
    return Predictor(run_sweep(Bench.of(request.param())))


def whole(predictor: Predictor, candidate: Candidate, number: int) -> OperatingPoint:
    """The whole circuit solved anew with the faults in it, fuses blown as they leave the car."""
    bench = predictor.bench
    healthy = {c.name: p for c, p in zip(bench.conditions, bench.points, strict=False)}
    return solve_faulty(bench.assembled, [bench.faults[i] for i in candidate],
                        [bench.conditions[number]], healthy,
                        {name: "blown" for name in predictor.blown(candidate)})[0]


@pytest.mark.parametrize(("faults", "pairs"), [(1, 250), (2, 120)])
def test_the_fast_way_agrees_with_the_whole_solve(predictor: Predictor, faults: int, pairs: int
                                                  ) -> None:
    bench = predictor.bench
    circuit = bench.assembled.circuit
    degree = np.zeros(len(circuit.nodes), dtype=int)
    for element in circuit.elements:
        degree[[circuit.node_index[element.a], circuit.node_index[element.b]]] += 1
    rng = random.Random(1986 + faults)
    compared = 0
    for _ in range(pairs):
        number = rng.randrange(len(bench.conditions))
        state = State(bench.conditions[number].name)
        candidate = tuple(sorted(rng.sample(range(len(bench.faults)), faults)))
        ids = ([bench.faults[i].id for i in candidate], state.condition)
        volts, ohms = (table[0] for table in predictor.nodes(state, [candidate]))
        answer = predictor.answers(state, [candidate]).answers[candidate]
        point = whole(predictor, candidate, number)
        assert not point.failure, ids
        assert answer.chattering == bool(point.chattering), ids
        if answer.failed or point.chattering:
            continue
        seen = predictor.effects(state, [candidate])[0]
        assert seen == bench.effect_of_point(number, point, predictor.blown(candidate)), ids
        # what a meter would pull away has no voltage of its own: its readings are compared below
        own = np.asarray([name not in point.floating_nodes for name in circuit.nodes])
        own &= ohms < 0.9 * DIODE_OHM
        off = np.where(own, np.abs(volts - point.volts[:len(volts)]), 0.0)
        assert off.max() < NODE_V, (ids, circuit.nodes[int(np.argmax(off))])
        assert off[degree >= HUB_DEGREE].max() < HUB_V, ids
        compared += 1
    assert compared > 0.95 * pairs


def test_what_a_meter_shows(predictor: Predictor) -> None:
    """Predicted readings of single faults and the sound car against the meter as an element."""
    bench = predictor.bench
    nodes = [n for n in bench.assembled.circuit.nodes if not n.startswith("@")]
    rng = random.Random(7)
    off = []
    for _ in range(250):
        number = rng.randrange(len(bench.conditions))
        candidate = (rng.randrange(len(bench.faults)),) if rng.random() < 0.8 else ()
        node = rng.choice(nodes)
        shown = float(predictor.meter_v(State(bench.conditions[number].name), [candidate], node)[0])
        point = whole(predictor, candidate, number)
        if not point.chattering:
            off.append(abs(shown - measure(point, node).voltage_v))
    # a broken path is taken for a gigaohm: behind one a meter shows up to a hundredth of the supply
    assert max(off) < 0.2
    assert np.quantile(off, 0.98) < NODE_V


def test_a_point_that_only_an_led_feeds() -> None:
    """With the LED's switch open there is nearly the whole supply on its far side, as a meter's
    microampere opens the LED: its voltage at 1 uA, from n Vt ln(I/Is), is under that at its rated
    15 mA by n Vt ln(15 mA/1 uA)."""
    result = load_string(LED)
    assert not result.diagnostics
    vehicle = result.vehicle
    predictor = Predictor(run_sweep(Bench.of(vehicle)))
    off, on = (float(predictor.meter_v(State(name), [()], "H1.-")[0]) for name in ("off", "on"))
    assert on == pytest.approx(0.0, abs=0.05)
    assert 9.5 < off < 12.0
    assert off == pytest.approx(measure(predictor.bench.points[0], "H1.-").voltage_v, abs=0.02)


LED = """
vehicle "Line" { supply 12 V negative-earth }
place here "Bench"
battery G1 "Battery" in here 60 Ah 5 mohm
blade-fuse F1 "Fuse" in here 5 A
warning-led H1 "Warning" in here
toggle-switch S1 "Switch" in here
earth EP1 "Earth" in here
wire G1.- -> EP1 10 mm2 BK 0.5 m
wire G1.+ -> F1.1 1 mm2 RD 1 m
wire F1.2 -> H1.+ 1 mm2 RD 1 m
wire H1.- -> S1.1 1 mm2 BN 1 m
wire S1.2 -> EP1 1 mm2 BN 1 m
condition off "Open" { }
condition on "Closed" { S1 = on }
"""


def test_the_long_way_steps_in_where_the_fast_one_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every answer of the fast way thrown away: the readings and effects stay what they are."""
    sweep = run_sweep(Bench.of(load(FAN).vehicle))
    fast, slow = Predictor(sweep), Predictor(sweep)
    count = len(sweep.bench.faults)
    pairs: list[Candidate] = [(i, (7 * i + 3) % count) for i in range(0, count, 5)]
    candidates = [c for c in [*((i,) for i in range(0, count, 3)), *pairs]
                  if len(set(c)) == len(c)]
    condition = sweep.bench.conditions[0].name
    states = [State(condition), State(condition, unplugged=("X5",)),
              State(condition, pulled=("F7",)), State("battery-off")]
    wanted = {s: (fast.nodes(s, candidates), fast.effects(s, candidates)) for s in states}
    monkeypatch.setattr("harnessdsl.faults.perturb.Solver.solve",
                        lambda self, changes: [FAILED for _ in changes])
    for state in states:
        (volts, ohms), effects = wanted[state]
        slow_volts, _ = slow.nodes(state, candidates)
        solid = ohms < 0.9 * DIODE_OHM
        assert np.abs(np.where(solid, volts - slow_volts, 0.0)).max() < NODE_V, state
        assert slow.effects(state, candidates) == effects, state
    assert not slow.failures
