"""What the parser and the builder make of lines, and what they say about wrong ones."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harnessdsl.diagnostics import Severity, render
from harnessdsl.pipeline import load_string
from harnessdsl.quantity import Quantity, awg_area_mm2

BASE = """
place box "Box" at 100, 0, 500 mm { slots 1..4 blade-fuse; slots A..B mini-relay }
battery G1 in box
earth E1 in box
lamp L1 in box
splice J1 in box
connector X1 in box 2 way
"""


def messages(line: str) -> list[tuple[str, int]]:
    result = load_string(BASE + line + "\n")
    return [(d.code, d.span.line) for d in result.diagnostics if d.severity is Severity.ERROR]


def hint(line: str) -> str:
    result = load_string(BASE + line + "\n")
    return "\n".join(render(d, result.sources) for d in result.diagnostics)


@pytest.mark.parametrize(
    ("line", "code", "says"),
    [
        ("wire G1.+ > L1.1 4 mm2 RD", "syntax", "->"),
        ("wire G1.+ -> ", "syntax", "end of the wire"),
        ("wire G1.+ -> L1.7 1 mm2 RD", "unknown-terminal", "L1.1"),
        ("wire G2.+ -> L1.1 1 mm2 RD", "unknown-part", "G1"),
        ("wire G1.+ -> X1.3 1 mm2 RD", "unknown-terminal", "has 2"),
        ("wire G1.+ -> X1.c.1 1 mm2 RD", "unknown-half", "halves a and b"),
        ("wire G1.+ -> L1.1 1 mn2 RD", "unknown-unit", "mm2"),
        ("wire G1.+ -> L1.1 30 A RD", "wrong-unit", "area"),
        ("wire G1.+ -> L1.1 1 mm2 RX", "bad-colour", "IEC 60757"),
        ("wire G1.+ -> L1.1 1 mm2 rd", "bad-colour", "write RD"),
        ("wire G1.+ -> L1.1 -1 mm2 RD", "negative-figure", "more than nothing"),
        ("wire G1.+ -> L1.1 1 mm2 RD tracd", "unknown-word", "traced"),
        ("wire G1.+ -> L1.1 1 mm2 RD traced 2026-13-14", "bad-date", "year-month-day"),
        ("wire G1.+ -> L1.1 1 mm2 RD traced 14.03.2026", "bad-date", "year-month-day"),
        ("wire G1.+ -> L1.1 1,5 mm2 RD", "syntax", "point"),
        ("realy K1 in box", "unknown-kind", "relay"),
        ("relay K1 in bax", "unknown-place", "box"),
        ("relay L1 in box", "duplicate-name", "first one is here"),
        ("relay K1 in box pulls-inn 7 V", "unknown-word", "pulls-in"),
        ("lamp L2 in box 4 mm2", "unknown-figure", "lamp"),
        ('circuit c "C" { L1 L3 }', "unknown-part", "L1"),
        ("condition c { L1 = on }", "unknown-actuator", "nothing that one can set"),
        ('accept unfused-load L1', "syntax", "reason"),
        ("place box at 1, 2, 3 mm", "duplicate-name", "box"),
        ("place p2 at 1, 2", "syntax", "three numbers"),
        ('kind k like k "x" { }', "kind-cycle", "circle"),
        ("kind k { contact 1 -> 2 closed-when on }", "unknown-terminal", "upper 1"),
        ("vehicle x { suply 12 V }", "unknown-word", "supply"),
        ("vehicle x { supply 13 V }", "bad-supply", "12"),
        ('lamp L2 "left', "syntax", "not closed"),
        ("lamp L2 in box }", "syntax", "closes nothing"),
        ("lamp L2 in box { note \"a\" } traced", "syntax", "new line"),
        ("lamp L2 in box {\nlamp L3 in box", "syntax", "not closed"),
    ],
)
def test_wrong_line_gets_its_message_at_its_place(line: str, code: str, says: str):
    found = messages(line)
    assert code in [c for c, _ in found], hint(line)
    assert says in hint(line)
    assert "^" in hint(line)


def test_all_mistakes_of_a_file_are_reported_in_one_run():
    text = "lamp A in nowhere\nwire A.1 -> B.1 1 mm2 RD\nrealy C\nlamp D \"x\nlamp E in box } \n"
    lines = {d.span.line for d in load_string(text).diagnostics}
    assert lines == {1, 2, 3, 4, 5}


def test_area_of_gauges_follows_astm_b258():
    """ASTM B258 (formula from memory); areas as printed in handbook tables of AWG sizes."""
    for gauge, area in ((4, 21.15), (10, 5.261), (12, 3.309), (18, 0.823), (22, 0.326)):
        assert math.isclose(awg_area_mm2(gauge), area, rel_tol=2e-3)


def test_units_are_brought_to_their_base():
    assert Quantity.of(5, "mohm").value == pytest.approx(0.005)
    assert Quantity.of(5, "min").value == 300
    assert Quantity.of(212, "F").value == pytest.approx(100)


def test_order_of_attributes_is_free():
    first = load_string(BASE + "wire W G1.+ -> L1.1 1 mm2 RD/YE 1.5 m traced 2026-01-02\n")
    second = load_string(BASE + "wire W G1.+ -> L1.1 traced 2026-01-02 1.5 m RD/YE 1 mm2\n")
    wire_a, wire_b = first.vehicle.wires["W"], second.vehicle.wires["W"]
    assert (wire_a.area_mm2, wire_a.colour, wire_a.length_m, wire_a.evidence) == (
        wire_b.area_mm2, wire_b.colour, wire_b.length_m, wire_b.evidence)
    assert not first.diagnostics and not second.diagnostics


def test_figures_of_a_part_go_into_its_kind():
    vehicle = load_string(BASE + "lamp L2 in box 21 W\nblade-fuse F1 in box slot 1 15 A\n").vehicle
    filament = next(p for p in vehicle.parts["L2"].kind.primitives if p.type == "filament")
    assert filament.figure("power") == 21
    assert vehicle.parts["F1"].rating_a() == 15


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.text(alphabet="wire place{}\"->=,;#. \n\t09AVm+xé\\/", max_size=200))
def test_no_text_raises_anything(text: str):
    result = load_string(text)
    for diagnostic in result.diagnostics:
        assert render(diagnostic, result.sources)
