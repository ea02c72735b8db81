"""Laws of single elements, conductor tables, fuse curves and default figures, each against its
source. "From memory" is said where a standard's wording was not at hand."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harnessdsl.electric import conductors, figures, fuse_curves
from harnessdsl.electric.assembly import thermistor_ohm
from harnessdsl.electric.elements import (
    THERMAL_VOLTAGE_V,
    Alternator,
    Cell,
    Filament,
    Junction,
    Law,
    Motor,
    Resistance,
    source,
)
from harnessdsl.electric.laws import FAMILIES, starting_voltage
from harnessdsl.model.quantity import awg_area_mm2


def through(law: Law, volts: float) -> tuple[float, float]:
    """Current and slope of one element."""
    assert not isinstance(law, Resistance)
    parameters = np.asarray(law.parameters())[:, None, None]
    amperes, siemens = FAMILIES[law.kind].evaluate(parameters, np.asarray([[volts]]))
    return float(amperes[0, 0]), float(siemens[0, 0])


# --- conductors


@pytest.mark.parametrize(("gauge", "ohm_per_1000_ft"), [
    (4, 0.2485), (6, 0.3951), (8, 0.6282), (10, 0.9989), (12, 1.588), (14, 2.525), (16, 4.016),
    (18, 6.385), (20, 10.15), (22, 16.14)])
def test_solid_copper_by_awg(gauge: int, ohm_per_1000_ft: float) -> None:
    """ASTM B258 diameters with IEC 60028 copper give the wire table of Floyd, Electric Circuit
    Fundamentals, and of HyperPhysics "Common Wire Gauges"."""
    ohm_per_m = conductors.solid_copper_ohm_per_m(awg_area_mm2(gauge))
    assert ohm_per_m * 304.8 == pytest.approx(ohm_per_1000_ft, rel=1e-3)


def test_copper_is_one_fifty_eighth() -> None:
    """IEC 60028 (from memory): 1/58 ohm mm2/m at 20 C."""
    assert pytest.approx(1 / 58, rel=1e-4) == conductors.COPPER_OHM_MM2_PER_M


@pytest.mark.parametrize(("area", "milliohm_per_m"), [
    (1.0, 18.5), (1.5, 12.7), (2.5, 7.6), (4.0, 4.71), (6.0, 3.14), (10.0, 1.82), (16.0, 1.16),
    (25.0, 0.743), (35.0, 0.527), (50.0, 0.368), (70.0, 0.259), (95.0, 0.196), (120.0, 0.153)])
def test_vehicle_cable(area: float, milliohm_per_m: float) -> None:
    """DIN ISO 6722 part 3 as T3-Pedia "Autoelektrik Grundlagen" quotes it."""
    assert conductors.cable_ohm_per_m(area) * 1e3 == pytest.approx(milliohm_per_m)


def test_sizes_outside_the_table_use_the_handbook_constant() -> None:
    """0.0185 ohm mm2/m (an automotive handbook, from memory); it must lie among the table's own."""
    assert conductors.cable_ohm_per_m(3.0) == pytest.approx(0.0185 / 3)
    products = [a * r * 1e-3 for a, r in conductors.ISO_6722_MOHM_PER_M.items() if a >= 1]
    assert min(products) < 0.0185 < max(products)


def test_vehicle_cable_lies_between_solid_and_flexible_conductors() -> None:
    """EN/IEC 60228 as a cable maker's page "Leiterwiderstand nach EN 60228" gives it."""
    for area, flexible in conductors.IEC_60228_CLASS_5_MOHM_PER_M.items():
        own = conductors.ISO_6722_MOHM_PER_M[area]
        assert own <= flexible
        assert own >= 0.94 * conductors.IEC_60228_SOLID_MOHM_PER_M[area]


@pytest.mark.parametrize(("celsius", "factor"), [(50, 1.118), (70, 1.197), (85, 1.255),
                                                 (105, 1.334)])
def test_hot_copper(celsius: float, factor: float) -> None:
    """0.00393 per kelvin (IEC 60028, from memory), worked out for the insulation classes."""
    assert conductors.temperature_factor(celsius) == pytest.approx(factor, abs=1e-3)
    # the same as the (234.5 + T) rule of IEC 60228's annex, to its rounding
    assert conductors.temperature_factor(celsius) == pytest.approx(
        (234.5 + celsius) / 254.5, rel=1e-3)


def test_aluminium_is_about_sixty_per_cent_worse() -> None:
    """IEC 60889 (from memory): 0.028264 against 0.017241."""
    ratio = conductors.cable_ohm_per_m(10, "aluminium") / (0.0185 / 10)
    assert ratio == pytest.approx(0.028264 / 0.017241, rel=1e-6)


def test_a_wire_without_area_is_refused() -> None:
    with pytest.raises(ValueError, match="carries nothing"):
        conductors.cable_ohm_per_m(0.0)


# --- lamps


@pytest.mark.parametrize(("watts", "test_v", "at_test_a", "at_12_a"), [
    (68, 13.2, 5.15, 4.89), (75, 13.2, 5.68, 5.39), (58, 13.2, 4.39, 4.17),
    (26.5, 13.5, 1.96, 1.84), (5.5, 13.5, 0.41, 0.38), (11, 13.5, 0.81, 0.76)])
def test_filament_currents(watts: float, test_v: float, at_test_a: float, at_12_a: float) -> None:
    """UN R37 objective watts (H1, H4, H7, P21W, R5W, R10W; from memory), amperes by I ~ V^0.55
    (Standard Handbook for Electrical Engineers, lamp rerating)."""
    lamp = Filament(watts / test_v, test_v)
    assert through(lamp, test_v)[0] == pytest.approx(at_test_a, abs=0.006)
    assert through(lamp, 12.0)[0] == pytest.approx(at_12_a, abs=0.006)


@pytest.mark.parametrize(("ratio", "current", "power"), [(13.5 / 12, 1.067, 1.200),
                                                         (13.2 / 12, 1.054, 1.159)])
def test_filament_power_law(ratio: float, current: float, power: float) -> None:
    """I x1.067, P x1.200 from 12 to 13.5 V; x1.054, x1.159 to 13.2 V (exponents 0.55 and 1.55)."""
    lamp = Filament(1.75, 12.0)
    grown = through(lamp, 12.0 * ratio)[0] / 1.75
    assert grown == pytest.approx(current, abs=1e-3)
    assert grown * ratio == pytest.approx(power, abs=1e-3)


def test_cold_filament() -> None:
    """Cold resistance is a tenth of the hot one ("tungsten-filament" lamp driver notes)."""
    lamp = Filament(4.0, 12.0)
    assert 1 / through(lamp, 0.0)[1] == pytest.approx(0.3, rel=1e-3)


# --- motors, batteries, alternators, diodes


def test_motor_at_its_two_written_points() -> None:
    """The figures that a file gives are met: running current, and stall current at a standstill."""
    motor = Motor(18.0, 75.0, 13.0)
    assert through(motor, 13.0)[0] == pytest.approx(18.0, rel=1e-4)
    assert 13.0 / motor.winding_ohm == pytest.approx(75.0)
    assert through(motor, -13.0)[0] == pytest.approx(-18.0, rel=1e-4)
    # too little to turn: a plain resistance
    low = 0.5 * motor.starting_v
    assert through(motor, low)[0] == pytest.approx(low / motor.winding_ohm, rel=1e-3)
    assert motor.speed_share(13.0, 18.0) == pytest.approx(1.0)
    assert motor.speed_share(low, low / motor.winding_ohm) == pytest.approx(0.0, abs=1e-9)


def test_battery_gives_and_takes() -> None:
    battery = Cell(12.6, 0.005, 1.0)
    assert through(battery, 12.1)[0] == pytest.approx(-100.0, rel=1e-4)
    assert through(battery, 14.1)[0] == pytest.approx(1.5, rel=1e-4)
    assert through(source(12.6, 0.01), 14.1)[0] == pytest.approx(150.0, rel=1e-6)


@pytest.mark.parametrize(("charge", "volts"), [(1.0, 12.65), (0.75, 12.45), (0.5, 12.24),
                                               (0.25, 12.06), (0.0, 11.89)])
def test_state_of_charge(charge: float, volts: float) -> None:
    """Battery Council International, wet cells at 26.7 C ("State Of Charge - SOC Measurement")."""
    assert figures.open_circuit_v(charge) == pytest.approx(volts)
    assert figures.open_circuit_v(charge, 24.0) == pytest.approx(2 * volts)
    assert figures.open_circuit_v(charge, 6.0) == pytest.approx(volts / 2)


def test_a_low_battery_takes_more_charge() -> None:
    full = (14.2 - 12.65) / figures.charge_ohm(1.0, 60)
    low = (14.2 - 12.24) / figures.charge_ohm(0.5, 60)
    assert full == pytest.approx(0.02 * 60)
    assert low > 10 * full


def test_alternator_regulates_and_limits() -> None:
    machine = Alternator(14.2, 55.0, 0.025)
    assert through(machine, 13.7)[0] == pytest.approx(-20.0, rel=2e-3)
    assert through(machine, 9.0)[0] == pytest.approx(-55.0, rel=2e-3)
    # nothing flows back but what its own regulator takes
    assert 0 < through(machine, 15.0)[0] < 0.05


def test_diode_and_led_at_their_written_points() -> None:
    diode = Junction(0.75, 1.0, 1.8 * THERMAL_VOLTAGE_V)
    assert through(diode, 0.75)[0] == pytest.approx(1.0, rel=1e-6)
    # ten times the current for n Vt ln 10 more (Shockley's law)
    step = 1.8 * THERMAL_VOLTAGE_V * math.log(10)
    assert through(diode, 0.75 + step)[0] == pytest.approx(10.0, rel=1e-5)
    assert -1e-6 < through(diode, -12.0)[0] < 0


LAWS: list[Law] = [Cell(12.6, 0.005, 1.0), Alternator(14.2, 55.0, 0.025), Filament(4.4, 13.2),
                   Junction(0.75, 1.0, 0.0466), Junction(2.0, 0.015, 0.0517), Motor(18, 75, 13)]


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.kind)
@given(low=st.floats(-30, 30), step=st.floats(1e-6, 20))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_every_law_rises_and_has_its_slope(law: Law, low: float, step: float) -> None:
    """Rising laws are what makes the solution one and the fall-back sure; the slope that Newton's
    method uses is the law's own (central difference)."""
    first, slope = through(law, low)
    second, _ = through(law, low + step)
    assert second >= first - 1e-12 * abs(first)
    assert slope >= 0
    h = 1e-7
    rise = (through(law, low + h)[0] - through(law, low - h)[0]) / (2 * h)
    if not math.isinf(rise) and abs(low - starting_voltage(law)) > 1e-3:
        # the corners of batteries and alternators are rounded over less than h can see
        corner = law.kind == "cell" and abs(low - 12.6) < 1e-3
        corner |= law.kind == "alternator" and min(abs(low - 14.2), abs(low - 12.825)) < 0.1
        corner |= law.kind == "motor" and abs(abs(low) - Motor(18, 75, 13).starting_v) < 0.05
        if not corner:
            assert slope == pytest.approx(rise, rel=1e-3, abs=1e-6 * max(1.0, abs(first)))


# --- thermistors and protection


def test_thermistor_by_its_table_and_the_beta_formula() -> None:
    table = ((20.0, 2500.0), (80.0, 325.0))
    assert thermistor_ohm(table, 20.0) == pytest.approx(2500.0)
    assert thermistor_ohm(table, 80.0) == pytest.approx(325.0)
    beta = math.log(2500 / 325) / (1 / 293.15 - 1 / 353.15)
    assert thermistor_ohm(table, 50.0) == pytest.approx(
        2500 * math.exp(beta * (1 / 323.15 - 1 / 293.15)))
    assert thermistor_ohm(table, 100.0) < 325.0


@pytest.mark.parametrize(("multiple", "longest_s"), [(1.35, 1800.0), (2.0, 5.0), (3.5, 0.5),
                                                     (6.0, 0.1)])
def test_blade_fuse_limits(multiple: float, longest_s: float) -> None:
    """Largest opening times of ISO 8820-3, as a relay and fuse data sheet quotes them."""
    assert fuse_curves.BLADE.band(multiple).longest_s == pytest.approx(longest_s)


def test_blade_fuse_carries_110_per_cent_for_good() -> None:
    """100 hours at 1.10 times the rating (ISO 8820-3, from memory)."""
    assert not fuse_curves.BLADE.band(1.10).may_open
    between = fuse_curves.BLADE.band(1.2)
    assert between.may_open and not between.opens
    assert fuse_curves.BLADE.band(1.36).opens


@pytest.mark.parametrize(("multiple", "shortest_s", "longest_s"), [
    (1.35, 60.0, 1800.0), (2.0, 2.0, 60.0), (3.5, 0.2, 7.0), (6.0, 0.04, 1.0)])
def test_maxi_fuse_limits(multiple: float, shortest_s: float, longest_s: float) -> None:
    """ISO 8820-3 type E, SAE J1888 (from memory, low confidence)."""
    band = fuse_curves.MAXI.band(multiple)
    assert (band.shortest_s, band.longest_s) == pytest.approx((shortest_s, longest_s))


@pytest.mark.parametrize("curve", [fuse_curves.BLADE, fuse_curves.MINI, fuse_curves.MAXI,
                                   fuse_curves.TORPEDO, fuse_curves.GLASS, fuse_curves.STRIP,
                                   fuse_curves.LINK, fuse_curves.BREAKER],
                         ids=lambda c: c.name.replace(" ", "-"))
def test_more_current_never_takes_longer(curve: fuse_curves.FuseCurve) -> None:
    bands = [curve.band(1 + 0.05 * i) for i in range(200)]
    for before, after in pairwise(bands):
        assert after.shortest_s <= before.shortest_s
        assert after.longest_s <= before.longest_s
        assert after.shortest_s <= after.longest_s
    assert curve.source


def test_curves_by_kind_and_slot() -> None:
    assert fuse_curves.curve_of("fuse", "mini-fuse") is fuse_curves.MINI
    assert fuse_curves.curve_of("fuse", "my-own", ("maxi-fuse",)) is fuse_curves.MAXI
    assert fuse_curves.curve_of("fuse", "torpedo-fuse") is fuse_curves.TORPEDO
    assert fuse_curves.curve_of("breaker", "anything") is fuse_curves.BREAKER
    assert fuse_curves.curve_of("link", "anything") is fuse_curves.LINK
    assert fuse_curves.curve_of("fuse", "blade-fuse") is fuse_curves.BLADE


@pytest.mark.parametrize(("rating", "milliohm"), [(1, 123.0), (5, 17.9), (10, 7.7), (30, 2.0)])
def test_fuse_resistance(rating: float, milliohm: float) -> None:
    """A fuse maker's data sheet, from memory, low confidence; between rows it must fall."""
    assert fuse_curves.fuse_ohm(rating) * 1e3 == pytest.approx(milliohm)
    assert fuse_curves.fuse_ohm(rating * 1.2) < fuse_curves.fuse_ohm(rating)
