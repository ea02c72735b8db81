"""Against ngspice (Debian's package): the demo vehicle in all of its conditions, random circuits,
and a made-up vehicle large enough for the hubs of the core to lag."""

from __future__ import annotations

from pathlib import Path

import pytest
from ngspice_oracle import compare, ngspice
from random_circuits import random_circuit
from synthetic import synthetic_text

from harnessdsl.electric import Network, build_network, matrix, solve
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load, load_string

DEMO = Path(__file__).parent.parent / "examples" / "tourer" / "tourer.harness"


@pytest.fixture(scope="module")
def demo() -> Vehicle:
    return load(DEMO).vehicle


def test_ngspice_is_there() -> None:
    assert ngspice()


def test_demo_vehicle_in_every_condition(demo: Vehicle) -> None:
    """Every node and every element, within 1 mV or 0.01 %, and 0.1 %; at least 12 conditions."""
    points = matrix(demo)
    assert len(points) >= 12
    compared = 0
    for name, point in points.items():
        assert not point.failure, name
        wrong, count = compare(point)
        assert not wrong, f"{name}: {wrong[:5]}"
        assert count > len(point.network.circuit.nodes)
        compared += count
    assert compared > 12 * 1000


@pytest.mark.parametrize("name", ["parked", "ignition-on", "cranking"])
def test_demo_vehicle_without_a_guess(demo: Vehicle, name: str) -> None:
    """ngspice finds the same voltages from nothing; with an alternator at its regulator it does not
    come to an end without a guess, which is why the other checks give one."""
    wrong, _ = compare(solve(build_network(demo, demo.conditions[name])), guess=False)
    assert not wrong, wrong[:5]


@pytest.mark.parametrize("first", range(0, 200, 20))
def test_random_circuits(first: int) -> None:
    """200 random circuits with filaments, diodes, LEDs, motors, and relays in their found state."""
    for seed in range(first, first + 20):
        point = solve(Network(random_circuit(seed)), open_fuses=False)
        assert not point.failure, seed
        assert point.residual_a < 1e-6, seed
        wrong, _ = compare(point)
        assert not wrong, f"seed {seed}: {wrong[:5]}"


def test_large_vehicle_whose_hubs_lag() -> None:
    """1,500 wires: the core is split at its hubs, and the answer is still ngspice's."""
    from harnessdsl.electric.settle import plan_of

    vehicle = load_string(synthetic_text(1500)).vehicle
    points = matrix(vehicle, list(vehicle.conditions.values())[:3])
    for point in points.values():
        assert len(plan_of(point.network.circuit).core.lag_slot) > 100
        assert point.residual_a < 1e-6
        wrong, _ = compare(point)
        assert not wrong, wrong[:5]
