"""The language reference is true: every example in it is read without a complaint."""

from __future__ import annotations

import re
from pathlib import Path

from harnessdsl.diagnostics import render
from harnessdsl.model.kind_builder import FAMILIES, PIN_ROLES, TWO_TERMINAL
from harnessdsl.pipeline import load_string

ROOT = Path(__file__).parent.parent
REFERENCE = (ROOT / "docs" / "language.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"```harness\n(.*?)```", REFERENCE, re.DOTALL)


def test_examples_are_read_together_without_a_message():
    """The examples build on one another, as a reader reads them."""
    assert len(EXAMPLES) >= 8
    result = load_string("\n".join(EXAMPLES))
    assert [render(d, result.sources) for d in result.diagnostics] == []
    vehicle = result.vehicle
    assert vehicle.name == "Brackwater Tourer estate"
    assert set(vehicle.circuits["fan"].parts) == {"F7", "K2", "S9", "M3"}
    assert vehicle.conditions["cruising"].engine_running
    assert vehicle.conditions["towing"].positions[("S5", "turn")] == "left"


def test_chain_runs_through_both_halves_of_the_plug():
    """Wire before the plug on half a, behind it on half b; the written half turns it round."""
    vehicle = load_string("\n".join(EXAMPLES)).vehicle
    first, second = vehicle.wires["K2.87-X5.1"], vehicle.wires["X5.1-M3.+"]
    assert (first.b.node, second.a.node) == ("X5.a.1", "X5.b.1")
    up, down = vehicle.wires["W31:1"], vehicle.wires["W31:2"]
    assert (up.b.node, down.a.node) == ("X5.b.2", "X5.a.2")
    assert abs(first.length_m + second.length_m - 1.1) < 1e-9


def test_families_and_primitives_are_all_in_the_reference():
    for word in (*TWO_TERMINAL, *PIN_ROLES):
        assert re.search(rf"\b{re.escape(word)}\b", REFERENCE), word
    missing = [family for family in FAMILIES if family not in REFERENCE]
    assert missing == []
