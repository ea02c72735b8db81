"""Cautions: each danger is told with the step that meets it, and airbags are left alone.

Which dangers there are is common practice, no source.
"""

from __future__ import annotations

import pytest

from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case import BATTERY_OFF, Case, Observation
from harnessdsl.faults.cautions import TEXTS, cautions, forbidden, may_be_done
from harnessdsl.faults.next_measurement import next_actions
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.ranking import weigh
from harnessdsl.faults.refusals import possible
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load_string

TEXT = """vehicle "Brackwater Tourer estate" { supply 12 V negative-earth }
place seat "Under the seat" at 1, 2, 3 mm
place nose "Behind the grille" at 1, 2, 3 mm
place tank "On the tank" at 1, 2, 3 mm
battery G1 60 Ah in nose
ignition-lock S1
blade-fuse F1 10 A
blade-fuse F2 20 A
airbag-module A9 in seat
airbag-igniter A8 in seat
module A1 "Injection" { pin 1 supply; pin 2 earth; pin 4 low-side "pump" }
connector X1 "Seat plug" 4 way in seat
connector X2 "Fan plug" 2 way in nose
fuel-pump M1 "Pump" in tank
motor M3 "Radiator fan" in nose
ignition-coil T1
relay K1
earth E1
wire G1.+ -> F1.1 1 mm2 RD 1 m
wire G1.+ -> S1.30 4 mm2 RD 1 m
wire S1.15 -> F2.1 2 mm2 BK 1 m
wire F1.2 -> A9.15 1 mm2 RD 1 m
wire A9.31 -> E1 1 mm2 BN 1 m
wire A9.W -> X1.1 -> A8.1 1 mm2 YE 1 m
wire F2.2 -> K1.30 2 mm2 BK 1 m
wire F2.2 -> K1.86 1 mm2 BK 1 m
wire F2.2 -> A1.1 1 mm2 BK 1 m
wire F2.2 -> T1.15 1 mm2 BK 1 m
wire A1.2 -> E1 1 mm2 BN 1 m
wire A1.4 -> K1.85 1 mm2 GN 1 m
wire K1.87 -> X1.2 -> M1.+ 1.5 mm2 GN/RD 1 m
wire K1.87 -> X2.1 -> M3.+ 1.5 mm2 GN/BK 1 m
wire M1.- -> E1 1.5 mm2 BN 1 m
wire M3.- -> X2.b.2 -> E1 1.5 mm2 BN 1 m
wire G1.- -> E1 10 mm2 BN 1 m
condition run "Key on" { S1 = run; A1.4 = on }
condition idle "Idling" { S1 = run; A1.4 = on; engine running }
condition crank "Cranking" { S1 = start }
condition road "On the road" { S1 = run; engine running; moving }
"""


@pytest.fixture(scope="module")
def vehicle() -> Vehicle:
    result = load_string(TEXT)
    assert not result.broken, result.diagnostics
    return result.vehicle


def told(vehicle: Vehicle, seen: Observation) -> str:
    return "\n".join(cautions(vehicle, seen))


@pytest.mark.parametrize(("seen", "words"), [
    (Observation("volts", "M1.+", condition="run"), "Fuel:"),
    (Observation("volts", "X2.a.1", condition="run"), "fan may start"),
    (Observation("volts", "M3.+", condition="run"), "fan may start"),
    (Observation("volts", "G1.+", condition="run"), "Battery:"),
    (Observation("volts", "T1.15", condition="run"), "High voltage"),
    (Observation("ohms", "K1.87", condition=BATTERY_OFF), "earth lead off"),
    (Observation("ohms", "K1.87", condition=BATTERY_OFF), "Battery:"),
    (Observation("fuse", "F2"), "never a larger one"),
    (Observation("fuse", "F2", condition="run"), "one after the other"),
    (Observation("volts", "K1.30", condition="run", pulled=("F1",)), "never a larger one"),
    (Observation("volts", "A1.4", condition="run"), "test lamp"),
    (Observation("lamp", "K1.85", condition="run"), "test lamp"),
    (Observation("amps", "F2", condition="run"), "short circuit"),
    (Observation("volts", "K1.30", condition="idle"), "engine runs"),
    (Observation("volts", "K1.30", condition="crank"), "turns over"),
    (Observation("load", "M3", condition="road"), "second person drives"),
    (Observation("volts", "K1.30", condition="run"), "do not pierce"),
])
def test_a_danger_is_told_where_it_is_met(seen: Observation, words: str, vehicle: Vehicle) -> None:
    assert words in told(vehicle, seen)


@pytest.mark.parametrize(("seen", "words"), [
    (Observation("volts", "K1.87", condition="run"), "test lamp"),
    (Observation("volts", "K1.87", condition="run"), "Fuel:"),
    (Observation("volts", "K1.87", condition="run"), "engine runs"),
    (Observation("ohms", "K1.85", condition=BATTERY_OFF, alone=True), "earth lead off"),
])
def test_a_danger_is_not_told_where_there_is_none(seen: Observation, words: str, vehicle: Vehicle
                                                  ) -> None:
    assert words not in told(vehicle, seen)


@pytest.mark.parametrize("seen", [
    Observation("volts", "A8.1", condition="run"),
    Observation("ohms", "A9.W", condition=BATTERY_OFF),
    Observation("volts", "X1.a.2", condition="run"),  # another cavity of the airbag's plug
    Observation("ohms", "K1.87", condition=BATTERY_OFF, unplugged=("X1",)),
    Observation("wiggle", "X1", condition="run"),
    Observation("swap", "A9", against="A9", condition="run"),
])
def test_airbags_are_left_alone(seen: Observation, vehicle: Vehicle) -> None:
    assert not may_be_done(vehicle, seen)


def test_what_has_nothing_to_do_with_airbags_may_be_measured(vehicle: Vehicle) -> None:
    assert not forbidden(vehicle, "K1.87")
    assert may_be_done(vehicle, Observation("ohms", "K1.87", condition=BATTERY_OFF,
                                            unplugged=("X2",)))


def test_no_step_touches_an_airbag(vehicle: Vehicle) -> None:
    predictor = Predictor(run_sweep(Bench.of(vehicle)))
    case = Case("x", observations=(Observation("load", "M1", "dead", condition="run"),))
    weights = weigh(predictor, case)
    found = possible(case, weights, next_actions(weights, case))
    assert len(found) > 5
    for action in found:
        seen = action.observation
        assert not {"X1", "A8", "A9"} & {seen.subject.partition(".")[0], *seen.unplugged}
        assert TEXTS["airbag"] not in cautions(vehicle, seen)
