"""Relays, thermal switches and fuses: what moves, what holds, what chatters."""

from __future__ import annotations

import pytest

from harnessdsl.electric import (
    OperatingPoint,
    build_network,
    measure,
    solve,
    solve_sequence,
)
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load_string

SUPPLY = """
vehicle "Bench" { supply 12 V negative-earth }
battery G1 60 Ah 5 mohm
earth E1
wire G1.- -> E1 35 mm2 BK 0.4 m
"""


def bench(text: str) -> Vehicle:
    result = load_string(SUPPLY + text)
    assert not result.broken, [d.message for d in result.diagnostics]
    return result.vehicle


def at(vehicle: Vehicle, name: str = "") -> OperatingPoint:
    point = solve(build_network(vehicle, vehicle.conditions[name] if name else None))
    assert not point.failure
    assert point.residual_a < 1e-6
    return point


def codes(point: OperatingPoint) -> set[str]:
    return {warning.code for warning in point.warnings()}


def pulled_in(point: OperatingPoint) -> set[str]:
    return {relay.part for relay in point.relays if relay.energised}


BUZZER = """
relay-break K1
wire G1.+ -> K1.30 1 mm2 RD 1 m
wire K1.87a -> K1.86 1 mm2 RD 0.2 m
wire K1.85 -> E1 1 mm2 BN 1 m
"""


def test_self_feeding_break_contact_chatters() -> None:
    point = at(bench(BUZZER))
    assert point.chattering == ("K1:coil:86-85",)
    warning = next(w for w in point.warnings() if w.code == "chattering")
    assert warning.subject == "K1"
    assert "chatters" in warning.message


def test_break_contact_on_its_own_feed_does_not_chatter() -> None:
    point = at(bench("""
relay-break K1
push-switch S1
wire G1.+ -> K1.30 1 mm2 RD 1 m
wire G1.+ -> S1.1 1 mm2 RD 1 m
wire S1.2 -> K1.86 1 mm2 RD 1 m
wire K1.85 -> E1 1 mm2 BN 1 m
condition pressed { S1 = pressed }
"""), "pressed")
    assert not point.chattering
    assert pulled_in(point) == {"K1"}
    assert not point.closed("K1:contact:30-87a")


LATCH = """
relay K1
push-switch S1
push-break-switch S2
lamp E5
wire G1.+ -> S2.1 1 mm2 RD 1 m
wire S2.2 -> K1.30 1 mm2 RD 1 m
wire S2.2 -> S1.1 1 mm2 RD 1 m
wire S1.2 -> K1.86 1 mm2 RD 1 m
wire K1.87 -> K1.86 1 mm2 RD 0.2 m
wire K1.85 -> E1 1 mm2 BN 1 m
wire K1.87 -> E5.1 1 mm2 RD 1 m
wire E5.2 -> E1 1 mm2 BN 1 m
condition idle rest
condition start { S1 = pressed }
condition stop { S2 = pressed }
"""


def test_latch_keeps_its_state_and_both_are_named() -> None:
    vehicle = bench(LATCH)
    points = solve_sequence(vehicle, ["idle", "start", "idle", "stop", "idle"])
    assert [pulled_in(point) for point in points] == [set(), {"K1"}, {"K1"}, set(), set()]
    cold, held = points[0], points[2]
    assert [state.energised for state in cold.other_states()] == [frozenset({"K1:coil:86-85"})]
    assert [state.energised for state in held.other_states()] == [frozenset()]
    message = next(w.message for w in cold.warnings() if w.code == "other-state")
    assert "K1" in message and "stays in" in message
    assert [load.on for load in cold.loads] == [False]
    assert [load.on for load in held.loads] == [True]


def test_two_relays_that_hold_each_other() -> None:
    """A latching pair: each relay's contact feeds the other's coil."""
    vehicle = bench("""
relay K1
relay K2
push-switch S1
wire G1.+ -> K1.30 1 mm2 RD 1 m
wire G1.+ -> K2.30 1 mm2 RD 1 m
wire G1.+ -> S1.1 1 mm2 RD 1 m
wire S1.2 -> K1.86 1 mm2 RD 1 m
wire K2.87 -> K1.86 1 mm2 RD 1 m
wire K1.87 -> K2.86 1 mm2 RD 1 m
wire K1.85 -> E1 1 mm2 BN 1 m
wire K2.85 -> E1 1 mm2 BN 1 m
condition idle rest
condition pushed { S1 = pressed }
""")
    points = solve_sequence(vehicle, ["idle", "pushed", "idle"])
    assert [pulled_in(point) for point in points] == [set(), {"K1", "K2"}, {"K1", "K2"}]
    both = frozenset({"K1:coil:86-85", "K2:coil:86-85"})
    assert both in [state.energised for state in points[0].other_states()]
    assert frozenset() in [state.energised for state in points[2].other_states()]


def test_race_of_two_break_contacts_is_named() -> None:
    """Each relay's break contact feeds the other: whichever is quicker wins."""
    point = at(bench("""
relay-break K1
relay-break K2
wire G1.+ -> K1.30 1 mm2 RD 1 m
wire G1.+ -> K2.30 1 mm2 RD 1 m
wire K1.87a -> K2.86 1 mm2 RD 1 m
wire K2.87a -> K1.86 1 mm2 RD 1 m
wire K1.85 -> E1 1 mm2 BN 1 m
wire K2.85 -> E1 1 mm2 BN 1 m
"""))
    assert not point.chattering
    assert len(pulled_in(point)) == 1
    assert {"race", "other-state"} <= codes(point)


def _hysteresis(ohm: float) -> Vehicle:
    return bench(f"""
relay K1
toggle-switch S1
resistor R1 {ohm} ohm
wire G1.+ -> S1.1 1 mm2 RD 1 m
wire S1.2 -> K1.86 1 mm2 RD 1 m
wire G1.+ -> R1.1 1 mm2 RD 1 m
wire R1.2 -> K1.86 1 mm2 RD 1 m
wire K1.85 -> E1 1 mm2 BN 1 m
condition fed {{ S1 = on }}
condition saved rest
""")


def test_hysteresis_and_order_matter() -> None:
    """100 ohm in series leave 12.65 * 85 / 185 = 5.8 V on the coil: under pull-in, over drop-
    out."""
    vehicle = _hysteresis(100)
    assert [pulled_in(p) for p in solve_sequence(vehicle, ["saved", "fed", "saved"])] == [
        set(), {"K1"}, {"K1"}]
    point = at(vehicle, "saved")
    relay = point.relays[0]
    assert relay.current_a == pytest.approx(12.65 / 185, rel=2e-3)
    assert relay.drop_out_a < relay.current_a < relay.pull_in_a
    assert "other-state" in codes(point)


def test_under_drop_out_nothing_holds() -> None:
    """600 ohm leave 1.57 V: under the drop-out voltage of 1.8 V."""
    vehicle = _hysteresis(600)
    assert [pulled_in(p) for p in solve_sequence(vehicle, ["fed", "saved"])] == [{"K1"}, set()]
    assert "other-state" not in codes(at(vehicle, "saved"))


@pytest.mark.parametrize(("ohm", "pulls"), [(0.001, True), (40, True), (80, False)])
def test_relay_starved_by_a_bad_earth(ohm: float, pulls: bool) -> None:
    """Pull-in is 7.2 V of 12.65 V on 85 ohm: a series resistance of 64 ohm is the limit."""
    point = at(bench(f"""
relay K1
earth E2 {ohm} ohm
wire G1.+ -> K1.86 1 mm2 RD 1 m
wire K1.85 -> E2 1 mm2 BN 1 m
"""))
    assert (pulled_in(point) == {"K1"}) is pulls


def test_open_coil_never_pulls_in_though_full_voltage_is_across_it() -> None:
    from harnessdsl.electric import Network
    from harnessdsl.electric.elements import OPEN

    vehicle = bench("""
relay K1
wire G1.+ -> K1.86 1 mm2 RD 1 m
wire K1.85 -> E1 1 mm2 BN 1 m
""")
    network = build_network(vehicle)
    whole = solve(network)
    assert pulled_in(whole) == {"K1"}
    broken = solve(Network(network.circuit.with_changes({"K1:coil:86-85": OPEN})))
    assert broken.across_v("K1:coil:86-85") == pytest.approx(12.65, abs=0.01)
    assert pulled_in(broken) == set()


def test_hot_coil_needs_more_volts() -> None:
    """Copper at 105 C has a third more resistance, so that 9 V no longer pull in what 7.2 V did."""
    vehicle = bench("""
relay K1
resistor R1 40 ohm
wire G1.+ -> R1.1 1 mm2 RD 1 m
wire R1.2 -> K1.86 1 mm2 RD 1 m
wire K1.85 -> E1 1 mm2 BN 1 m
""")
    assert pulled_in(solve(build_network(vehicle, ambient_c=20))) == {"K1"}
    assert pulled_in(solve(build_network(vehicle, ambient_c=140))) == set()


FAN = """
thermo-switch S9 closes 92 C opens 87 C
relay K2
motor M3 18 A stalls 75 A
blade-fuse F7 30 A
wire G1.+ -> F7.1 6 mm2 RD 0.5 m
wire F7.2 -> K2.30 4 mm2 RD 0.3 m
wire K2.87 -> M3.+ 4 mm2 BK 1 m
wire M3.- -> E1 4 mm2 BN 1 m
wire F7.2 -> K2.86 0.75 mm2 RD 0.3 m
wire K2.85 -> S9.1 0.75 mm2 BN 1 m
wire S9.2 -> E1 0.75 mm2 BN 1 m
condition cold { engine 60 C }
condition warm { engine 89 C }
condition hot { engine 95 C }
condition own { S9 95 C }
"""


def test_thermal_switch_with_hysteresis() -> None:
    vehicle = bench(FAN)
    order = ["cold", "warm", "hot", "warm", "cold"]
    points = solve_sequence(vehicle, order)
    assert [pulled_in(p) == {"K2"} for p in points] == [False, False, True, True, False]
    assert "hysteresis" in codes(points[1]) and "hysteresis" not in codes(points[2])
    assert pulled_in(at(vehicle, "own")) == {"K2"}
    fan = points[2].loads[0]
    assert fan.on and fan.speed_share is not None and 0.8 < fan.speed_share < 1.05


def test_stalled_motor_blows_its_fuse_and_the_circuit_is_solved_again() -> None:
    """75 A on 30 A is 2.5 times: ISO 8820-3 lets it take between 0.1 and a few seconds."""
    from dataclasses import replace

    vehicle = bench(FAN)
    condition = replace(vehicle.conditions["hot"], states={("M3", "motion"): "stalled"})
    point = solve(build_network(vehicle, condition))
    assert list(point.opened) == ["F7:fuse:1-2"]
    band = point.bands["F7:fuse:1-2"]
    assert 0.04 < band.shortest_s < band.longest_s < 5
    assert "opens within" in point.opened["F7:fuse:1-2"]
    assert point.current_a("M3:motor:+--") == pytest.approx(0.0, abs=1e-9)
    assert pulled_in(point) == set()  # the relay's feed went with it
    # a blown fuse stays blown
    after = solve_sequence(vehicle, ["hot"], point.state)
    assert list(after[0].opened) == ["F7:fuse:1-2"]
    held = solve(build_network(vehicle, condition), open_fuses=False)
    assert held.current_a("F7:fuse:1-2") > 60


def test_of_two_fuses_in_series_the_smaller_opens() -> None:
    point = at(bench("""
blade-fuse F1 30 A
blade-fuse F2 10 A
wire G1.+ -> F1.1 4 mm2 RD 0.5 m
wire F1.2 -> F2.1 2.5 mm2 RD 0.5 m
wire F2.2 -> E1 1.5 mm2 RD 2 m
"""))
    assert list(point.opened) == ["F2:fuse:1-2"]
    assert measure(point, "F1.2").voltage_v == pytest.approx(12.65, abs=0.01)
    assert measure(point, "F2.2").voltage_v == pytest.approx(0.0, abs=1e-3)


def test_fuse_a_little_over_its_rating_may_open() -> None:
    """1.2 times the rating: between 1.10 (for good) and 1.35 (within half an hour)."""
    point = at(bench("""
blade-fuse F1 10 A
resistor R1 1.03 ohm
wire G1.+ -> F1.1 4 mm2 RD 0.5 m
wire F1.2 -> R1.1 4 mm2 RD 0.5 m
wire R1.2 -> E1 4 mm2 BN 0.5 m
"""))
    assert not point.opened
    assert 1.1 < point.fuses[0].share < 1.35
    assert "may-open" in codes(point)


def test_diode_across_the_coil_the_wrong_way_round_blows_the_fuse() -> None:
    """A flyback diode has its cathode at plus (86); reversed it is a short."""
    text = """
{kind} K1
blade-fuse F1 5 A
wire G1.+ -> F1.1 1 mm2 RD 0.5 m
wire F1.2 -> K1.{plus} 1 mm2 RD 0.5 m
wire K1.{minus} -> E1 1 mm2 BN 0.5 m
"""
    right = at(bench(text.format(kind="relay-diode", plus="86", minus="85")))
    assert pulled_in(right) == {"K1"} and not right.opened
    wrong = at(bench(text.format(kind="relay-diode", plus="85", minus="86")))
    assert list(wrong.opened) == ["F1:fuse:1-2"]


def test_starter_with_pull_in_and_hold_in() -> None:
    """The pull-in winding is bridged when the solenoid's contact closes."""
    point = at(bench("""
starter M1 on engine
earth E7 on engine
push-switch S1
wire E7 -> E1 35 mm2 BN 0.5 m
wire G1.+ -> M1.30 35 mm2 RD 1 m
wire G1.+ -> S1.1 4 mm2 RD 0.5 m
wire S1.2 -> M1.50 4 mm2 RD 0.5 m
condition crank { S1 = pressed }
"""), "crank")
    assert pulled_in(point) == {"M1"}
    assert 120 < point.current_a("M1:motor:M-31") < 190
    assert abs(point.current_a("M1:winding:50-P:pull-in")) < 2.0
