"""Circuits of the trade that rules have to understand: sound ones that look odd, and faults that
look harmless. Each is a whole small vehicle; what is right about it is common practice."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest
from generated_vehicles import make_car

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.pipeline import load_string
from harnessdsl.rules import check_vehicle
from harnessdsl.rules.analysis.wire_limits import (
    continuous_a,
    fuse_ceiling_a,
    fuse_limit_a,
    largest_fuse_a,
    link_rating_a,
)

BASE = """
battery G1 "Battery"
earth E1 "Body stud"
wire G1.- -> E1 25 mm2 BK
"""
FUSED = BASE + """
blade-fuse F1 "Fuse" 10 A
wire G1.+ -> F1.1 4 mm2 RD
"""


def findings(text: str) -> list[Diagnostic]:
    result = load_string(text)
    assert not result.broken, [d.message for d in result.diagnostics]
    return [d for d in check_vehicle(result.vehicle)
            if d.severity >= Severity.WARNING and d.accepted is None]


def codes(text: str) -> list[str]:
    return sorted({d.code for d in findings(text)})


# sound circuits that look odd

SOUND = {
    "a tell-tale between the two sides of the turn lamps": FUSED + """
        flasher K9 "Flasher"
        turn-switch S1 "Turn switch"
        turn-lamp E5 "Left"; turn-lamp E6 "Right"
        warning-lamp H1 "Tell-tale"
        wire F1.2 -> K9.49 1 mm2 RD
        wire K9.31 -> E1 1 mm2 BN
        wire K9.49a -> S1.49a 1 mm2 BK/WH
        wire S1.L -> E5.1 1 mm2 BK/WH
        wire S1.R -> E6.1 1 mm2 BK/GN
        wire E5.2 -> E1 1 mm2 BN
        wire E6.2 -> E1 1 mm2 BN
        wire S1.L -> H1.1 1 mm2 BU
        wire S1.R -> H1.2 1 mm2 BU/WH
        accept always-fed K9 "the flasher is switched by the ignition, left out here"
        """,
    "the charge warning lamp that excites the alternator": FUSED + """
        alternator G2 "Alternator" on body
        charge-warning-lamp H1 "Charge"
        toggle-switch S1 "Ignition"
        wire G2.B+ -> G1.+ 16 mm2 RD
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> H1.1 1 mm2 BK
        wire H1.2 -> G2.D+ 1 mm2 BU
        """,
    "two 12 V batteries in a row for 24 V": """
        vehicle "Lorry" { supply 24 V negative-earth }
        battery G1 "First"; battery G2 "Second"; earth E1 "Frame"
        blade-fuse F1 "Fuse" 10 A
        toggle-switch S1 "Switch"; lamp E5 "Lamp" 21 W
        wire G2.- -> E1 50 mm2 BK
        wire G1.- -> G2.+ 50 mm2 RD
        wire G1.+ -> F1.1 4 mm2 RD
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> E5.1 1 mm2 GY
        wire E5.2 -> E1 1 mm2 BN
        """,
    "positive earth, with a relay, its diode and a warning light": """
        vehicle "Old car" { supply 12 V positive-earth }
        battery G1 "Battery"; earth E1 "Body stud"
        blade-fuse F1 "Fuse" 10 A
        push-switch S1 "Horn push"; relay K1 "Horn relay"; diode V1 "Across the coil"
        horn H1 "Horn"; warning-led H2 "Light"
        wire G1.+ -> E1 25 mm2 RD
        wire G1.- -> F1.1 4 mm2 BK
        wire F1.2 -> S1.1 1 mm2 BK
        wire F1.2 -> K1.30 1 mm2 BK
        wire S1.2 -> K1.85 1 mm2 BU
        wire K1.86 -> E1 1 mm2 RD
        wire V1.K -> K1.86 1 mm2 RD
        wire V1.A -> K1.85 1 mm2 BU
        wire K1.87 -> H1.- 1 mm2 BK
        wire H1.+ -> E1 1 mm2 RD
        wire K1.87 -> H2.- 1 mm2 BK
        wire H2.+ -> E1 1 mm2 RD
        """,
    "a motor reversed by two changeover relays": FUSED + """
        changeover-relay K1 "Up"; changeover-relay K2 "Down"
        push-switch S1 "Up"; push-switch S2 "Down"
        window-motor M1 "Window"
        wire F1.2 -> K1.87 1.5 mm2 RD
        wire F1.2 -> K2.87 1.5 mm2 RD
        wire K1.87a -> E1 1.5 mm2 BN
        wire K2.87a -> E1 1.5 mm2 BN
        wire K1.30 -> M1.33L 1.5 mm2 GN
        wire K2.30 -> M1.33R 1.5 mm2 YE
        wire F1.2 -> S1.1 1 mm2 RD
        wire F1.2 -> S2.1 1 mm2 RD
        wire S1.2 -> K1.86 1 mm2 BU
        wire S2.2 -> K2.86 1 mm2 BU
        wire K1.85 -> E1 1 mm2 BN
        wire K2.85 -> E1 1 mm2 BN
        """,
    "a relay that holds itself": FUSED + """
        relay-diode K1 "Holds itself"
        push-switch S1 "On"; push-break-switch S2 "Off"
        lamp E5 "Lamp"
        wire F1.2 -> S2.1 1 mm2 RD
        wire S2.2 -> S1.1 1 mm2 RD
        wire S2.2 -> K1.30 1 mm2 RD
        wire S1.2 -> K1.86 1 mm2 BU
        wire K1.87 -> K1.86 1 mm2 BU
        wire K1.87 -> E5.1 1 mm2 GY
        wire K1.85 -> E1 1 mm2 BN
        wire E5.2 -> E1 1 mm2 BN
        """,
    "a battery master switch in the earth lead": """
        battery G1 "Battery"; earth E1 "Frame"
        battery-master-switch S9 "Master switch"
        blade-fuse F1 "Fuse" 10 A
        toggle-switch S1 "Switch"; lamp E5 "Lamp"
        wire G1.- -> S9.1 25 mm2 BK
        wire S9.2 -> E1 25 mm2 BK
        wire G1.+ -> F1.1 4 mm2 RD
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> E5.1 1 mm2 GY
        wire E5.2 -> E1 1 mm2 BN
        """,
    "an interior lamp on permanent plus, switched in its earth": FUSED + """
        boot-lamp E5 "Boot lamp"
        door-switch S1 "Boot switch" on body
        wire F1.2 -> E5.1 1 mm2 RD
        wire E5.2 -> S1.1 1 mm2 BN/WH
        """,
    "a sensor that lives on a module's pins": FUSED + """
        toggle-switch S1 "Ignition"
        hall-sender B1 "Hall sender"
        module A1 "Control" {
            pin 1 supply 0.2 A
            pin 2 earth
            pin 3 signal "sensor supply"
            pin 4 input "sensor" pull-up 2200 ohm
            pin 5 signal "sensor earth"
        }
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> A1.1 1 mm2 BK
        wire A1.2 -> E1 1 mm2 BN
        wire A1.3 -> B1.+ 0.5 mm2 RD
        wire A1.4 -> B1.0 0.5 mm2 GN
        wire A1.5 -> B1.- 0.5 mm2 BN/WH
        """,
    "a thin wire behind a ballast resistor": BASE + """
        blade-fuse F1 "Ignition" 15 A
        toggle-switch S1 "Ignition"; ballast-resistor R1 "Ballast"
        ignition-coil-ballast T1 "Coil"; contact-breaker S5 "Points" on body
        wire G1.+ -> F1.1 4 mm2 RD
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> R1.15 1 mm2 BK
        wire R1.15a -> T1.15 0.75 mm2 BK/WH
        wire T1.1 -> S5.1 0.75 mm2 GN
        """,
    "a fusible wire before thick wires": BASE + """
        toggle-switch S1 "Switch"; lamp E5 "Lamp" 55 W
        splice J1 "Link"
        wire G1.+ -> J1 1 mm2 RD fusible
        wire J1 -> S1.1 2.5 mm2 RD
        wire S1.2 -> E5.1 2.5 mm2 GY
        wire E5.2 -> E1 2.5 mm2 BN
        """,
    "two 6 V lamps in a row": FUSED + """
        toggle-switch S1 "Switch"; lamp E5 "One"; lamp E6 "Two"
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> E5.1 1 mm2 GY
        wire E5.2 -> E6.1 1 mm2 GY
        wire E6.2 -> E1 1 mm2 BN
        """,
    "a diode that keeps two warning circuits apart": FUSED + """
        toggle-switch S1 "Ignition"
        warning-lamp H1 "Brakes"; warning-lamp H2 "Test"
        handbrake-switch S2 "Handbrake" on body
        push-switch S3 "Test"
        diode V1 "Blocking diode"
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> H1.1 1 mm2 BK
        wire S1.2 -> H2.1 1 mm2 BK
        wire H1.2 -> S2.1 1 mm2 BN/RD
        wire H1.2 -> V1.A 1 mm2 BN/RD
        wire V1.K -> H2.2 1 mm2 BN/GN
        wire H2.2 -> S3.1 1 mm2 BN/GN
        wire S3.2 -> E1 1 mm2 BN
        """,
}


@pytest.mark.parametrize("name", SOUND)
def test_a_sound_circuit_is_silent(name: str) -> None:
    assert [(d.code, d.message) for d in findings(SOUND[name])] == []


# faults that look harmless: the circuit, the rule, and the part or wire that must be named

FAULTY = {
    "a lamp between 30 and 15": ("backfeed", "H1", FUSED + """
        ignition-lock S1 "Lock"; warning-lamp H1 "Lamp"
        blade-fuse F2 "Line 15" 10 A; lamp E5 "Something on 15"
        wire F1.2 -> S1.30 1 mm2 RD
        wire S1.15 -> F2.1 1 mm2 BK
        wire F2.2 -> E5.1 1 mm2 BK
        wire E5.2 -> E1 1 mm2 BN
        wire F1.2 -> H1.1 1 mm2 RD
        wire F2.2 -> H1.2 1 mm2 BK
        """),
    "a blower without a fuse, through its resistor": ("unfused-load", "M1", BASE + """
        toggle-switch S1 "Blower"; resistor R1 "Slow" 0.5 ohm; blower-motor M1 "Blower"
        wire G1.+ -> S1.1 4 mm2 RD
        wire S1.2 -> R1.1 4 mm2 GY
        wire R1.2 -> M1.+ 4 mm2 GY
        wire M1.- -> E1 4 mm2 BN
        """),
    "a load on the alternator's own stud": ("unfused-load", "E5", BASE + """
        alternator G2 "Alternator" on body
        strip-fuse F9 "Charging" 80 A
        toggle-switch S1 "Switch"; lamp E5 "Lamp"
        charge-warning-lamp H1 "Charge" spare
        wire G2.B+ -> F9.1 16 mm2 RD
        wire F9.2 -> G1.+ 16 mm2 RD
        wire G2.B+ -> S1.1 1 mm2 RD
        wire S1.2 -> E5.1 1 mm2 GY
        wire E5.2 -> E1 1 mm2 BN
        accept dangling-terminal G2 "D+ not connected here"
        """),
    "a shared earth of two lamps that leads nowhere": ("floating-earth", "J1", FUSED + """
        toggle-switch S1 "Left"; toggle-switch S2 "Right"; lamp E5 "One"; lamp E6 "Two"
        splice J1 "Earth of both"
        wire F1.2 -> S1.1 1 mm2 RD
        wire F1.2 -> S2.1 1 mm2 RD
        wire S1.2 -> E5.1 1 mm2 GY
        wire S2.2 -> E6.1 1 mm2 GY
        wire E5.2 -> J1 1 mm2 BN
        wire E6.2 -> J1 1 mm2 BN
        """),
    "a twin-filament lamp without earth": ("floating-earth", "E5", FUSED + """
        toggle-switch S1 "Light"; dip-switch S2 "Dip"
        headlamp-bulb E5 "Headlamp"
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> S2.56 1 mm2 WH/BK
        wire S2.56a -> E5.56a 1 mm2 WH
        wire S2.56b -> E5.56b 1 mm2 YE
        """),
    "a module whose low side is on plus": ("direct-short", "F1.2-A1.3", FUSED + """
        toggle-switch S1 "Ignition"
        module A1 "Control" { pin 1 supply 0.2 A; pin 2 earth; pin 3 low-side "relay" max 1 A }
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> A1.1 1 mm2 BK
        wire A1.2 -> E1 1 mm2 BN
        wire F1.2 -> A1.3 1 mm2 RD
        """),
    "a coil behind its own contact": ("relay-terminals", "K1", FUSED + """
        relay-diode K1 "Relay"; lamp E5 "Lamp"
        wire F1.2 -> K1.30 1 mm2 RD
        wire K1.87 -> K1.86 1 mm2 BU
        wire K1.87 -> E5.1 1 mm2 GY
        wire K1.85 -> E1 1 mm2 BN
        wire E5.2 -> E1 1 mm2 BN
        """),
    "a light that is the wrong way round": ("reversed-polarity", "H1", FUSED + """
        toggle-switch S1 "Switch"; warning-led H1 "Light"
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> H1.- 1 mm2 GY
        wire H1.+ -> E1 1 mm2 BN
        """),
    "a light the wrong way round for positive earth": ("reversed-polarity", "H1", """
        vehicle "Old car" { supply 6 V positive-earth }
        battery G1 "Battery"; earth E1 "Body stud"; blade-fuse F1 "Fuse" 10 A
        toggle-switch S1 "Switch"; warning-led H1 "Light"
        wire G1.+ -> E1 25 mm2 RD
        wire G1.- -> F1.1 4 mm2 BK
        wire F1.2 -> S1.1 1 mm2 BK
        wire S1.2 -> H1.+ 1 mm2 GY
        wire H1.- -> E1 1 mm2 RD
        """),
    "a thin wire behind a fusible wire": ("fuse-exceeds-wire", "S1.2-E5.1", BASE + """
        toggle-switch S1 "Switch"; lamp E5 "Lamp" 55 W
        splice J1 "Link"
        wire G1.+ -> J1 1 mm2 RD fusible
        wire J1 -> S1.1 2.5 mm2 RD
        wire S1.2 -> E5.1 1 mm2 GY
        wire E5.2 -> E1 2.5 mm2 BN
        """),
    "main and dipped beam swapped": ("terminals-disagree", "S2.56a-E5.56b", FUSED + """
        toggle-switch S1 "Light"; dip-switch S2 "Dip"; headlamp-bulb E5 "Headlamp"
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> S2.56 1 mm2 WH/BK
        wire S2.56a -> E5.56b 1 mm2 WH
        wire E5.56a -> S2.56b 1 mm2 YE
        wire E5.31 -> E1 1 mm2 BN
        """),
    "a dynamo's output earthed": ("direct-short", "G2.D+-E1", FUSED + """
        dynamo G2 "Dynamo" on body; dynamo-regulator N1 "Regulator" on body
        toggle-switch S1 "Switch"; lamp E5 "Lamp"
        wire F1.2 -> N1.B+ 4 mm2 RD
        wire N1.D+ -> G2.D+ 4 mm2 YE
        wire N1.DF -> G2.DF 1 mm2 GN
        wire G2.D+ -> E1 4 mm2 BN
        """),
    "a generator without a way to the battery": ("never-fed", "G2", FUSED + """
        alternator G2 "Alternator" on body
        toggle-switch S1 "Switch"; lamp E5 "Lamp"; blade-fuse F2 "Lamp" 10 A
        wire F1.2 -> S1.1 1 mm2 RD
        wire S1.2 -> E5.1 1 mm2 GY
        wire E5.2 -> E1 1 mm2 BN
        wire G2.B+ -> F2.1 4 mm2 RD
        accept dangling-terminal G2 "D+ not connected here"
        accept dangling-terminal F2 "its load was taken out"
        """),
}


@pytest.mark.parametrize("name", FAULTY)
def test_a_fault_is_found_under_its_name(name: str) -> None:
    code, subject, text = FAULTY[name]
    found = findings(text)
    assert (code, subject) in [(d.code, d.subject) for d in found], [
        (d.code, d.subject, d.message) for d in found]
    others = [(d.code, d.message) for d in found if d.severity is Severity.ERROR
              and d.code != code]
    assert others == []


def test_a_short_counts_only_where_the_relays_let_it_come_about() -> None:
    """Two relays that would join plus and earth if both pulled in. One push feeds the first coil
    through the other relay's break contact and the other way round, so they never do."""
    def circuit(coil_1: str, coil_2: str) -> str:
        return FUSED + f"""
            changeover-relay K1 "One"; changeover-relay K2 "Two"; relay-resistor K3 "Plus"
            relay-resistor K4 "Earth"
            push-switch S1 "One"; push-switch S2 "Two"; lamp E5 "Lamp"
            wire F1.2 -> S1.1 1 mm2 RD; wire F1.2 -> S2.1 1 mm2 RD
            wire S1.2 -> {coil_1} 1 mm2 BU; wire S2.2 -> {coil_2} 1 mm2 BU
            wire K2.87a -> K3.86 1 mm2 BU; wire K1.87a -> K4.86 1 mm2 BU
            wire S1.2 -> K1.86 1 mm2 BU; wire S2.2 -> K2.86 1 mm2 BU
            wire K1.85 -> E1 1 mm2 BN; wire K2.85 -> E1 1 mm2 BN
            wire K3.85 -> E1 1 mm2 BN; wire K4.85 -> E1 1 mm2 BN
            wire F1.2 -> K3.30 1 mm2 RD; wire K3.87 -> E5.1 1 mm2 GY
            wire K4.30 -> E5.1 1 mm2 GY; wire K4.87 -> E1 1 mm2 BN
            wire E5.2 -> E1 1 mm2 BN
            """

    assert "direct-short" not in codes(circuit("K2.30", "K1.30"))
    assert "direct-short" in codes(circuit("K3.86", "K4.86"))


def test_parts_behind_one_gap_are_named_together() -> None:
    lamps = "".join(
        f"toggle-switch S{n} \"S\"; lamp E{n} \"Lamp\"\n"
        f"wire F1.2 -> S{n}.1 1 mm2 RD; wire S{n}.2 -> E{n}.1 1 mm2 GY\n"
        f"wire E{n}.2 -> E1 1 mm2 BN\n" for n in range(10, 16))
    found = findings(BASE + 'blade-fuse F1 "Fuse" 10 A\n' + lamps)
    dead = [d for d in found if d.code == "never-fed"]
    assert len(dead) == 1 and dead[0].subject == "F1" and "6 loads" in dead[0].message


def test_a_message_carries_names_colour_figures_and_limit() -> None:
    text = BASE + """
        blade-fuse F1 "Fuse" 25 A
        toggle-switch S1 "Switch"; lamp E5 "Lamp"; lamp E6 "Lamp"
        wire G1.+ -> F1.1 4 mm2 RD
        wire F1.2 -> S1.1 2.5 mm2 RD/YE
        wire S1.2 -> E5.1 0.5 mm2 GY/BK
        wire S1.2 -> E6.1 2.5 mm2 GY/BK
        wire E5.2 -> E1 1 mm2 BN
        wire E6.2 -> E1 1 mm2 BN
        """
    found = [d for d in findings(text) if d.code == "fuse-exceeds-wire"]
    assert len(found) == 1
    assert all(word in found[0].message for word in ("S1.2-E5.1", "0.5 mm2", "7.5 A", "25 A", "F1"))
    assert found[0].hint is not None and "7.5 A" in found[0].hint


# the wire limits, against the published table

VDE_0298_4 = {  # DIN VDE 0298-4, single-core PVC at 30 C and 50 C, amperes
    1.0: (19, 13.5), 1.5: (24, 17.0), 2.5: (32, 22.7), 4.0: (42, 29.8), 6.0: (54, 38.3),
    10.0: (73, 51.8), 16.0: (98, 69.6), 25.0: (129, 91.6), 35.0: (158, 112), 50.0: (198, 140),
    70.0: (245, 174), 95.0: (292, 207), 120.0: (344, 244),
}
USUAL_FUSES = {  # the fuse that usually goes with a wire: common practice, no source
    0.5: 7.5, 0.75: 10, 1.0: 15, 1.5: 20, 2.5: 30, 4.0: 40, 6.0: 50, 10.0: 70, 16.0: 100,
    25.0: 125,
}


@pytest.mark.parametrize("area_mm2", VDE_0298_4)
def test_continuous_currents_are_those_of_the_standard(area_mm2: float) -> None:
    at_30, at_50 = VDE_0298_4[area_mm2]
    assert continuous_a(area_mm2, 30) == pytest.approx(at_30)
    assert continuous_a(area_mm2, 50) == pytest.approx(at_50)


@pytest.mark.parametrize("area_mm2", VDE_0298_4)
def test_the_two_columns_differ_by_the_standards_own_factor(area_mm2: float) -> None:
    """sqrt((70 - 50) / (70 - 30)) = 0.707: IEC 60287's law, as printed in VDE 0298-4 table 17."""
    ratio = continuous_a(area_mm2, 50) / continuous_a(area_mm2, 30)
    assert ratio == pytest.approx(0.707, abs=0.006)


@pytest.mark.parametrize("area_mm2", USUAL_FUSES)
def test_the_usual_fuse_is_within_the_limit_and_the_second_next_is_not(area_mm2: float) -> None:
    assert USUAL_FUSES[area_mm2] <= fuse_limit_a(area_mm2) <= fuse_ceiling_a(area_mm2)
    assert largest_fuse_a(area_mm2) == USUAL_FUSES[area_mm2]
    assert USUAL_FUSES[area_mm2] * 1.6 > fuse_limit_a(area_mm2)


def test_limits_grow_with_the_area_without_a_jump() -> None:
    areas = [0.2 + 0.05 * n for n in range(600)]
    currents = [continuous_a(area) for area in areas]
    assert all(a < b for a, b in pairwise(currents))


def test_a_fusible_link_protects_a_wire_four_gauges_thicker() -> None:
    """14 AWG (2.081 mm2) is protected by an 18 AWG link (0.823 mm2), area ratio 2.53: the rule of
    four gauge numbers, with the areas of ASTM B258."""
    assert link_rating_a(0.823) <= fuse_limit_a(2.081)
    assert link_rating_a(0.823) > fuse_limit_a(1.309)  # 16 AWG is too thin


def test_no_vehicle_made_by_chance_breaks_a_rule() -> None:
    """Parts and wires thrown together: whatever is found, the rules come to an end and say the same
    twice."""
    for seed in range(60):
        text = make_car(Random(seed)).text()
        first, second = load_string(text), load_string(text)
        assert check_vehicle(first.vehicle) == check_vehicle(second.vehicle)
