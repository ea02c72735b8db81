"""Overlays and conditions: what each verb does, that overlays stack, which cars exist.

No source outside the project for the verbs: they are the language's own (docs/variants.md). The
combinations that exist are counted against itertools, without the project's own enumeration.
"""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from harnessdsl.cli.main import main
from harnessdsl.diagnostics import Severity
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import check, check_every_build, every_build, load
from harnessdsl.plans.applies import read_band, read_chassis, read_day
from harnessdsl.plans.builds import NOTHING_CHOSEN, Selection
from harnessdsl.plans.compare import compare
from harnessdsl.plans.stack import read_stack

ROOT = Path(__file__).resolve().parent.parent
TOURER = ROOT / "examples" / "tourer"

BASE = """vehicle "Hollin Ten" { supply 12 V negative-earth }
place box  "Fuse box" at 1400, -300, 700 mm { slots 1..6 blade-fuse max 30 A
                                              slots A..B mini-relay }
place nose "Nose" at 200, 0, 500 mm wet
place tail "Tail" at 4000, 0, 600 mm
battery    G1 "Battery" in nose 60 Ah
earth      E1 "Wing stud" in nose
blade-fuse F1 "Fan" in box slot 1 15 A
relay-diode K1 "Fan relay" in box slot A
toggle-switch S1 "Fan switch" in box
motor      M1 "Fan" in nose 9 A stalls 30 A
connector  X1 "Fan plug" in nose 2 way { half a female; half b male }
splice     J1 "Fan feed" in box
wire W1 G1.- -> E1           16 mm2 BK    0.4 m
wire W2 G1.+ -> F1.1         4 mm2  RD    1.9 m
wire W3 F1.2 -> J1           2.5 mm2 RD/WH 0.2 m
wire J1 -> K1.30             2.5 mm2 RD/WH 0.2 m
wire J1 -> S1.1              1 mm2  RD/WH 0.3 m
wire W4 S1.2 -> K1.86        1 mm2  GN    0.3 m
wire W5 K1.85 -> E1          1 mm2  BN    1.8 m
wire W6 K1.87 -> X1.1 -> M1.+ 2.5 mm2 GN/BK 1.9 m
wire W7 M1.- -> X1.b.2 -> E1 2.5 mm2 BN   0.9 m
run loom "Loom" box -> nose 1.8 m { wires W4 J1-S1.1 }
cable CB1 "Pair" twisted { W4 W5 }
circuit fan "Fan" { F1 K1 S1 M1 }
condition on "Fan on" { S1 = on; engine 90 C }
accept dangling-terminal U9 "found so"
caution "Hot when it has run"
unknown U9 "Cut wire" in nose spare
verified W4 F1 measured 2025-04-02 by "Ilse"
"""


def built(folder: Path, *lines: str, base: str = BASE) -> Vehicle:
    """Return the vehicle of an overlay with these lines; it must be sound."""
    (folder / "base.harness").write_text(base, encoding="utf-8")
    text = "\n".join(['variant "Later" of "base.harness"', *lines, ""])
    (folder / "later.harness").write_text(text, encoding="utf-8")
    result = load(folder / "later.harness")
    assert [d.message for d in result.diagnostics if d.severity is Severity.ERROR] == []
    return result.vehicle


def run(*words: str | Path) -> Result:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


# the verbs

def test_a_plain_fact_is_added(tmp_path: Path) -> None:
    vehicle = built(tmp_path, 'horn H1 "Horn" in nose 4.5 A', "wire F1.2 -> H1.1 1 mm2 BK 1 m")
    assert vehicle.parts["H1"].place == "nose"
    assert "F1.2-H1.1" in vehicle.wires


def test_what_is_removed_leaves_every_list(tmp_path: Path) -> None:
    vehicle = built(tmp_path, "remove S1 with wires", "remove U9")
    assert "S1" not in vehicle.parts and "W4" not in vehicle.wires
    assert "J1-S1.1" not in vehicle.wires
    assert vehicle.circuits["fan"].parts == ("F1", "K1", "M1")
    assert vehicle.runs["loom"].wires == ()
    assert vehicle.cables["CB1"].wires == ("W5",)
    assert vehicle.conditions["on"].positions == {}
    assert vehicle.conditions["on"].temperatures_c == {"engine": 90.0}
    assert vehicle.acceptances == ()


def test_removing_with_wires_goes_through_plugs(tmp_path: Path) -> None:
    vehicle = built(tmp_path, "remove M1 with wires")
    assert [name for name in vehicle.wires if name.startswith(("W6", "W7"))] == []


def test_replace_keeps_the_place_in_the_file(tmp_path: Path) -> None:
    vehicle = built(tmp_path, 'replace relay K1 "Other relay" in tail')
    assert vehicle.parts["K1"].kind.name == "relay"
    assert vehicle.parts["K1"].slot == ""
    assert list(vehicle.parts).index("K1") == 3


def test_move_gives_up_the_slot_of_the_old_place(tmp_path: Path) -> None:
    vehicle = built(tmp_path, "move K1 in tail was in box slot A", "move F1 slot 3",
                    "move place nose at 250, 10, 500 mm")
    assert (vehicle.parts["K1"].place, vehicle.parts["K1"].slot) == ("tail", "")
    assert (vehicle.parts["F1"].place, vehicle.parts["F1"].slot) == ("box", "3")
    assert vehicle.places["nose"].position_mm == (250.0, 10.0, 500.0)
    assert vehicle.places["nose"].exposure == ("wet",)


def test_recolour_a_wire_a_chain_and_one_piece(tmp_path: Path) -> None:
    vehicle = built(tmp_path, "recolour W4 YE was GN measured 2025-05-01", "recolour W6 BU",
                    "recolour W7:1 BN/BK was BN", "recolour J1-K1.30 VT")
    assert vehicle.wires["W4"].colour == "YE"
    assert vehicle.wires["J1-K1.30"].colour == "VT"
    assert [vehicle.wires[f"W6:{n}"].colour for n in (1, 2)] == ["BU", "BU"]
    assert [vehicle.wires[f"W7:{n}"].colour for n in (1, 2)] == ["BN/BK", "BN"]


def test_the_last_piece_of_a_chain_changes_alone(tmp_path: Path) -> None:
    vehicle = built(tmp_path, "recolour W6:2 BU was GN/BK", "change W6:1 4 mm2")
    assert [vehicle.wires[f"W6:{n}"].colour for n in (1, 2)] == ["GN/BK", "BU"]
    assert [vehicle.wires[f"W6:{n}"].area_mm2 for n in (1, 2)] == [4.0, 2.5]


def test_repin_moves_one_end_and_lists_follow(tmp_path: Path) -> None:
    vehicle = built(tmp_path, "repin W6 X1.1 -> X1.2", "repin J1-S1.1 S1.1 -> S1.2",
                    "repin W7 M1.- -> M1.+")
    assert vehicle.wires["W6:1"].b.terminal == vehicle.wires["W6:2"].a.terminal == "2"
    assert "J1-S1.2" in vehicle.wires
    assert "J1-S1.2" in vehicle.runs["loom"].wires


def test_an_end_is_found_by_another_name_of_its_terminal(tmp_path: Path) -> None:
    base = BASE.replace("wire W5 K1.85 -> E1 ", "wire K1.2 -> E1 ").replace("{ W4 W5 }", "{ W4 }")
    vehicle = built(tmp_path, "repin K1.85-E1 K1.85 -> K1.86", base=base)
    assert "K1.86-E1" in vehicle.wires


def test_swap_keeps_everything_else(tmp_path: Path) -> None:
    vehicle = built(tmp_path, "swap K1 relay-resistor was relay-diode")
    part = vehicle.parts["K1"]
    assert (part.kind.name, part.place, part.slot, part.label) == (
        "relay-resistor", "box", "A", "Fan relay")


def test_change_figures_labels_and_flags(tmp_path: Path) -> None:
    vehicle = built(
        tmp_path, 'change M1 "Cooler" 11 A was "Fan" 9 A', "change U9 without spare",
        'change W4 1.5 mm2 40 cm xlpe note "new" was 1 mm2 0.3 m', "change X1 2 way { rows 2 }")
    motor = vehicle.parts["M1"]
    assert motor.label == "Cooler"
    assert motor.figures["", "current"].value == 11
    assert motor.figures["stalls", "current"].value == 30
    assert vehicle.parts["U9"].flags == frozenset()
    wire = vehicle.wires["W4"]
    assert (wire.area_mm2, wire.length_m, wire.insulation, wire.note) == (1.5, 0.4, "xlpe", "new")
    assert vehicle.parts["X1"].connector is not None
    assert vehicle.parts["X1"].connector.rows == 2


def test_change_lines_in_braces(tmp_path: Path) -> None:
    vehicle = built(
        tmp_path, 'change place box { slot 6 blade-fuse "Horn" max 10 A; remove slot 5 }',
        "change circuit fan { J1; remove F1 }",
        "change condition on { engine 95 C; remove S1 }",
        "change run loom { wires W5; remove wires W4 }",
        "change vehicle { year 1987; supply 24 V negative-earth was 12 V }",
        'remove caution "Hot when it has run"', "remove accept dangling-terminal U9")
    assert list(vehicle.places["box"].slots) == ["1", "2", "3", "4", "6", "A", "B"]
    assert vehicle.places["box"].slots["6"].max_current_a == 10
    assert vehicle.circuits["fan"].parts == ("K1", "S1", "M1", "J1")
    assert vehicle.conditions["on"].positions == {}
    assert vehicle.conditions["on"].temperatures_c == {"engine": 95.0}
    assert sorted(vehicle.runs["loom"].wires) == ["J1-S1.1", "W5"]
    assert (vehicle.year, vehicle.nominal_v) == ("1987", 24.0)
    assert vehicle.cautions == () and vehicle.acceptances == ()


def test_a_module_pin_is_set_once(tmp_path: Path) -> None:
    base = BASE + ('module A1 "Control" in box { pin 1 supply 0.2 A; pin 2 earth; '
                   'pin 5 low-side "relay" max 1 A }\n')
    vehicle = built(tmp_path, 'change A1 { pin 5 input "sensor" was low-side }', base=base)
    roles = {name: terminal.role for name, terminal in vehicle.parts["A1"].kind.terminals.items()}
    assert roles == {"1": "supply", "2": "earth", "5": "input"}


def test_rename_follows_everywhere(tmp_path: Path) -> None:
    vehicle = built(tmp_path, "rename S1 -> S10", "rename place box -> fuse-box",
                    "rename W4 -> W40", "rename circuit fan -> cooling")
    assert vehicle.wires["W40"].a.part == "S10"
    assert vehicle.conditions["on"].positions == {("S10", "main"): "on"}
    assert vehicle.parts["K1"].place == "fuse-box"
    assert vehicle.runs["loom"].places == ("fuse-box", "nose")
    assert sorted(vehicle.runs["loom"].wires) == ["J1-S10.1", "W40"]
    assert vehicle.cables["CB1"].wires == ("W40", "W5")
    assert "S10" in vehicle.circuits["cooling"].parts


def test_a_name_of_two_groups_is_said_more_closely(tmp_path: Path) -> None:
    base = BASE + 'place fan "Fan" at 100, 0, 500 mm\n'
    vehicle = built(tmp_path, "remove circuit fan", base=base)
    assert "fan" in vehicle.places and "fan" not in vehicle.circuits
    (tmp_path / "later.harness").write_text('variant "L" of "base.harness"\nremove fan\n',
                                            encoding="utf-8")
    assert [d.code for d in load(tmp_path / "later.harness").diagnostics] == ["unclear-name"]


def test_numbered_wires_keep_their_numbers_within_one_overlay(tmp_path: Path) -> None:
    base = BASE + "wire J1 -> K1.30 1 mm2 BU 0.2 m\nwire J1 -> K1.30 1 mm2 YE 0.2 m\n"
    vehicle = built(tmp_path, "remove J1-K1.30", 'remove "J1-K1.30#2"', base=base)
    assert [w.colour for w in vehicle.wires.values() if w.name.startswith("J1-K1.30")] == ["YE"]


def test_messages_name_the_file_in_which_the_words_stand(tmp_path: Path) -> None:
    (tmp_path / "base.harness").write_text(BASE, encoding="utf-8")
    (tmp_path / "later.harness").write_text(
        'variant "Later" of "base.harness"\n\nrecolour W4 QQ\n', encoding="utf-8")
    result = load(tmp_path / "later.harness")
    [finding] = [d for d in result.diagnostics if d.severity is Severity.ERROR]
    assert (Path(finding.span.path).name, finding.span.line) == ("later.harness", 3)


# stacks

def test_overlays_stack_and_can_be_put_on_by_hand(tmp_path: Path) -> None:
    built(tmp_path, "recolour W4 YE was GN")
    (tmp_path / "third.harness").write_text(
        'variant "Third" of "later.harness" { year 1988 }\nrecolour W4 BU was YE\n',
        encoding="utf-8")
    vehicle = load(tmp_path / "third.harness").vehicle
    assert (vehicle.wires["W4"].colour, vehicle.build, vehicle.year) == ("BU", "Third", "1988")
    other = 'variant "Other" of "base.harness"\nrecolour W5 BN/BK was BN\n'
    (tmp_path / "other.harness").write_text(other, encoding="utf-8")
    both = load(tmp_path / "later.harness", overlays=[tmp_path / "other.harness"]).vehicle
    assert (both.wires["W4"].colour, both.wires["W5"].colour) == ("YE", "BN/BK")
    result = run("check", tmp_path / "third.harness", "--overlay", tmp_path / "later.harness",
                 "--fail-on", "error")
    assert result.exit_code == 1 and "not GN" in result.output


@pytest.mark.parametrize("size", [3, 17])
def test_circles_of_overlays_end(size: int, tmp_path: Path) -> None:
    for number in range(size):
        (tmp_path / f"v{number}.harness").write_text(
            f'variant "V{number}" of "v{(number + 1) % size}.harness"\n', encoding="utf-8")
    result = load(tmp_path / "v0.harness")
    assert [d.code for d in result.diagnostics if d.code == "variant-cycle"] == ["variant-cycle"]


def test_an_overlay_is_not_read_with_use(tmp_path: Path) -> None:
    built(tmp_path, "remove U9")
    (tmp_path / "whole.harness").write_text(BASE + 'use "later.harness"\n', encoding="utf-8")
    result = load(tmp_path / "whole.harness")
    assert "must be the first fact" in " ".join(d.message for d in result.diagnostics)


# conditions of facts

CONDITIONAL = """vehicle "Hollin Ten" {
    supply 12 V negative-earth
    option heater "Heater" only chassis 200..
    option tow-bar
    choice market home export
    chassis 100..499
    built 1985-01..1986-12
    milestone chassis 300 built 1986-01
}
place box "Box" at 100, 0, 0 mm {
    slots 1..4 blade-fuse
    when market export { slot 5 blade-fuse }
}
when option heater and market export { unknown U1 "Heater of the export cars" in box spare }
when chassis ..199 { unknown U2 "Early" in box spare }
when built 1986-06-15.. or 1985-01..1985-02 { unknown U3 "Late, or the first" in box spare }
unknown U4 "Not for towing" in box spare only no option tow-bar
when option tow-bar { when chassis 400.. { unknown U5 "Late tow bar" in box spare } }
"""


def conditional(folder: Path) -> Path:
    path = folder / "cars.harness"
    path.write_text(CONDITIONAL, encoding="utf-8")
    return path


@pytest.mark.parametrize(("selection", "parts", "slots"), [
    (Selection(), "U2 U3 U4", 4),
    (Selection(chassis="250"), "U3 U4", 4),
    (Selection(("heater", "market=export"), chassis="250"), "U1 U3 U4", 5),
    (Selection(("tow-bar",), chassis="450"), "U5", 4),
    (Selection(("tow-bar",), chassis="450", built="1986-07"), "U3 U5", 4),
    (Selection(built="1986-06"), "U4", 4),
    (Selection(built="1986-06-15"), "U3 U4", 4),
])
def test_facts_apply_to_the_chosen_car(selection: Selection, parts: str, slots: int,
                                       tmp_path: Path) -> None:
    result = load(conditional(tmp_path), selection)
    assert not result.broken
    assert " ".join(result.vehicle.parts) == parts
    assert len(result.vehicle.places["box"].slots) == slots


@pytest.mark.parametrize(("selection", "code"), [
    (Selection(("heater",), chassis="150"), "no-such-build"),
    (Selection(chassis="350", built="1985-06"), "no-such-build"),
    (Selection(chassis="50"), "no-such-build"),
    (Selection(("heeter",)), "unknown-option"),
    (Selection(("market=exprt",)), "unknown-choice"),
    (Selection(chassis="about 300"), "bad-range"),
    (Selection(built="June"), "bad-range"),
])
def test_cars_that_never_were_are_refused(selection: Selection, code: str, tmp_path: Path) -> None:
    result = load(conditional(tmp_path), selection)
    assert [d.code for d in result.diagnostics if d.severity is Severity.ERROR] == [code]


def test_all_combinations_that_exist_are_checked(tmp_path: Path) -> None:
    """Counted by itertools over every single number and month, without the project's bands."""
    seen = set()
    months = [(y, m) for y in (1985, 1986) for m in range(1, 13)]
    for heater, tow, market in itertools.product((0, 1), (0, 1), ("home", "export")):
        for number, (year, month), day in itertools.product(range(100, 500, 25), months, (1, 15)):
            if heater and number < 200:
                continue
            if (number >= 300) != ((year, month) >= (1986, 1)):
                continue
            late = (year, month, day) >= (1986, 6, 15) or (year, month) <= (1985, 2)
            seen.add((
                "U1" * (heater and market == "export"), "U2" * (number < 200), "U3" * late,
                "U4" * (not tow), "U5" * (tow and number >= 400), market))
    builds, messages = every_build(read_stack(conditional(tmp_path)), NOTHING_CHOSEN)
    assert messages == []
    found = set()
    for _, result in builds:
        assert not result.broken
        names = result.vehicle.parts
        market = "export" if "5" in result.vehicle.places["box"].slots else "home"
        found.add((*(name * (name in names) for name in ("U1", "U2", "U3", "U4", "U5")), market))
    assert found == seen


def test_a_finding_says_in_which_builds_it_appears(tmp_path: Path) -> None:
    text = BASE.replace("supply 12 V negative-earth", "supply 12 V negative-earth; "
                        "option lamp; option bell; choice market home export")
    text += ('when option lamp and market export { lamp L1 "Lamp" in nose; '
             "wire G1.+ -> L1.1 1 mm2 RD 1 m; wire L1.2 -> E1 1 mm2 BN 1 m }\n"
             'when option bell { horn H1 "Bell" in nose spare }\n')
    path = tmp_path / "cars.harness"
    path.write_text(text, encoding="utf-8")
    result, count = check_every_build(path)
    assert count == 8
    found = [d.message for d in result.diagnostics if d.code == "unfused-load"]
    assert len(found) == 1 and found[0].endswith("(in: with lamp, market export)")
    assert [d.code for d in check(path).diagnostics if d.code == "unfused-load"] == []
    answer = run("check", path, "--every-build", "--fail-on", "error")
    assert answer.exit_code == 1 and "8 builds checked" in answer.output
    assert run("check", path, "--every-build", "--with", "bell", "--without", "lamp",
               "--fail-on", "error").exit_code == 0


def test_too_many_combinations_are_refused(tmp_path: Path) -> None:
    options = "; ".join(f"option o{n}" for n in range(12))
    uses = "\n".join(f'unknown U{n} "u" spare only option o{n}' for n in range(12))
    path = tmp_path / "cars.harness"
    path.write_text(f'vehicle "V" {{ supply 12 V negative-earth; {options} }}\n{uses}\n',
                    encoding="utf-8")
    result, count = check_every_build(path)
    assert count == 0
    assert "too-many-builds" in [d.code for d in result.diagnostics]


def test_bands_hold_both_their_ends() -> None:
    band = read_band("chassis", "BT41200..BT41299")
    assert band is not None
    assert [band.holds(key) for text in ("BT41199", "BT41200", "BT41299", "BT41300", "41250")
            if (key := read_chassis(text))] == [False, True, True, False, False]
    month = read_band("built", "1986-02")
    assert month is not None
    assert [month.holds(key) for text in ("1986-01-31", "1986-02-01", "1986-02-28", "1986-03-01")
            if (key := read_day(text))] == [False, True, True, False]
    assert [read_band("built", text) for text in ("1986-13..", "..", "1986-05..1986-04")] == [
        None, None, None]


# the page, the examples

def page_files() -> dict[str, str]:
    text = (ROOT / "docs" / "variants.md").read_text(encoding="utf-8")
    return {name: body for name, body in re.findall(
        r"```harness\n# file: (\S+)\n(.*?)```", text, re.DOTALL)}


def test_every_example_of_the_page_runs(tmp_path: Path) -> None:
    files = page_files()
    assert len(files) >= 4
    assert (ROOT / "docs" / "variants.md").read_text(encoding="utf-8").count("```harness") == len(
        files)
    for name, body in files.items():
        (tmp_path / name).write_text(body, encoding="utf-8")
    for name in files:
        findings = check(tmp_path / name).diagnostics
        assert [d.message for d in findings if d.severity > Severity.NOTE] == []
    overlaid, whole = (load(tmp_path / n).vehicle for n in ("mid-year.harness", "whole.harness"))
    assert compare(overlaid, whole).differences == ()


def test_overlay_and_hand_written_whole_file_are_the_same_car(tmp_path: Path) -> None:
    overlaid = built(
        tmp_path, "remove S1 with wires", "remove U9", "remove cable CB1", "remove run loom",
        "swap K1 relay was relay-diode", "recolour W5 BN/BK was BN", "rename M1 -> M3",
        "move F1 in box slot 4 was slot 1", "wire J1 -> K1.86 1 mm2 RD/WH 0.25 m",
        "change W6 2.1 m was 1.9 m", "repin W7 X1.b.2 -> X1.b.1", "repin W6 X1.1 -> X1.2")
    (tmp_path / "whole.harness").write_text("""
wire W7 M3.- -> X1.b.1 -> E1   2.5 mm2 BN 0.9 m
wire W6 K1.87 -> X1.2 -> M3.+ 2.5 mm2 GN/BK 2100 mm
wire W5 E1 -> K1.2 1 mm2 BN/BK 1.8 m
wire K1.86 -> J1 1 mm2 RD/WH 25 cm
wire J1 -> K1.30 2.5 mm2 RD/WH 0.2 m
wire W3 F1.2 -> J1 2.5 mm2 RD/WH 0.2 m
wire W2 G1.+ -> F1.1 4 mm2 RD 1.9 m
wire W1 G1.- -> E1 16 mm2 BK 0.4 m
circuit fan "Fan" { M3 K1; F1 }
condition on "Fan on" { engine 90 C }
splice J1 "Fan feed" in box
connector X1 "Fan plug" in nose { half b male; half a female; cavities 1 2 }
motor M3 "Fan" stalls 30 A 9 A in nose
relay K1 in box slot A { note "the same label, said below" }
blade-fuse F1 "Fan" 15 A slot 4 in box
earth E1 "Wing stud" in nose on body
battery G1 "Battery" in nose 60 Ah
place tail "Tail" at 4000, 0, 600 mm
place nose "Nose" wet at 20, 0, 50 cm
place box "Fuse box" at 1400, -300, 700 mm {
    slot A mini-relay; slot B mini-relay; slots 1..6 blade-fuse max 30 A
}
caution "Hot when it has run"
vehicle "Hollin Ten" { supply 12 V negative-earth }
""".replace("relay K1 in box", 'relay K1 "Fan relay" in box'), encoding="utf-8")
    whole = load(tmp_path / "whole.harness")
    assert [d.message for d in whole.diagnostics] == []
    assert compare(overlaid, whole.vehicle).differences == ()


OVERLAYS = ("mid-year", "island-market", "this-car", "headlamp-relays")


@pytest.mark.parametrize("stem", OVERLAYS)
def test_the_examples_overlays_check_clean(stem: str) -> None:
    result = check(TOURER / f"{stem}.harness")
    assert [d.message for d in result.diagnostics
            if d.severity > Severity.NOTE and d.accepted is None] == []


def test_the_mid_year_cars_check_clean_in_every_build() -> None:
    result, count = check_every_build(TOURER / "mid-year.harness")
    assert count == 6
    assert [d.message for d in result.diagnostics if d.severity > Severity.NOTE] == []


def test_this_car_stands_on_the_mid_year_cars() -> None:
    stack = read_stack(TOURER / "this-car.harness")
    assert [Path(layer.path).name for layer in stack.layers] == [
        "tourer.harness", "mid-year.harness", "this-car.harness"]
    vehicle = load(TOURER / "this-car.harness").vehicle
    assert {"E42", "E60", "S27"} <= set(vehicle.parts) and "X60" not in vehicle.parts


@pytest.mark.parametrize("stem", ("mid-year", "island-market", "this-car"))
def test_the_examples_overlays_are_drawn(stem: str, tmp_path: Path) -> None:
    result = run("draw", TOURER / f"{stem}.harness", "--out", tmp_path, "--circuit", "headlamps")
    assert result.exit_code == 0, result.output
    assert list(tmp_path.glob("*.svg"))
    result = run("locate", TOURER / f"{stem}.harness", "fan", "--out", tmp_path / "maps")
    assert result.exit_code == 0, result.output
    assert list((tmp_path / "maps").glob("*.svg"))


# renaming through files that build on one another

@pytest.mark.parametrize(("old", "new"), [("K3", "K33"), ("EP4", "EP40"), ("dash-box", "crate")])
def test_rename_reaches_every_overlay(old: str, new: str, tmp_path: Path) -> None:
    for path in TOURER.glob("*.harness"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    result = run("rename", tmp_path / "tourer.harness", old, new)
    assert result.exit_code == 0, result.output
    for stem in (*OVERLAYS, "tourer"):
        before, after = load(TOURER / f"{stem}.harness"), load(tmp_path / f"{stem}.harness")
        assert not after.broken
        found = compare(before.vehicle, after.vehicle)
        assert [(d.sort, d.before, d.after) for d in found.differences] == [("renamed", old, new)]


def test_rename_reaches_facts_of_other_cars(tmp_path: Path) -> None:
    text = BASE.replace("supply 12 V negative-earth", "supply 12 V negative-earth; option bell")
    text += ('when option bell { horn H1 "Bell" in nose; wire J1 -> H1.1 1 mm2 BU 1 m; '
             "wire H1.2 -> E1 1 mm2 BN 1 m }\n"
             "circuit bell \"Bell\" { J1; when option bell { H1 } }\nverified W4 J1 measured\n")
    path = tmp_path / "cars.harness"
    path.write_text(text, encoding="utf-8")
    result = run("rename", path, "J1", "J10")
    assert result.exit_code == 0, result.output
    vehicle = load(path, Selection(("bell",))).vehicle
    assert "J10-H1.1" in vehicle.wires and vehicle.circuits["bell"].parts == ("J10", "H1")
    assert "J1" not in re.findall(r"\bJ1\b", path.read_text(encoding="utf-8"))


def test_a_rename_that_would_change_more_is_refused(tmp_path: Path) -> None:
    built(tmp_path, 'unknown K9 "Something" in nose spare')
    before = {p: p.read_bytes() for p in tmp_path.glob("*.harness")}
    result = run("rename", tmp_path / "base.harness", "K1", "K9")
    assert result.exit_code == 1 and "nothing was written" in result.output
    assert before == {p: p.read_bytes() for p in tmp_path.glob("*.harness")}


# whatever stands in an overlay

WORDS = [word for line in (
    "remove replace move recolour repin swap change rename when only was without with wires in",
    "slot at to -> = , { } ; option chassis no and or ..200 200.. 1986-03.. W6 W6:1 J1-K1.30 K1",
    "K1.30",
    "X1.1 X1 box nose fan on place circuit condition wire chain vehicle accept caution RD RD/WH",
    '"text" "" 4 mm2 1 m 10 A measured 2025-01-01 kind run cable of use evidence lamp L9',
) for word in line.split()]


@settings(max_examples=250, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(st.sampled_from(WORDS), min_size=1, max_size=9), min_size=1, max_size=5))
def test_no_overlay_brings_the_program_down(tmp_path: Path, lines: list[list[str]]) -> None:
    (tmp_path / "base.harness").write_text(BASE, encoding="utf-8")
    text = "\n".join(['variant "Any" of "base.harness"', *(" ".join(line) for line in lines), ""])
    (tmp_path / "any.harness").write_text(text, encoding="utf-8")
    result = load(tmp_path / "any.harness")
    if not result.broken:
        compare(load(tmp_path / "base.harness").vehicle, result.vehicle)
