"""Single mistakes planted into the demo vehicle: each is found by the rule that is meant for it, at
the line that is wrong, and no error about something else comes with it.

Every mistake edits the text of the demo, as a person would who misreads or mistypes one thing.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.pipeline import check

DEMO = Path(__file__).parent.parent / "examples" / "tourer"
MAIN = "tourer.harness"


@dataclass(frozen=True)
class Mistake:
    """One edit of one line: the first line that `find` matches gets `change` (a `re.sub` of its
    own), or is deleted; or `add` is put behind it."""

    name: str
    find: str
    code: str
    """The rule meant for it."""
    change: tuple[str, str] | None = None
    add: str = ""
    at: str = ""
    """Regular expression of the line at which the finding must be; '' for the edited line."""
    also: tuple[str, ...] = ()
    """Codes of errors that are the same mistake seen from another side."""
    more: tuple[tuple[str, str, str], ...] = ()
    """Further lines to edit: which line, what in it, by what (a swap takes two lines)."""


MISTAKES = [
    # wires left out
    Mistake("a lamp's earth wire is missing", r"wire E27\.2 -> J30", "floating-earth",
            at=r"number-plate-lamp E27 "),
    Mistake("the earth of a splice is missing: two lamps at once", r"wire J32 -> EP11",
            "floating-earth", at=r"splice J32 "),
    Mistake("a relay coil's earth is missing", r"wire K10\.85 -> ", "floating-earth",
            at=r"relay-diode K10 "),
    Mistake("one of a control module's earths is missing", r"wire A1\.5 -> ",
            "dangling-terminal", at=r"module A1 "),
    Mistake("the only earth of a module is missing", r"wire N1\.31 -> ", "floating-earth",
            at=r"ignition-module N1 |ignition-coil T1 |hall-sender B1 "),
    Mistake("a motor's earth is missing", r"wire M3\.- -> ", "floating-earth",
            at=r"blower-motor M3 "),
    Mistake("the earth of the central-locking unit is missing", r"wire A5\.31 -> ",
            "floating-earth", at=r"lock-control A5 "),
    Mistake("the earth of the master window switch is missing", r"wire S30\.31 -> ",
            "floating-earth", at=r"master-window-switch S30 "),
    Mistake("a fuse has no feed", r"wire J2 -> F5\.1", "never-fed", at=r"strip-fuse F5 "),
    Mistake("the feed of one lamp is missing", r"wire J44 -> X28\.3 ", "never-fed",
            at=r"stop-lamp E11 "),
    Mistake("a relay coil has no feed", r"wire J93 -> K10\.86", "never-fed",
            at=r"relay-diode K10 "),
    Mistake("a switch has no feed", r"wire F11\.2 -> S6\.1", "never-fed",
            at=r"brake-light-switch S6 "),
    Mistake("the battery's earth strap is missing", r"wire G1\.- -> EP1", "earth-path-missing",
            at=r"earth EP\d+ "),
    Mistake("the engine strap is missing", r"wire EP2 -> EP3", "earth-path-missing",
            at=r"earth EP(2|3|14) "),
    Mistake("the generator's cable is missing", r"wire G2\.B\+ -> M1\.30", "dangling-terminal",
            at=r"alternator\S* G2 "),
    Mistake("the starter's cable is missing", r"wire G1\.\+ -> M1\.30", "never-fed",
            at=r"alternator\S* G2 "),
    Mistake("a sensor's wire is missing", r"wire B4\.2 -> J99", "dangling-terminal",
            at=r"temperature-sensor B4 "),
    # bypasses
    Mistake("a fuse is bridged", r"wire F11\.2 -> S6\.1", "bypassed-part",
            add="wire F11.1 -> F11.2 1.5 mm2 RD 0.1 m", at=r"wire F11\.1 -> F11\.2"),
    Mistake("a main fuse is bridged", r"wire J2 -> F5\.1", "unfused-load",
            add="wire F5.1 -> F5.2 6 mm2 RD 0.1 m", at=r"wire F5\.1 -> F5\.2",
            also=("bypassed-part",)),
    Mistake("a load is taken from before its main fuse", r"wire F5\.2 -> ", "unfused-load",
            change=(r"F5\.2", "F5.1")),
    Mistake("a load is taken from before its branch fuse", r"wire F11\.2 -> S6\.1",
            "fuse-exceeds-wire", change=(r"F11\.2", "F11.1")),
    Mistake("a lamp straight from the battery", r"wire G1\.\+ -> J1 ", "unfused-load",
            add='lamp E99 "Work lamp" in left-front\nwire G1.+ -> S99.1 1 mm2 RD 1 m\n'
                'toggle-switch S99 "Its switch" in dash-left\nwire S99.2 -> E99.1 1 mm2 RD 2 m\n'
                "wire E99.2 -> EP4 1 mm2 BN 1 m", at=r"lamp E99 "),
    Mistake("a switch is bridged", r"wire F11\.2 -> S6\.1", "bypassed-part",
            add="wire S6.1 -> S6.2 1.5 mm2 RD 0.1 m", at=r"wire S6\.1 -> S6\.2"),
    # fuses and wire sizes
    Mistake("a fuse far too large", r"blade-fuse F20 ", "fuse-exceeds-wire",
            change=(r"7\.5 A", "30 A")),
    Mistake("the next larger fuse", r"blade-fuse F21 ", "fuse-exceeds-wire",
            change=(r"7\.5 A", "15 A")),
    Mistake("a wire too thin for its fuse", r"wire F41\.2 -> ", "fuse-exceeds-wire",
            change=(r"\b[46](\.0)? mm2", "0.75 mm2")),
    Mistake("a thin wire branches off a thick one", r"wire F28\.2 -> ", "fuse-exceeds-wire",
            add='lamp E98 "Control lamp" in dash-left\nwire S2.X -> E98.1 0.5 mm2 GY 0.3 m\n'
                "wire E98.2 -> EP7 0.5 mm2 BN 1.5 m", at=r"wire S2\.X -> E98"),
    Mistake("a rating that is not made", r"blade-fuse F25 ", "fuse-rating",
            change=(r"10 A", "9 A")),
    Mistake("a fuse without rating", r"blade-fuse F36 ", "fuse-rating", change=(r" 7\.5 A", "")),
    Mistake("a mini fuse in a regular slot", r"blade-fuse F20 ", "fuse-slot",
            change=("blade-fuse", "mini-fuse")),
    Mistake("a fuse too large for its slot", r"strip-fuse F1 ", "fuse-slot",
            change=(r"50 A", "125 A"), also=("fuse-exceeds-wire",)),
    # slots and places
    Mistake("a slot is taken twice", r"blade-fuse F21 ", "slot-taken-twice",
            change=(r"slot 11\b", "slot 10")),
    Mistake("a slot that does not exist", r"blade-fuse F21 ", "slot-missing",
            change=(r"slot 11\b", "slot 77")),
    Mistake("a relay in a fuse's slot", r"relay-diode K10 ", "slot-fit",
            change=(r"slot A\b", "slot 6"), more=((r"blade-fuse F36 ", " slot 6", ""),)),
    Mistake("a part in no place", r"stop-lamp E12 ", "part-without-place",
            change=(r" in right-tail", "")),
    Mistake("a wire shorter than its way", r"wire F21\.2 -> X25\.2", "wire-too-short",
            change=(r"5\.35 m", "0.9 m")),
    # plugs
    Mistake("a cavity is used twice", r"wire J44 -> X28\.3 ", "cavity-used-twice",
            change=(r"X28\.3", "X28.1"), also=()),
    Mistake("a wrong cavity on one side", r"wire F10\.2 -> X17\.3 ", "dangling-wire",
            change=(r"wire F10\.2 -> X17\.3 .*$", "wire F10.2 -> X17.3 1.5 mm2 RD/GY 0.4 m; "
                    "wire X17.5 -> S2.30 1.5 mm2 RD/GY 0.3 m"), also=("never-fed",)),
    Mistake("both halves male", r"half a female \"cabin side\" shell \"blue\"", "mating-halves",
            change=("female", "male"), at=r"half [ab] "),
    Mistake("shells that do not mate", r"half b male \"engine side\" shell \"blue\"",
            "mating-halves", change=("blue", "brown")),
    Mistake("halves of different ways", r"half b male \"engine side\" shell \"blue\"",
            "mating-halves", change=("half b male", "half b male 10 way")),
    Mistake("a wire changes colour in a plug", r"wire S6\.2 -> X25\.4 ", "mating-halves",
            change=(r"X25\.4 ", "X25.4 1.5 mm2 GN ")),
    Mistake("a wire changes size in a plug", r"wire S6\.2 -> X25\.4 ", "mating-halves",
            change=(r"X25\.4 ", "X25.4 2.5 mm2 BK/RD ")),
    Mistake("a wire changes colour at a terminal", r"wire K1\.87 -> F28\.1 ", "colour-change",
            change=(r"F28\.1 ", "F28.1 10 mm2 YE ")),
    # splices and ends
    Mistake("a splice with one leg", r"wire E35\.2 -> ", "splice-one-leg",
            add='splice J199 "Lost" in dash-left\nwire J37 -> J199 0.5 mm2 BN 0.1 m',
            at=r"splice J199 "),
    Mistake("a crowded splice", r"wire E27\.2 -> J30", "splice-crowded",
            add="\n".join(f'lamp E9{n} "Lamp {n}" in left-load spare\n'
                          f"wire E9{n}.2 -> J30 0.75 mm2 BN 0.3 m" for n in range(1, 6)),
            at=r"splice J30 "),
    Mistake("a part that nobody wired", r"stop-lamp E12 ", "part-never-wired",
            add='lamp E97 "Found in the boot" in left-load', at=r"lamp E97 "),
    # relays and diodes
    Mistake("85 and 86 swapped at a relay with a diode", r"wire J93 -> K10\.86",
            "relay-terminals", change=(r"K10\.86", "K10.85"), at=r"relay-diode K10 ",
            more=((r"wire K10\.85 -> ", r"K10\.85", "K10.86"),)),
    Mistake("30 and 87 swapped", r"wire K10\.87 -> J4", "relay-terminals",
            change=(r"K10\.87", "K10.30"), at=r"relay-diode K10 ",
            more=((r"wire F6\.2 -> K10\.30", r"K10\.30", "K10.87"),)),
    Mistake("a relay without suppression", r"relay-resistor K5 ", "coil-unsuppressed",
            change=("relay-resistor", "relay")),
    Mistake("a diode in the relay the wrong way round", r"relay-resistor K5 ", "diode-reversed",
            change=("relay-resistor (.*)$", r"relay \1 { diode 86 -> 85 suppresses }")),
    Mistake("a diode in a feed the wrong way round", r"wire F11\.2 -> S6\.1", "diode-reversed",
            change=(r"wire F11\.2 -> S6\.1.*$",
                    "wire F11.2 -> V9.K 1.5 mm2 RD/BK 0.3 m; wire V9.A -> S6.1 1.5 mm2 RD/BK 0.6 m"
                    '; diode V9 "Blocking diode" in dash-left'),),
    Mistake("the load on 87a instead of 87", r"relay-resistor K8 ", "relay-terminals",
            change=("relay-resistor", "changeover-relay"), at=r"wire K8\.87a -> ",
            more=((r"wire K8\.87 -> ", r"K8\.87", "K8.87a"),)),
    # shorts
    Mistake("a fused feed to earth", r"wire F11\.2 -> S6\.1", "direct-short",
            add="wire F11.2 -> EP7 1.5 mm2 BN 0.5 m", at=r"wire F11\.2 -> EP7"),
    Mistake("a switched feed to earth", r"wire J44 -> X28\.3 ", "direct-short",
            add="wire J44 -> EP11 1.5 mm2 BN 0.5 m", at=r"wire J44 -> EP11"),
    Mistake("a feed ends on the lamp's earth", r"wire J45 -> X28\.4 ", "direct-short",
            change=(r"E13\.1", "E13.2"), also=("never-fed",)),
    Mistake("a window switch's output to earth", r"wire S31\.up -> ", "direct-short",
            add="wire S31.up -> EP10 2.5 mm2 BN 0.5 m", at=r"wire S31\.up -> EP10"),
    # supplies joined
    Mistake("two fuses joined", r"wire F11\.2 -> S6\.1", "backfeed",
            add="wire F11.2 -> F12.2 1.5 mm2 RD 0.1 m", at=r"wire F11\.2 -> F12\.2"),
    Mistake("a fuse on 30 joined with one on 15", r"wire F11\.2 -> S6\.1", "backfeed",
            add="wire F11.2 -> F25.2 1.5 mm2 RD 0.1 m", at=r"wire F11\.2 -> F25\.2"),
    Mistake("two switches joined", r"wire S6\.2 -> X25\.4 ", "backfeed",
            add="wire J44 -> J45 1.5 mm2 BK 0.2 m", at=r"wire J44 -> J45"),
    Mistake("a lamp between 30 and 15", r"wire E35\.2 -> ", "backfeed",
            add='warning-lamp H99 "Found lamp" in dash-left\nwire F11.2 -> H99.1 0.75 mm2 RD 0.3 m'
                "\nwire H99.2 -> J25 0.75 mm2 BK 0.3 m", at=r"wire H99\.2 -> J25"),
    Mistake("a second battery without a relay", r"wire G1\.\+ -> J1 ", "batteries-joined",
            add='second-battery G9 "Second battery" in left-load\n'
                "wire G9.- -> EP11 25 mm2 BN 0.5 m\nwire G9.+ -> G1.+ 25 mm2 RD 5 m",
            at=r"second-battery G9 "),
    # live at rest, polarity
    Mistake("a lamp that burns all night", r"wire F11\.2 -> S6\.1", "always-fed",
            add='lamp E96 "Night lamp" in dash-left\nwire F11.2 -> E96.1 1.5 mm2 RD 0.3 m\n'
                "wire E96.2 -> EP7 1.5 mm2 BN 1 m", at=r"lamp E96 "),
    Mistake("a clock that nobody declared", r"clock P\d+ ", "always-fed",
            change=(r"\s*always-live", "")),
    Mistake("the earth lead on the battery's plus", r"wire G1\.- -> EP1", "reversed-polarity",
            change=(r"G1\.-", "G1.+"), at=r"battery G1 "),
    Mistake("the battery the wrong way round", r"wire G1\.- -> EP1", "reversed-polarity",
            change=(r"G1\.-", "G1.+"), at=r"battery G1 ",
            more=((r"wire G1\.\+ -> M1\.30", r"G1\.\+", "G1.-"),
                  (r"wire G1\.\+ -> J1 ", r"G1\.\+", "G1.-"))),
    Mistake("plus and minus swapped at a fan", r"wire M3\.- -> ", "reversed-polarity",
            change=(r"M3\.-", "M3.+"), at=r".*M3\.-",
            more=((r".* -> M3\.\+", r"M3\.\+", "M3.-"),)),
    Mistake("plus and minus swapped at a control module", r"wire F14\.2 -> A5\.30",
            "reversed-polarity", change=(r"A5\.30", "A5.31"), at=r".*A5\.31",
            more=((r"wire A5\.31 -> ", r"A5\.31", "A5.30"),)),
    Mistake("main and dipped beam swapped at the switch", r"wire S3\.56a -> ",
            "terminals-disagree", change=(r"S3\.56a", "S3.56b"), at=r"wire S3\.56[ab] -> ",
            more=((r"wire S3\.56b -> X16\.b\.3", r"S3\.56b", "S3.56a"),)),
    Mistake("the stop lamps' feed ends on a tail lamp", r"wire J44 -> X28\.3 ",
            "backfeed", change=(r"E11\.1", "E5.1"), also=("never-fed",)),
    Mistake("an earth wire far too thin", r"wire EP2 -> EP3", "wire-thinner-than-load",
            change=(r"50 mm2", "1.5 mm2")),
    Mistake("a battery cable too thin for its fuse", r"wire J1 -> F1\.1", "wire-thinner-than-load",
            change=(r"16 mm2", "2.5 mm2")),
    Mistake("the door switches' line goes nowhere", r"wire E20\.31b -> ", "dangling-terminal",
            at=r"interior-lamp E20 "),
    # names and acceptances
    Mistake("a name is given twice", r"stop-lamp E12 ", "duplicate-name",
            change=(r"E12", "E11"), also=("unknown-part",)),
    Mistake("a terminal that the part has not", r"wire F11\.2 -> S6\.1", "unknown-terminal",
            change=(r"S6\.1", "S6.7")),
    Mistake("an acceptance of nothing", r"wire F11\.2 -> S6\.1", "acceptance-unused",
            add='accept unfused-load E11 "no reason"', at=r"accept unfused-load E11"),
]


def _edit(folder: Path, name: str, find: str, change: tuple[str, str] | None, add: str
          ) -> tuple[str, int]:
    """Edit the first line of the demo that matches; return its file and number."""
    used = re.findall(r'^use "(\S+)"', (folder / MAIN).read_text(encoding="utf-8"), re.M)
    for path in [folder / MAIN, *(folder / each for each in used)]:
        lines = path.read_text(encoding="utf-8").split("\n")
        for number, line in enumerate(lines):
            if not re.match(find, line.strip()) or "## edited" in line:
                continue
            if change is not None:
                changed = re.sub(change[0], change[1], line, count=1)
                assert changed != line, f"{name}: the edit changes nothing in {line!r}"
                lines[number] = changed + "  ## edited"
            elif add:
                lines.insert(number + 1, add)
            else:
                del lines[number]
            path.write_text("\n".join(lines), encoding="utf-8")
            return path.name, number + 1
    raise AssertionError(f"{name}: no line of the demo matches {find!r}")


def plant(mistake: Mistake, folder: Path) -> tuple[Path, tuple[str, int]]:
    """Copy the demo with the mistake in it; return its main file and the edited line's place."""
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("photos"))
    edited = _edit(folder, mistake.name, mistake.find, mistake.change, mistake.add)
    for find, old, new in mistake.more:
        _edit(folder, mistake.name, find, (old, new), "")
    return folder / MAIN, edited


def lines_at(folder: Path, diagnostic: Diagnostic) -> Iterator[tuple[str, int, str]]:
    """Yield the place and the text of the line that a message points at."""
    path = folder / Path(diagnostic.span.path).name
    text = path.read_text(encoding="utf-8").split("\n")
    yield path.name, diagnostic.span.line, text[diagnostic.span.line - 1].strip()


def test_the_demo_is_healthy() -> None:
    found = check(DEMO / MAIN).diagnostics
    assert [d for d in found if d.severity >= Severity.WARNING and d.accepted is None] == []


def test_there_are_enough_different_mistakes() -> None:
    assert len(MISTAKES) >= 40
    assert len({m.name for m in MISTAKES}) == len(MISTAKES)
    assert len({m.code for m in MISTAKES}) >= 25


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda m: m.name)
def test_a_planted_mistake_is_found(mistake: Mistake, tmp_path: Path) -> None:
    main, edited = plant(mistake, tmp_path / "demo")
    found = [d for d in check(main).diagnostics if d.accepted is None]
    meant = [d for d in found if d.code == mistake.code]
    assert meant, f"found instead: {[(d.code, d.message) for d in found if d.severity >= 2]}"
    places = [place for d in meant for place in lines_at(main.parent, d)]
    if mistake.at:
        assert any(re.match(mistake.at, text) for _, _, text in places), places
    else:
        assert edited in [(name, line) for name, line, _ in places], places
    unrelated = [d for d in found if d.severity is Severity.ERROR
                 and d.code not in (mistake.code, *mistake.also)]
    assert unrelated == [], [(d.code, d.message) for d in unrelated]
