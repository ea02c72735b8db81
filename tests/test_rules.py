"""Every rule: its page, its own wrong and right examples, and silence on the healthy examples."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.pipeline import Result, check, load_string
from harnessdsl.rules import all_rules, check_vehicle, structure_rules
from harnessdsl.rules.discovery import found_modules
from harnessdsl.rules.pages import HEADINGS, page_text, rule_page, rules_page
from harnessdsl.rules.registry import ELECTRIC, Rule, RuleError, rule

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "examples"
FRAMEWORK = {"registry", "context", "discovery", "pages"}
STRUCTURE = [r for r in structure_rules().values()]
HEALTHY = ["tourer/tourer.harness", "motorcycle.harness", "van-second-battery.harness"]


def findings(text: str) -> tuple[Result, list[Diagnostic]]:
    """Return what reading the text and all structural rules say, accepted findings left out."""
    result = load_string(text)
    found = list(result.diagnostics)
    if not result.broken:
        found += check_vehicle(result.vehicle)
    return result, [d for d in found if d.accepted is None]


# the pages

@pytest.mark.parametrize("code", [r.code for r in STRUCTURE])
def test_a_rule_has_its_page_with_all_headings(code: str) -> None:
    page = rule_page(structure_rules()[code])
    assert page.summary.endswith(".")
    assert all(getattr(page, heading.lower()) for heading in HEADINGS)
    assert code in page_text(code)


@pytest.mark.parametrize("code", [r.code for r in STRUCTURE])
def test_the_wrong_example_is_found_by_its_rule(code: str) -> None:
    _, found = findings(rule_page(structure_rules()[code]).wrong)
    mine = [d for d in found if d.code == code]
    assert mine, [(d.code, d.message) for d in found]
    assert all(d.span.line for d in mine), "a finding must point at a line"
    assert all(d.severity <= structure_rules()[code].severity for d in mine)


@pytest.mark.parametrize("code", [r.code for r in STRUCTURE])
def test_the_right_example_is_clean(code: str) -> None:
    _, found = findings(rule_page(structure_rules()[code]).right)
    assert [(d.code, d.message) for d in found if d.severity >= Severity.WARNING] == []
    assert [d.message for d in found if d.code == code] == []


def test_the_printed_list_of_checks_is_up_to_date() -> None:
    """Rewrite it with: python -m harnessdsl.rules.pages > docs/checks.md"""
    assert (ROOT / "docs" / "checks.md").read_text(encoding="utf-8") == rules_page()


# the registry

def test_every_module_in_the_folder_registers_a_rule() -> None:
    homes = {r.module.rpartition(".")[2] for r in all_rules().values()}
    assert {f.module.rpartition(".")[2] for f in found_modules()} - FRAMEWORK == homes


def test_rules_that_need_computation_are_told_apart_by_their_text() -> None:
    computed = {r.code for r in all_rules().values() if r.needs == ELECTRIC}
    assert {code for f in found_modules() for code in f.electric_codes} == computed
    assert computed.isdisjoint(structure_rules())


def test_structural_rules_load_no_numeric_library() -> None:
    script = ("import sys; from harnessdsl.rules import structure_rules; structure_rules(); "
              "print('numpy' in sys.modules, 'scipy' in sys.modules)")
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True,
                          check=True)
    assert done.stdout.split() == ["False", "False"]


def test_a_code_is_registered_once() -> None:
    with pytest.raises(RuleError, match="both register 'unfused-load'"):
        rule("unfused-load", Severity.ERROR)(lambda context: iter(()))


def test_rules_for_the_trade_are_all_there() -> None:
    wanted = {
        "unfused-load", "floating-earth", "earth-path-missing", "never-fed", "always-fed",
        "fuse-exceeds-wire", "fuse-slot", "fuse-rating", "direct-short", "backfeed",
        "coil-unsuppressed", "diode-reversed", "relay-terminals", "dangling-terminal",
        "dangling-wire", "splice-one-leg", "cavity-used-twice", "mating-halves", "colour-change",
        "splice-crowded", "part-without-place", "slot-taken-twice", "slot-missing", "slot-fit",
        "wire-too-short", "duplicate-name", "unknown-terminal", "part-never-wired",
        "safety-circuit", "evidence-missing", "evidence-guessed", "acceptance-unused",
    }
    assert wanted <= set(structure_rules())


# whole vehicles

@pytest.mark.parametrize("name", HEALTHY)
def test_a_healthy_vehicle_is_silent(name: str) -> None:
    found = check(EXAMPLES / name).diagnostics
    assert [(d.code, d.message) for d in found
            if d.severity >= Severity.WARNING and d.accepted is None] == []


def test_findings_are_the_same_twice_and_in_reading_order() -> None:
    path = EXAMPLES / "planted-mistakes.harness"
    first, second = check(path).diagnostics, check(path).diagnostics
    assert first == second
    assert [d.sort_key() for d in first] == sorted(d.sort_key() for d in first)


def test_findings_do_not_hang_on_the_hash_seed() -> None:
    script = (
        "from pathlib import Path; from harnessdsl.pipeline import check;"
        f"print([(d.code, d.message, str(d.span)) for d in check(Path({str(EXAMPLES)!r}) / "
        "'planted-mistakes.harness').diagnostics])")
    outputs = {
        subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True,
                       env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)}).stdout
        for seed in ("1", "2", "77")}
    assert len(outputs) == 1


# accepting

BASE = """
battery G1 "Battery"
earth E1 "Body stud"
wire G1.- -> E1 25 mm2 BK
"""
UNFUSED = BASE + """
toggle-switch S1 "Switch"
lamp E5 "Lamp"
connector X1 "Plug" 2 way
wire G1.+ -> S1.1 1 mm2 RD
wire W7 S1.2 -> X1.1 1 mm2 GY -> E5.1 2.5 mm2 GY
wire E5.2 -> E1 1 mm2 BN
"""


def test_an_accepted_finding_stays_with_its_reason() -> None:
    text = UNFUSED + 'accept unfused-load E5 "never was one"\naccept mating-halves X1 "as found"'
    found = check_vehicle(load_string(text).vehicle)
    accepted = {d.code: d.accepted for d in found if d.accepted is not None}
    assert accepted == {"unfused-load": "never was one", "mating-halves": "as found"}
    assert not [d for d in found if d.code == "acceptance-unused"]


def test_an_acceptance_of_another_subject_is_unused() -> None:
    found = check_vehicle(load_string(UNFUSED + 'accept unfused-load E6 "typo"').vehicle)
    unused = [d for d in found if d.code == "acceptance-unused"]
    assert len(unused) == 1 and unused[0].hint == "did you mean 'E5'?"


def test_an_acceptance_of_an_unknown_check_names_the_nearest() -> None:
    found = check_vehicle(load_string(UNFUSED + 'accept unfused-lode E5 "typo"').vehicle)
    unused = [d for d in found if d.code == "acceptance-unused"]
    assert len(unused) == 1 and unused[0].hint == "did you mean 'unfused-load'?"


def test_an_acceptance_of_a_check_that_did_not_run_is_left_alone() -> None:
    code = next(r.code for r in all_rules().values() if r.needs == ELECTRIC)
    found = check_vehicle(load_string(UNFUSED + f'accept {code} E5 "later"').vehicle)
    assert not [d for d in found if d.code == "acceptance-unused"]


def test_electric_rules_run_only_with_a_computed_circuit() -> None:
    vehicle = load_string(UNFUSED).vehicle
    seen: list[str] = []

    def factory(given: object) -> None:
        seen.append("made")
        raise LookupError("the circuit is asked for")

    check_vehicle(vehicle)
    assert seen == []
    if any(r.needs == ELECTRIC for r in all_rules().values()):
        with pytest.raises(LookupError):
            check_vehicle(vehicle, electric=factory)
        assert seen == ["made"]


def test_a_rule_never_fails_on_an_empty_or_bare_file() -> None:
    for text in ("", "# nothing", "lamp E1", "battery G1", "earth E1", "splice J1",
                 "connector X1 2 way", "unknown U1\nwire U1.1 -> U1.2 1 mm2 RD",
                 "battery G1\nwire G1.+ -> G1.- 1 mm2 RD",
                 "module A1 { pin 1 supply; pin 2 earth }",
                 "relay K1\nwire K1.30 -> K1.30 1 mm2 RD"):
        findings(text)


def test_severities_are_words_of_the_registry() -> None:
    assert all(isinstance(r, Rule) and r.severity in Severity for r in all_rules().values())
