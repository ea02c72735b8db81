"""From the vehicle to the network: figures, conditions, polarity, floating points, instruments."""

from __future__ import annotations

import math

import pytest

from harnessdsl.electric import (
    OperatingPoint,
    build_network,
    element_id,
    matrix,
    measure,
    netlist,
    solve,
)
from harnessdsl.electric.conductors import cable_ohm_per_m
from harnessdsl.model.topology import build_topology
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load_string


def vehicle_of(text: str) -> Vehicle:
    result = load_string(text)
    assert not result.broken, [d.message for d in result.diagnostics]
    return result.vehicle


def solved(text: str, condition: str = "") -> OperatingPoint:
    vehicle = vehicle_of(text)
    point = solve(build_network(vehicle, vehicle.conditions[condition] if condition else None))
    assert not point.failure
    assert point.residual_a < 1e-6
    return point


LAMP = """
vehicle "Bench" {{ supply {volts} V {earth}-earth }}
battery G1 60 Ah 5 mohm
earth E1
lamp E5 {watts} W at {test} V
wire G1.{earthed} -> E1 35 mm2 BK 0.4 m
wire G1.{live} -> E5.{first} 1.5 mm2 RD 3 m
wire E5.{second} -> E1 1.5 mm2 BN 1 m
"""


def lamp(volts: float, earth: str) -> OperatingPoint:
    live, earthed = ("+", "-") if earth == "negative" else ("-", "+")
    return solved(LAMP.format(volts=volts, earth=earth, live=live, earthed=earthed, watts=21,
                              test=volts * 13.5 / 12, first=1, second=2))


def test_wire_resistance_with_its_joints() -> None:
    """3 m of 1.5 mm2 are 38.1 mohm (ISO 6722); crimps and terminals add a few milliohm more."""
    point = lamp(12, "negative")
    amperes = point.current_a("G1.+-E5.1")
    drop = point.across_v("G1.+-E5.1")
    wire = 3 * cable_ohm_per_m(1.5)
    assert wire * amperes < drop < (wire + 4e-3) * amperes
    assert point.loads[0].on


@pytest.mark.parametrize("volts", [6, 12, 24])
def test_either_earth_polarity(volts: float) -> None:
    """The same car with plus to earth: the same currents, every voltage with its sign turned."""
    negative, positive = lamp(volts, "negative"), lamp(volts, "positive")
    assert positive.voltage_v("E5.1") == pytest.approx(-negative.voltage_v("E5.1"), rel=1e-9)
    assert positive.voltage_v("E5.1") < 0
    assert abs(positive.current_a("E5:filament:1-2")) == pytest.approx(
        abs(negative.current_a("E5:filament:1-2")), rel=1e-9)
    assert abs(negative.voltage_v("E5.1")) == pytest.approx(volts * 12.65 / 12, rel=0.03)
    assert positive.loads[0].on
    assert measure(positive, "E5.1").voltage_v < 0


def test_two_batteries_in_series_make_24_volts() -> None:
    point = solved("""
vehicle "Truck" { supply 24 V negative-earth }
battery G1 100 Ah 4 mohm
battery G2 100 Ah 4 mohm
earth E1
wire G1.- -> E1 50 mm2 BK 0.4 m
wire G1.+ -> G2.- 50 mm2 RD 0.3 m
resistor R1 10 ohm
wire G2.+ -> R1.1 2.5 mm2 RD 1 m
wire R1.2 -> E1 2.5 mm2 BN 1 m
""")
    assert point.voltage_v("G1.+") == pytest.approx(12.65, abs=0.03)
    assert point.voltage_v("G2.+") == pytest.approx(25.3, abs=0.06)


def test_two_batteries_side_by_side_stay_at_12_volts() -> None:
    point = solved("""
vehicle "Diesel" { supply 12 V negative-earth }
battery G1 100 Ah 4 mohm
battery G2 100 Ah 4 mohm
earth E1
wire G1.- -> E1 50 mm2 BK 0.4 m
wire G2.- -> E1 50 mm2 BK 0.4 m
wire G1.+ -> G2.+ 50 mm2 RD 0.8 m
""")
    assert point.voltage_v("G2.+") == pytest.approx(12.65, abs=0.01)


def test_state_of_charge_is_read_from_the_battery() -> None:
    point = solved("""
vehicle "Bench" { supply 12 V negative-earth }
battery G1 60 Ah 5 mohm 25 %
earth E1
wire G1.- -> E1 35 mm2 BK 0.4 m
""")
    assert point.voltage_v("G1.+") == pytest.approx(12.06, abs=1e-3)


CHARGING = """
vehicle "Bench" {{ supply 12 V negative-earth }}
battery G1 60 Ah 5 mohm
alternator G2 {limit} A on engine
earth E1
earth E2 on engine
charge-warning-lamp H1
heater E5 {watts} W at 13 V
wire G1.- -> E1 35 mm2 BK 0.4 m
wire E2 -> E1 35 mm2 BN 0.5 m
wire G2.B+ -> G1.+ 16 mm2 RD 1 m
wire G1.+ -> H1.1 0.75 mm2 RD 1 m
wire H1.2 -> G2.D+ 0.75 mm2 BU 1 m
wire G1.+ -> E5.+ 10 mm2 RD 1 m
wire E5.- -> E1 10 mm2 BN 1 m
condition off rest
condition on {{ engine running }}
"""


def test_alternator_holds_the_voltage_and_the_charge_lamp_goes_out() -> None:
    vehicle = vehicle_of(CHARGING.format(limit=65, watts=170))
    points = matrix(vehicle)
    assert points["off"].voltage_v("G1.+") < 12.65
    assert points["off"].loads[0].current_a > 0.1
    running = points["on"]
    assert 13.7 < running.voltage_v("G1.+") < 14.2
    lamp_state = next(load for load in running.loads if load.part == "H1")
    assert lamp_state.state in ("off", "trace")
    assert running.current_a("G1:source:+--") > 0.5  # the battery is charged


def test_alternator_at_its_limit() -> None:
    """500 W need about 36 A: a 25 A machine gives 25 A and the battery the rest."""
    vehicle = vehicle_of(CHARGING.format(limit=25, watts=500))
    point = matrix(vehicle)["on"]
    assert -point.current_a("G2:alternator:B+-B-") == pytest.approx(25, abs=0.2)
    assert point.voltage_v("G1.+") < 12.65
    assert point.current_a("G1:source:+--") < -5


def test_alternator_with_the_battery_off() -> None:
    """Disconnected while running: the machine alone holds the load."""
    vehicle = vehicle_of(CHARGING.format(limit=65, watts=170).replace(
        "wire G1.- -> E1 35 mm2 BK 0.4 m", ""))
    point = matrix(vehicle)["on"]
    assert not point.failure
    assert 13.5 < point.voltage_v("G2.B+") < 14.3
    assert point.residual_a < 1e-6


def test_floating_points_are_named_and_read_nothing() -> None:
    text = """
vehicle "Bench" { supply 12 V negative-earth }
battery G1 60 Ah 5 mohm
earth E1
toggle-switch S1
toggle-switch S2
wire G1.- -> E1 35 mm2 BK 0.4 m
wire G1.+ -> S1.1 1 mm2 RD 1 m
wire S1.2 -> S2.1 1 mm2 RD 1 m
"""
    point = solved(text)
    assert {"S1.2", "S2.1", "S2.2"} <= set(point.floating_nodes)
    assert point.is_floating("S2.1") and not point.is_floating("S1.1")
    assert measure(point, "S2.1").voltage_v == 0.0
    assert measure(point, "S1.1").voltage_v == pytest.approx(12.65, abs=1e-3)
    # across the open switch the meter reads full voltage: its own 10 megohm ties the far side
    assert measure(point, "S1.1", "S2.1").voltage_v == pytest.approx(0.0, abs=1e-3)


def test_lifted_battery_earth_leaves_an_island() -> None:
    point = solved("""
vehicle "Bench" { supply 12 V negative-earth }
battery G1 60 Ah 5 mohm
earth E1
lamp E5
wire G1.+ -> E5.1 1 mm2 RD 1 m
wire E5.2 -> G1.- 1 mm2 BK 1 m
""")
    assert {"G1.+", "G1.-", "E5.1", "E5.2"} <= set(point.floating_nodes)
    assert point.loads[0].on
    assert point.voltage_v("G1.-") == 0.0
    assert measure(point, "G1.+").voltage_v == pytest.approx(0.0, abs=1e-6)
    assert measure(point, "G1.+", "G1.-").voltage_v == pytest.approx(12.64, abs=0.02)


def test_corroded_joint_fools_the_meter_and_not_the_lamp() -> None:
    """1 kohm in the feed: 10 megohm read all of it, a 5 W test lamp stays dark."""
    point = solved("""
vehicle "Bench" { supply 12 V negative-earth }
battery G1 60 Ah 5 mohm
earth E1
resistor R1 1 kohm
wire G1.- -> E1 35 mm2 BK 0.4 m
wire G1.+ -> R1.1 1 mm2 RD 1 m
unknown U1
wire R1.2 -> U1.x 1 mm2 RD 1 m
""")
    meter = measure(point, "U1.x")
    assert meter.voltage_v == pytest.approx(12.65 * 1e7 / (1e7 + 1e3), abs=1e-4)
    lamp_reading = measure(point, "U1.x", instrument="lamp")
    assert lamp_reading.shows == "dark"
    assert lamp_reading.voltage_v < 0.1
    assert measure(point, "R1.1", instrument="lamp").shows == "bright"


def test_test_lamp_can_pull_in_a_relay() -> None:
    """A lamp to plus at the earthed side of nothing: it feeds what hangs there."""
    point = solved("""
vehicle "Bench" { supply 12 V negative-earth }
battery G1 60 Ah 5 mohm
earth E1
relay K1
wire G1.- -> E1 35 mm2 BK 0.4 m
wire K1.85 -> E1 1 mm2 BN 1 m
""")
    assert not point.energised
    reading = measure(point, "G1.+", "K1.86", "lamp")
    assert reading.point.energised == frozenset({"K1:coil:86-85"})
    assert reading.shows == "dark"  # 0.15 A through a 5 W lamp


def test_module_pins() -> None:
    point = solved("""
vehicle "Bench" { supply 12 V negative-earth }
battery G1 60 Ah 5 mohm
earth E1
relay K1
module A3 {
    pin 1 supply 0.2 A
    pin 2 earth
    pin 5 low-side "pump relay" max 1 A
    pin 7 input "coolant sensor" pull-up 2200 ohm
}
temperature-sensor B1
wire G1.- -> E1 35 mm2 BK 0.4 m
wire G1.+ -> A3.1 0.75 mm2 RD 1 m
wire A3.2 -> E1 0.75 mm2 BN 1 m
wire G1.+ -> K1.86 0.75 mm2 RD 1 m
wire K1.85 -> A3.5 0.75 mm2 BN 1 m
wire A3.7 -> B1.1 0.5 mm2 GN 1 m
wire B1.2 -> E1 0.5 mm2 BN 1 m
condition on { A3.5 = on, B1 80 C }
""", "on")
    assert point.energised == frozenset({"K1:coil:86-85"})
    # 12.65 V over 2200 ohm and the sensor's 325 ohm at 80 C
    assert point.voltage_v("A3.7") == pytest.approx(12.65 * 325 / 2525, abs=0.02)
    assert measure(point, "A3.7").voltage_v == pytest.approx(point.voltage_v("A3.7"), abs=1e-3)


def test_lost_earth_feeds_back_through_another_lamp() -> None:
    """A tail unit that has lost its earth: braking lights the tail filament of both sides faintly,
    by way of the tail lamps' common feed."""
    point = solved("""
vehicle "Bench" { supply 12 V negative-earth }
battery G1 60 Ah 5 mohm
earth E1
stop-tail-lamp E5
stop-tail-lamp E6
push-switch S1
splice J1
wire G1.- -> E1 35 mm2 BK 0.4 m
wire G1.+ -> S1.1 1.5 mm2 RD 1 m
wire S1.2 -> E5.54 1.5 mm2 RD 1 m
wire E5.58 -> J1 1 mm2 GY 1 m
wire E6.58 -> J1 1 mm2 GY 1 m
wire E6.31 -> E1 1.5 mm2 BN 1 m
condition braking { S1 = pressed }
""", "braking")
    by_name = {(load.part, load.name): load for load in point.loads}
    assert by_name["E5", "tail"].current_a < -0.1  # backwards
    assert by_name["E6", "tail"].state != "off"
    assert by_name["E5", "stop"].state != "on"


def test_edge_ids_are_the_elements_ids() -> None:
    point = lamp(12, "negative")
    topology = build_topology(vehicle_of(LAMP.format(
        volts=12, earth="negative", live="+", earthed="-", watts=21, test=13.5, first=1,
        second=2)))
    for edge in topology.edges:
        assert math.isfinite(point.current_a(element_id(edge)))


def test_assumed_figures_are_said() -> None:
    vehicle = vehicle_of("""
vehicle "Bench" { supply 12 V negative-earth }
battery G1
earth E1
wire G1.- -> E1
""")
    network = build_network(vehicle)
    assert any("no area" in text for text in network.assumptions)
    assert any("no length" in text for text in network.assumptions)
    assert not solve(network).failure


def test_netlist_names_every_node() -> None:
    point = lamp(12, "negative")
    text = netlist(point)
    for node in point.network.circuit.nodes:
        assert f"= {node}" in text
    assert text.startswith("* ")
    assert netlist(point) == text


def test_empty_vehicle() -> None:
    point = solved('vehicle "Nothing" { supply 12 V negative-earth }')
    assert point.residual_a == 0.0
    assert point.loads == () and point.warnings() == ()
