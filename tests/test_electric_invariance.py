"""The answer depends on the network alone: not on names, not on order, not on how it was solved;
and it holds over thirteen orders of magnitude in one network."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_circuits import random_circuit
from synthetic import synthetic_text

from harnessdsl.electric import Circuit, CircuitError, Network, matrix, solve, solve_many
from harnessdsl.electric import settle as settling
from harnessdsl.electric.elements import (
    CoilTerm,
    Element,
    Junction,
    Law,
    Resistance,
    source,
)
from harnessdsl.electric.plan import make_plan
from harnessdsl.pipeline import load_string

CURRENT_A = 1e-6


@given(st.integers(0, 10_000_000))
@settings(max_examples=80, deadline=None, derandomize=True)
def test_currents_sum_to_nothing_at_every_node(seed: int) -> None:
    point = solve(Network(random_circuit(seed)), open_fuses=False)
    assert not point.failure
    assert point.residual_a < CURRENT_A


def _renamed(circuit: Circuit, rng: random.Random) -> tuple[Circuit, dict[str, str]]:
    """The same circuit with other names for everything, in another order."""
    nodes = list(circuit.nodes)
    fresh = [f"x{i}" for i in range(len(nodes))]
    rng.shuffle(fresh)
    new = dict(zip(nodes, fresh, strict=True))
    numbers = list(range(len(circuit.elements)))
    rng.shuffle(numbers)
    ids = {e.id: f"e{n}" for e, n in zip(circuit.elements, numbers, strict=True)}
    elements = []
    for element in circuit.elements:
        gate = element.gate
        if gate is not None:
            gate = tuple(CoilTerm(ids[t.coil], t.energised) for t in gate)
        elements.append(replace(element, id=ids[element.id], a=new[element.a], b=new[element.b],
                                gate=gate))
    rng.shuffle(elements)
    order = list(fresh)
    rng.shuffle(order)
    return Circuit(elements, new[circuit.reference], order), {**new, **ids}


@pytest.mark.parametrize("seed", range(60))
def test_renaming_and_reordering_change_nothing(seed: int) -> None:
    circuit = random_circuit(seed)
    ours = solve(Network(circuit), open_fuses=False)
    if ours.race:  # which of two equal relays wins is not the network's to say
        return
    other, new = _renamed(circuit, random.Random(seed))
    theirs = solve(Network(other), open_fuses=False)
    assert {new[name] for name in ours.energised} == set(theirs.energised)
    assert {new[name] for name in ours.chattering} == set(theirs.chattering)
    for node in circuit.nodes:
        assert theirs.voltage_v(new[node]) == pytest.approx(ours.voltage_v(node), abs=1e-6)
    for element in circuit.elements:
        assert theirs.current_a(new[element.id]) == pytest.approx(
            ours.current_a(element.id), rel=1e-6, abs=1e-6)
    assert {new[node] for node in ours.floating_nodes} == set(theirs.floating_nodes)


def chain(*laws: Law) -> Circuit:
    """Elements in a row from node n0 to the reference."""
    names = [f"n{i}" for i in range(len(laws))] + ["0"]
    return Circuit([Element(f"e{i}", names[i], names[i + 1], law)
                    for i, law in enumerate(laws)] + [
                        Element("s", "n0", "0", source(12.0, 1e-3))], "0")


def test_leak_behind_forty_joints() -> None:
    """A cluster of forty joints of 10 microhms that only two leaks of 10 megohm tie to anything: it
    stands at half the supply, to the digits that are there (plain elimination loses them)."""
    circuit = chain(Resistance(1e7), *[Resistance(1e-5)] * 40, Resistance(1e7))
    point = solve(Network(circuit))
    for i in range(1, 41):
        assert point.voltage_v(f"n{i}") == pytest.approx(6.0, abs=1e-5)
    assert point.current_a("e20") == pytest.approx(12.0 / 2e7, rel=1e-3)


def test_one_microhm_to_ten_megohm_in_one_network() -> None:
    circuit = Circuit([
        Element("s", "a", "0", source(12.0, 1e-6)), Element("bar", "a", "b", Resistance(1e-6)),
        Element("load", "b", "0", Resistance(0.01)), Element("leak", "b", "c", Resistance(1e7)),
        Element("joint", "c", "d", Resistance(1e-6)), Element("end", "d", "0", Resistance(1e7))],
        "0")
    point = solve(Network(circuit))
    total = 12.0 / (1e-6 + 1e-6 + 1 / (1 / 0.01 + 1 / 2e7))
    assert -point.current_a("s") == pytest.approx(total, rel=1e-9)
    assert point.voltage_v("c") == pytest.approx(point.voltage_v("b") / 2, rel=1e-9)
    assert point.voltage_v("c") - point.voltage_v("d") == pytest.approx(0.0, abs=1e-9)
    assert point.residual_a < CURRENT_A


@given(st.lists(st.floats(-6, 7), min_size=3, max_size=30))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_divider_of_any_magnitudes(exponents: list[float]) -> None:
    """Any row of resistors from 1 microhm to 10 megohm divides its voltage in proportion."""
    ohms = [10.0**e for e in exponents]
    point = solve(Network(chain(*[Resistance(ohm) for ohm in ohms])))
    total = sum(ohms) + 1e-3
    below = sum(ohms)
    for i, ohm in enumerate(ohms):
        assert point.voltage_v(f"n{i}") == pytest.approx(12.0 * below / total, rel=1e-9, abs=1e-12)
        below -= ohm


def test_a_diode_that_hardly_conducts_still_sets_its_node() -> None:
    """Two diodes in opposition: what little passes is theirs alone, and their middle is told to a
    millivolt (closed form: equal leaks, the reverse one saturated)."""
    junction = Junction(0.75, 1.0, 0.0466)
    circuit = Circuit([
        Element("s", "a", "0", source(12.0, 1e-3)), Element("d1", "a", "m", junction),
        Element("d2", "0", "m", junction)], "0")
    point = solve(Network(circuit))
    reverse = junction.saturation_a + 1e-8 * point.voltage_v("m")
    forward = 12.0 - point.voltage_v("m")
    assert junction.saturation_a * np.expm1(forward / 0.0466) + 1e-8 * forward == pytest.approx(
        reverse, rel=1e-5)


def test_the_fall_back_gives_the_same_answer() -> None:
    """The convex fall-back against the plain method, on the same circuits."""
    from harnessdsl.electric.robust import solve_stage

    for seed in range(40):
        circuit = random_circuit(seed)
        plain = solve(Network(circuit), open_fuses=False)
        batch = settling.Batch([Network(circuit)], [frozenset()])
        energised = settling.start_states(circuit, [plain.state])
        columns = batch._columns(settling.plan_of(circuit, robust=True))
        with np.errstate(all="ignore"):
            sure = solve_stage(batch.stage(columns, energised, np.arange(1)))
        assert sure.solved.all(), seed
        islands = np.asarray([circuit.node_index[n] for n in plain.floating_nodes], dtype=int)
        kept = np.setdiff1d(np.arange(len(circuit.nodes)), islands)
        assert np.abs(sure.volts[kept, 0] - plain.volts[kept]).max() < 1e-5, seed


def test_lagging_hubs_give_the_same_answer() -> None:
    """A large vehicle with and without links between hubs that lag a step behind."""
    vehicle = load_string(synthetic_text(1200, seed=7)).vehicle
    fast = matrix(vehicle)
    circuit = next(iter(fast.values())).network.circuit
    assert len(settling.plan_of(circuit).core.lag_slot) > 100
    exact = make_plan(circuit, lagging=False)
    assert not len(exact.core.lag_slot)
    kept = circuit.plans[(frozenset(), False)]
    circuit.plans[(frozenset(), False)] = exact
    try:
        slow = solve_many([point.network for point in fast.values()])
    finally:
        circuit.plans[(frozenset(), False)] = kept
    for one, other in zip(fast.values(), slow, strict=True):
        assert one.energised == other.energised
        assert np.abs(one.volts - other.volts).max() < 1e-6
        assert one.residual_a < CURRENT_A and other.residual_a < CURRENT_A


def test_solving_together_is_solving_one_by_one() -> None:
    vehicle = load_string(synthetic_text(300, seed=3)).vehicle
    for name, point in matrix(vehicle).items():
        alone = solve(point.network)
        assert alone.energised == point.energised, name
        assert np.abs(alone.volts - point.volts).max() < 1e-6, name


def test_same_input_same_bytes() -> None:
    one, other = (solve(Network(random_circuit(5))) for _ in range(2))
    assert one.volts.tobytes() == other.volts.tobytes()


def test_impossible_circuits_are_named() -> None:
    with pytest.raises(CircuitError, match="two elements are called 'a'"):
        Circuit([Element("a", "x", "0", Resistance(1)), Element("a", "y", "0", Resistance(1))],
                "0")
    with pytest.raises(CircuitError, match="no coil of this circuit"):
        Circuit([Element("a", "x", "0", Resistance(1), gate=(CoilTerm("b", True),))], "0")
    with pytest.raises(CircuitError, match="'a' has a resistance of -1"):
        Circuit([Element("a", "x", "0", Resistance(-1))], "0")
