"""Every sheet and map of the demo, judged from the SVG by the independent checker.

The limits are those that the project sets itself: nothing on top of anything, every wire once and
on its terminals, at most 0.15 crossings and 1.1 bends a wire, and fewer crossings than the dot
engine's own orthogonal drawing of the same sheets.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from svg_checker.browser import Browser, BrowserMissing, shared_browser
from svg_checker.dot_reference import dot_crossings
from svg_checker.findings import Finding
from svg_checker.joins import joins_within_parts
from svg_checker.paint import check_paint
from svg_checker.planting import Planter
from svg_checker.report import Report, check_schematics
from svg_checker.sheet import Sheet
from svg_checker.wires import nets

from harnessdsl.cli.main import main
from harnessdsl.drawing.scene import Group, Page
from harnessdsl.drawing.schematic import draw_schematics
from harnessdsl.drawing.svg import render_svg
from harnessdsl.drawing.symbols import blocks_for
from harnessdsl.model.kind_shelf import shipped_kinds
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load, load_string

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"
DEMO = EXAMPLES / "tourer" / "tourer.harness"
LETTER_MM = 1.8
"""Height of capitals: the smallest size of lettering in ISO 3098 (from memory)."""
MOST_CROSSINGS = 0.15
MOST_BENDS = 1.1
MOST_PLAIN_WIDTH_MM = 1.65
"""No wire without a halo is drawn as wide."""


@pytest.fixture(scope="module")
def browser() -> Browser:
    try:
        return shared_browser()
    except BrowserMissing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="module")
def vehicle() -> Vehicle:
    return load(DEMO).vehicle


def drawn(vehicle: Vehicle) -> list[tuple[str, str]]:
    return [(page.name, render_svg(page)) for page in draw_schematics(vehicle)]


def expected_wires(vehicle: Vehicle) -> dict[str, tuple[str, str]]:
    return {wire.name: (wire.a.node, wire.b.node) for wire in vehicle.wires.values()}


def judged(sheets: list[Sheet], vehicle: Vehicle) -> Report:
    return check_schematics(sheets, expected_wires(vehicle), joins_within_parts(vehicle))


@pytest.fixture(scope="module")
def svgs(vehicle: Vehicle) -> list[tuple[str, str]]:
    return drawn(vehicle)


@pytest.fixture(scope="module")
def sheets(svgs: list[tuple[str, str]], browser: Browser) -> list[Sheet]:
    return browser.measure_all(svgs)


@pytest.fixture(scope="module")
def report(sheets: list[Sheet], vehicle: Vehicle) -> Report:
    return judged(sheets, vehicle)


def shown(findings: list[Finding]) -> str:
    return "\n".join(str(finding) for finding in findings[:20])


@pytest.mark.parametrize(
    "what",
    [
        "overlapping texts",
        "hidden text",
        "text on a foreign symbol",
        "text on a foreign wire",
        "text struck through by its own wire",
        "text struck through by its own symbol",
        "mirrored text",
        "symbols on each other",
        "wire through a symbol",
        "part off the page",
        "text off the page",
        "wire without a line",
        "wire in pieces",
        "stray line in a wire",
        "wire end off its terminal",
        "wire ends on a foreign wire",
        "wires on top of each other",
        "wire not drawn",
        "wire drawn twice",
        "wire between the wrong nodes",
        "wire that the file does not have",
        "terminal away from its symbol",
        "text on a supply line",
        "symbol on a supply line",
        "supply line of several nets",
    ],
)
def test_the_demo_has_no(what: str, report: Report) -> None:
    assert report.of(what) == [], shown(report.of(what))


def test_no_finding_is_left_out_of_the_list(report: Report) -> None:
    assert report.counts() == {}


def test_the_smallest_text_can_be_read_when_printed(report: Report) -> None:
    assert report.smallest_capital_mm >= LETTER_MM


def test_few_crossings(report: Report) -> None:
    assert len(report.wires) >= 350
    # wires that run over a supply line count as well
    crossed = len(report.crossings) + len(report.rail_crossings)
    assert crossed <= MOST_CROSSINGS * len(report.wires)


def test_few_bends(report: Report) -> None:
    assert report.bends_per_wire <= MOST_BENDS


def test_fewer_crossings_than_dots_own_orthogonal_drawing(
    sheets: list[Sheet], report: Report, vehicle: Vehicle
) -> None:
    net_of = nets(expected_wires(vehicle).values())
    by_dot = 0
    edges = 0
    for sheet in sheets:
        found, count = dot_crossings(sheet, net_of)
        by_dot += len(found)
        edges += count
    assert edges == len(report.wires)
    assert len(report.crossings) < by_dot


def painted(vehicle: Vehicle) -> dict[str, tuple[str, bool]]:
    return {w.name: (w.colour, w.evidence.verified) for w in vehicle.wires.values()}


def test_wires_are_drawn_in_their_own_colours(sheets: list[Sheet], vehicle: Vehicle) -> None:
    """With the tracer as a stripe; those that nobody has seen on the car are dashed."""
    expected = painted(vehicle)
    assert len({colour for colour, _ in expected.values()}) > 20
    found = [finding for sheet in sheets for finding in check_paint(sheet, expected)]
    assert found == [], shown(found)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda colour, verified: ("VT/OG", verified), "wire in the wrong colour"),
        (lambda colour, verified: ("/".join(colour.split("/")[::-1]), verified),
         "wire in the wrong colour"),
        (lambda colour, verified: (colour, not verified), "dashed"),
    ],
    ids=["another colour", "base and tracer swapped", "evidence"],
)  # fmt: skip
def test_a_wire_in_wrong_paint_is_found(
    change: Callable[[str, bool], tuple[str, bool]],
    what: str,
    sheets: list[Sheet],
    vehicle: Vehicle,
) -> None:
    expected = {
        name: change(*paint)
        for name, paint in painted(vehicle).items()
        if "/" in paint[0] and paint[0] != "VT/OG"
    }
    found = [finding for sheet in sheets for finding in check_paint(sheet, expected)]
    assert {finding.subject for finding in found if what in finding.what} == set(expected)


@pytest.mark.parametrize(
    "path",
    [
        path
        for path in sorted(EXAMPLES.rglob("*.harness"))
        if path != DEMO and "\nvehicle " in f"\n{path.read_text(encoding='utf-8')}"
    ],
    ids=lambda path: path.stem,
)
def test_the_small_examples_are_drawn_as_well(path: Path, browser: Browser) -> None:
    other = load(path).vehicle
    found = judged(browser.measure_all(drawn(other)), other)
    assert found.counts() == {}, shown(list(found.findings))
    assert found.smallest_capital_mm >= LETTER_MM


# ------------------------------------------------------------------- what is live in a condition


def live_sheets(condition: str, folder: Path) -> list[tuple[str, str]]:
    result = CliRunner().invoke(
        main, ["draw", str(DEMO), "--live", condition, "--out", str(folder)]
    )
    assert result.exit_code == 0, result.output
    return [(path.stem, path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*.svg"))]


@pytest.mark.parametrize("condition", ["night-dipped", "hot-idle", "braking-left"])
def test_halos_of_live_wires_touch_no_text(
    condition: str, tmp_path: Path, browser: Browser, vehicle: Vehicle
) -> None:
    """The checker takes a wire as wide as its halo, so that all it asks of wires goes for halos."""
    found = judged(browser.measure_all(live_sheets(condition, tmp_path)), vehicle)
    assert found.counts() == {}, shown(list(found.findings))
    with_halo = [wire for wire in found.wires if wire.width_mm >= MOST_PLAIN_WIDTH_MM]
    assert len(with_halo) >= 200
    assert found.smallest_capital_mm >= LETTER_MM


def test_a_text_on_a_halo_is_found(tmp_path: Path, browser: Browser, vehicle: Vehicle) -> None:
    """Half a millimetre, which would leave the wire itself free."""
    _, svg = live_sheets("night-dipped", tmp_path)[0]
    planter = Planter(svg)
    assert found_in(browser, planter, vehicle) == set()
    planter.move(planter.groups("label", of="J1")[0], -0.5, 0.0)
    assert found_in(browser, planter, vehicle) == {"text on a foreign wire"}


# ------------------------------------------------------------------------- every kind by itself


@pytest.mark.parametrize("split", [False, True], ids=["whole", "in pieces"])
def test_every_symbol_is_sound_by_itself(split: bool, browser: Browser) -> None:
    """One part of each kind, in rows: no text on text, on a line or on a neighbour."""
    names = [n for n in shipped_kinds().names() if n not in ("connector", "splice", "earth")]
    lines = [f'{name} Q{i} "Name of this {name}"' for i, name in enumerate(names, 1)]
    vehicle = load_string("\n".join(['vehicle "Every kind" { supply 12 V }', *lines])).vehicle
    blocks = [block for part in vehicle.parts.values() for block in blocks_for(part, split=split)]
    assert len(blocks) >= len(names)
    groups: list[Group] = []
    x = y = tallest = 10.0
    for block in blocks:
        if x + block.width > 410:
            x, y, tallest = 10.0, y + tallest + 4, 0.0
        groups.append(Group(block.shapes, shift=(x - block.x0, y - block.y0)))
        x += block.width + 4
        tallest = max(tallest, block.height)
    page = Page("kinds", 420, y + tallest + 10, tuple(groups))
    found = check_schematics([browser.measure("kinds", render_svg(page))], {})
    assert found.counts() == {}, shown(list(found.findings))


# --------------------------------------------------------------- defects planted in real sheets


@pytest.fixture(scope="module")
def busy(svgs: list[tuple[str, str]]) -> tuple[str, str]:
    """The sheet with most wires."""
    return max(svgs, key=lambda sheet: sheet[1].count('data-wire="'))


def found_in(browser: Browser, planter: Planter, vehicle: Vehicle) -> set[str]:
    report = judged([browser.measure("planted", planter.svg())], vehicle)
    # the other sheets are not there, so their wires are missed
    return {finding.what for finding in report.findings if finding.what != "wire not drawn"}


def test_the_busy_sheet_itself_is_sound(
    busy: tuple[str, str], browser: Browser, vehicle: Vehicle
) -> None:
    assert found_in(browser, Planter(busy[1]), vehicle) == set()


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_a_moved_label_is_found(
    share: float, busy: tuple[str, str], browser: Browser, vehicle: Vehicle
) -> None:
    """One label laid on the next part's label."""
    planter = Planter(busy[1])
    sheet = browser.measure(*busy)
    labels = [
        (group, [t for t in sheet.texts if sheet.inside(t.group, group.index)])
        for group in sheet.with_class("label")
    ]
    labels = [(group, texts) for group, texts in labels if texts]
    index = int(len(labels) * share)
    (group, texts), (_, others) = labels[index], labels[index - 1]
    planter.move(
        planter.groups("label", of=group.data["of"])[0],
        others[0].at[0] - texts[0].at[0],
        others[0].at[1] - texts[0].at[1],
    )
    assert "overlapping texts" in found_in(browser, planter, vehicle)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_a_moved_symbol_is_found(
    share: float, busy: tuple[str, str], browser: Browser, vehicle: Vehicle
) -> None:
    planter = Planter(busy[1])
    parts = planter.groups("part")
    planter.move(parts[int(len(parts) * share)], 0.7, 0.7)
    assert found_in(browser, planter, vehicle) & {
        "wire end off its terminal",
        "terminal away from its symbol",
    }


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_wire_off_its_terminal_is_found(
    share: float, busy: tuple[str, str], browser: Browser, vehicle: Vehicle
) -> None:
    planter = Planter(busy[1])
    wires = planter.groups("wire")
    planter.move(wires[int(len(wires) * share)], 0.0, 0.5)
    assert "wire end off its terminal" in found_in(browser, planter, vehicle)


def test_a_deleted_wire_is_found(
    svgs: list[tuple[str, str]], browser: Browser, sheets: list[Sheet], vehicle: Vehicle
) -> None:
    name, svg = svgs[len(svgs) // 2]
    planter = Planter(svg)
    wire = planter.groups("wire")[0]
    planter.delete(wire)
    others = [sheet for sheet in sheets if sheet.name != name]
    report = judged([*others, browser.measure(name, planter.svg())], vehicle)
    assert [f.subject for f in report.of("wire not drawn")] == [wire.get("data-wire")]


def test_a_wire_drawn_twice_is_found(
    busy: tuple[str, str], browser: Browser, vehicle: Vehicle
) -> None:
    planter = Planter(busy[1])
    planter.repeat(planter.groups("wire")[3])
    assert found_in(browser, planter, vehicle) == {"wire drawn twice"}


def test_a_part_off_the_page_is_found(
    busy: tuple[str, str], browser: Browser, vehicle: Vehicle
) -> None:
    planter = Planter(busy[1])
    planter.move(planter.groups("part")[0], -500.0, 0.0)
    assert "part off the page" in found_in(browser, planter, vehicle)


def test_shrunk_text_is_found(busy: tuple[str, str], browser: Browser) -> None:
    planter = Planter(busy[1])
    text = planter.texts(planter.groups("label")[0])[0]
    text.set("font-size", "1.5")
    sheet = browser.measure("planted", planter.svg())
    assert min(t.capital_mm for t in sheet.texts) < LETTER_MM
