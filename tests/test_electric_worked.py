"""Worked examples: circuits whose answer is known in closed form or printed somewhere."""

from __future__ import annotations

import pytest

from harnessdsl.electric import Circuit, Network, OperatingPoint, solve
from harnessdsl.electric.conductors import cable_ohm_per_m
from harnessdsl.electric.elements import Element, Filament, Law, Resistance, source
from harnessdsl.electric.fuse_curves import BLADE, fuse_ohm

STIFF_OHM = 1e-6
"""The resistance of a source that is meant to have none."""


def network(*elements: tuple[str, str, str, Law]) -> OperatingPoint:
    """Solve (id, a, b, law) elements with node 0 as the reference."""
    found = solve(Network(Circuit([Element(*element) for element in elements], "0")))
    assert not found.failure
    assert found.residual_a < 1e-6
    return found


@pytest.mark.parametrize(("volts", "ohms", "va", "vb", "through", "total", "equivalent"), [
    (12, (1, 2, 2, 1, 1), 48 / 7, 36 / 7, 12 / 7, 60 / 7, 1.4),
    (12, (10, 20, 30, 40, 50), 7.896774, 7.122581, 0.01548387, 0.5729032, 20.94595),
    (10, (100, 200, 150, 350, 50), 6.766917, 6.842105, -0.001503759, 0.05338346, 187.3239),
    (12, (10, 20, 30, 60, 50), 8.0, 8.0, 0.0, 0.5333333, 22.5)])
def test_wheatstone_bridge(volts: float, ohms: tuple[float, ...], va: float, vb: float,
                           through: float, total: float, equivalent: float) -> None:
    """The five-resistor bridge, by nodal equations; 1-2-2-1-1 ohm being 1.4 ohm is a well-known
    exercise of circuits textbooks (from memory)."""
    r1, r2, r3, r4, r5 = (Resistance(ohm) for ohm in ohms)
    point = network(("s", "t", "0", source(volts, STIFF_OHM)), ("1", "t", "a", r1),
                    ("2", "a", "0", r2), ("3", "t", "b", r3), ("4", "b", "0", r4),
                    ("5", "a", "b", r5))
    assert point.voltage_v("a") == pytest.approx(va, rel=2e-6)
    assert point.voltage_v("b") == pytest.approx(vb, rel=2e-6)
    assert point.current_a("5") == pytest.approx(through, rel=2e-5, abs=1e-9)
    assert -point.current_a("s") == pytest.approx(total, rel=2e-6)
    assert point.voltage_v("t") / -point.current_a("s") == pytest.approx(equivalent, rel=2e-6)


def test_thevenin_of_the_bridge() -> None:
    """Thevenin's theorem (any circuits textbook): the bridge seen from its middle."""
    volts, (r1, r2, r3, r4, r5) = 12.0, (10.0, 20.0, 30.0, 40.0, 50.0)
    open_v = volts * (r2 / (r1 + r2) - r4 / (r3 + r4))
    inner = r1 * r2 / (r1 + r2) + r3 * r4 / (r3 + r4)
    point = network(("s", "t", "0", source(volts, STIFF_OHM)), ("1", "t", "a", Resistance(r1)),
                    ("2", "a", "0", Resistance(r2)), ("3", "t", "b", Resistance(r3)),
                    ("4", "b", "0", Resistance(r4)), ("5", "a", "b", Resistance(r5)))
    assert point.current_a("5") == pytest.approx(open_v / (inner + r5), rel=1e-5)


def test_battery_and_alternator_in_parallel() -> None:
    """Millman's theorem: 12.6 V behind 10 mohm and 14.2 V behind 50 mohm on 1 ohm."""
    point = network(("g1", "p", "0", source(12.6, 0.010)), ("g2", "p", "0", source(14.2, 0.050)),
                    ("load", "p", "0", Resistance(1.0)))
    assert point.voltage_v("p") == pytest.approx(12.760331, abs=1e-6)
    assert -point.current_a("g2") == pytest.approx(28.7934, abs=1e-4)
    assert point.current_a("g1") == pytest.approx(16.0331, abs=1e-4)
    assert point.current_a("load") == pytest.approx(12.7603, abs=1e-4)


def test_lamp_as_a_constant_resistance_on_a_line() -> None:
    """55 W at 12 V taken as 2.618 ohm behind 0.1 ohm: 4.4147 A, 11.5585 V (closed form)."""
    point = network(("s", "p", "0", source(12, STIFF_OHM)), ("line", "p", "q", Resistance(0.1)),
                    ("lamp", "q", "0", Resistance(12 * 12 / 55)))
    assert point.current_a("lamp") == pytest.approx(4.4147, abs=1e-4)
    assert point.voltage_v("q") == pytest.approx(11.5585, abs=1e-4)


@pytest.mark.parametrize(("supply", "lamp_v", "lamp_a"), [(13.2, 12.9294, 4.3442),
                                                          (12.6, 12.3363, 4.2334)])
def test_headlamp_filament_on_its_line(supply: float, lamp_v: float, lamp_a: float) -> None:
    """H7, 58 W at 13.2 V, I ~ V^0.55, behind 3 m of 1.5 mm2 (12.7 mohm/m), fuse 7.7, relay 1.5, two
    contacts 5 and ground 5 mohm: by bisection, outside this program."""
    line = 3 * cable_ohm_per_m(1.5) + fuse_ohm(10) + 1.5e-3 + 2 * 5e-3 + 5e-3
    assert line == pytest.approx(62.3e-3)
    point = network(("s", "p", "0", source(supply, STIFF_OHM)), ("line", "p", "q",
                                                                 Resistance(line)),
                    ("lamp", "q", "0", Filament(58 / 13.2, 13.2)))
    assert point.voltage_v("q") == pytest.approx(lamp_v, abs=1.1e-4)
    assert point.current_a("lamp") == pytest.approx(lamp_a, abs=1.1e-4)


def test_cranking() -> None:
    """200 A through 6 mohm of battery and 2 mohm of cable leave 11.0 V of 12.6 V (closed form)."""
    point = network(("g", "p", "0", source(12.6, 0.006)), ("cable", "p", "q", Resistance(0.002)),
                    ("starter", "q", "0", Resistance(11.0 / 200)))
    assert point.current_a("starter") == pytest.approx(200.0, rel=1e-6)
    assert point.voltage_v("q") == pytest.approx(11.0, rel=1e-6)


def test_locked_starter() -> None:
    """20 mohm held fast behind 6 mohm, 1 m of 25 mm2 and 0.5 mohm: 462.5 A, 9.250 V."""
    cable = cable_ohm_per_m(25.0) + 0.5e-3
    point = network(("g", "p", "0", source(12.6, 0.006)), ("cable", "p", "q", Resistance(cable)),
                    ("starter", "q", "0", Resistance(0.020)))
    assert point.current_a("starter") == pytest.approx(462.5, abs=0.06)
    assert point.voltage_v("q") == pytest.approx(9.250, abs=1.2e-3)


@pytest.mark.parametrize(("area", "amperes"), [(0.5, 77.7), (1.0, 143.7), (1.5, 195.3),
                                               (2.5, 285.7)])
def test_dead_short_at_four_metres(area: float, amperes: float) -> None:
    """12.6 V, 6 mohm, 10 A fuse (7.7 mohm cold), 4 m one way, no return: closed form. All are over
    six times the rating, so that the fuse opens within 0.1 s (ISO 8820-3)."""
    short = 4 * cable_ohm_per_m(area)
    point = network(("g", "p", "0", source(12.6, 0.006)), ("fuse", "p", "q",
                                                           Resistance(fuse_ohm(10))),
                    ("wire", "q", "0", Resistance(short)))
    assert point.current_a("wire") == pytest.approx(amperes, abs=0.06)
    assert BLADE.band(point.current_a("wire") / 10).longest_s <= 0.1


def test_thin_wire_behind_a_large_fuse_is_not_protected() -> None:
    """30 A fuse (2.0 mohm) on 4 m of 0.5 mm2: about 81 A, 2.7 times: up to seconds."""
    point = network(("g", "p", "0", source(12.6, 0.006)),
                    ("fuse", "p", "q", Resistance(fuse_ohm(30))),
                    ("wire", "q", "0", Resistance(4 * cable_ohm_per_m(0.5))))
    assert point.current_a("wire") == pytest.approx(81, abs=1)
    assert 1.0 < BLADE.band(point.current_a("wire") / 30).longest_s < 5.0


def test_fog_lamp_line_of_a_trade_journal() -> None:
    """100 W at 12 V, 1.8 m, 1 mm2, 0.018 ohm mm2/m: 0.269 V lost (Hoelzle, "Journal 07", 2017; the
    journal sizes for 0.5 V and takes 1 mm2)."""
    point = network(("s", "p", "0", source(12, STIFF_OHM)),
                    ("wire", "p", "q", Resistance(0.018 * 1.8 / 1.0)),
                    ("lamp", "q", "0", Resistance((12 - 0.269) / 8.3)))
    assert point.voltage_v("p") - point.voltage_v("q") == pytest.approx(0.269, abs=1e-3)


def test_mast_light_of_a_chandlers_page() -> None:
    """2.1 A, 18 m one way, kappa 56, 0.6 V allowed: 2.25 mm2 ("Wire & Terminals")."""
    area = 2 * 18 * 2.1 / (56 * 0.6)
    assert area == pytest.approx(2.25)
    point = network(("s", "p", "0", source(12, STIFF_OHM)),
                    ("out", "p", "q", Resistance(18 / (56 * area))),
                    ("back", "r", "0", Resistance(18 / (56 * area))),
                    ("lamp", "q", "r", Resistance((12 - 0.6) / 2.1)))
    assert point.across_v("lamp") == pytest.approx(11.4, abs=1e-4)


def test_infinite_ladder_is_the_golden_ratio() -> None:
    """A ladder of 1 ohm in line and 1 ohm to earth without end is (1 + sqrt 5) / 2 ohm."""
    elements: list[tuple[str, str, str, Law]] = [("s", "n0", "0", source(1.0, STIFF_OHM))]
    for i in range(60):
        elements.append((f"a{i}", f"n{i}", f"n{i + 1}", Resistance(1.0)))
        elements.append((f"b{i}", f"n{i + 1}", "0", Resistance(1.0)))
    point = network(*elements)
    assert point.voltage_v("n0") / -point.current_a("s") == pytest.approx((1 + 5**0.5) / 2,
                                                                           rel=1e-9)


def test_corner_to_corner_of_a_cube() -> None:
    """Twelve 1 ohm edges of a cube: 5/6 ohm from corner to opposite corner (a textbook classic)."""
    corners = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
    elements: list[tuple[str, str, str, Law]] = [("s", "111", "000", source(1.0, STIFF_OHM))]
    for one in corners:
        for other in corners:
            if one < other and sum(a != b for a, b in zip(one, other, strict=True)) == 1:
                a, b = ("".join(map(str, c)) for c in (one, other))
                elements.append((f"{a}-{b}", a, b, Resistance(1.0)))
    point = solve(Network(Circuit([Element(*e) for e in elements], "000")))
    assert point.voltage_v("111") / -point.current_a("s") == pytest.approx(5 / 6, rel=1e-9)
