"""The checker of drawings finds what is planted: on a small sheet written by hand."""

from __future__ import annotations

import math

import pytest
from svg_checker.browser import Browser, BrowserMissing, MeasureError, shared_browser
from svg_checker.dot_reference import dot_crossings
from svg_checker.geometry import overlap_depth, shrink, trimmed
from svg_checker.maps import check_map
from svg_checker.path_data import sub_paths
from svg_checker.report import Report, check_schematics

WIRES = {
    "W1": ("F1.2", "K1.30"),
    "W2": ("K1.87", "E1.a"),
    "W3": ("F2.2", "E2.a"),
    "W4": ("E1.31", "E9"),
}

PARTS = {
    "F1": '<g class="part" data-part="F1"><rect x="38" y="30" width="4" height="8"/>'
    '<path d="M40 28 V40"/>'
    '<g class="terminal" data-node="F1.2"><circle cx="40" cy="40" r="0.4"/></g></g>'
    '<g class="label" data-of="F1"><text x="44" y="34">F1 15 A</text></g>',
    "F2": '<g class="part" data-part="F2"><rect x="98" y="30" width="4" height="8"/>'
    '<path d="M100 28 V40"/>'
    '<g class="terminal" data-node="F2.2"><circle cx="100" cy="40" r="0.4"/></g></g>'
    '<g class="label" data-of="F2"><text x="104" y="34">F2 10 A</text></g>',
    "K1": '<g class="part" data-part="K1" transform="translate(60 70)">'
    '<path d="M0 0 V3 L2 9 M0 10 V14"/>'
    '<rect x="-10" y="3" width="6" height="4"/>'
    '<g class="terminal" data-node="K1.30"><circle r="0.4"/></g>'
    '<g class="terminal" data-node="K1.87"><circle r="0.4" cy="14"/></g>'
    '<text x="1.5" y="-1">30</text></g>'
    '<g class="label" data-of="K1"><text x="66" y="76">K1</text>'
    '<text x="66" y="79.5">Fan relay</text></g>',
    "E1": '<g class="part" data-part="E1"><circle cx="60" cy="120" r="4"/>'
    '<path d="M57.2 117.2 L62.8 122.8 M57.2 122.8 L62.8 117.2 M60 112 V116 M60 124 V128"/>'
    '<g class="terminal" data-node="E1.a"><circle cx="60" cy="112" r="0.4"/></g>'
    '<g class="terminal" data-node="E1.31"><circle cx="60" cy="128" r="0.4"/></g></g>'
    '<g class="label" data-of="E1"><text x="66" y="121">E1</text></g>',
    "E2": '<g class="part" data-part="E2"><circle cx="20" cy="120" r="4"/><path d="M20 112 V116"/>'
    '<g class="terminal" data-node="E2.a"><circle cx="20" cy="112" r="0.4"/></g></g>'
    '<g class="label" data-of="E2"><text x="26" y="121">E2</text></g>',
    "E9": '<g class="earth" data-node="E9"><path d="M56 150 H64"/>'
    '<g class="terminal" data-node="E9"><circle cx="60" cy="150" r="0.4"/></g>'
    '<text x="62" y="155">E9</text></g>',
}


def drawn_wire(name: str, d: str, label: str = "") -> str:
    a, b = WIRES[name]
    return (
        f'<g class="wire" data-wire="{name}" data-from="{a}" data-to="{b}">'
        f'<path d="{d}" stroke="#333" stroke-width="1.1"/>'
        f'<path d="{d}" stroke="#c00" stroke-width="0.8"/>'
        f'<path d="{d}" stroke="#fd0" stroke-width="0.3" stroke-dasharray="1 1"/></g>{label}'
    )


# W3 crosses W1 with a hop (a half circle) on its way to the left; W1 has two bends, W3 two
LINES = {
    "W1": drawn_wire("W1", "M40 40 V60 H60 V70"),
    "W2": drawn_wire(
        "W2",
        "M60 84 V112",
        '<g class="wire-label" data-of="W2"><text transform="translate(58.5 105) rotate(-90)">'
        "1.5 RD/YE</text></g>",
    ),
    "W3": drawn_wire("W3", "M100 40 V50 H41 A1 1 0 0 0 39 50 H20 V112"),
    "W4": drawn_wire("W4", "M60 128 V150"),
}


def sheet_svg(parts: dict[str, str] | None = None, lines: dict[str, str] | None = None) -> str:
    pieces = "".join((parts or PARTS).values()) + "".join((lines or LINES).values())
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm" viewBox="0 0 210 297"'
        ' font-family="DejaVu Sans, Arial, sans-serif" font-size="2.6">'
        "<style>.part, .earth, .frame { fill: none; stroke: #000; stroke-width: 0.3 }"
        " .wire { fill: none } text { fill: #000; stroke: none }</style>"
        '<rect width="210" height="297" fill="#fff"/>'
        f'<g class="frame"><rect x="10" y="10" width="190" height="277"/></g>{pieces}</svg>'
    )


@pytest.fixture(scope="module")
def browser() -> Browser:
    try:
        return shared_browser()
    except BrowserMissing as missing:
        pytest.skip(str(missing))


def report_of(browser: Browser, *svgs: str) -> Report:
    sheets = browser.measure_all([(f"sheet {i}", svg) for i, svg in enumerate(svgs, 1)])
    return check_schematics(sheets, WIRES)


def test_a_sound_sheet_has_no_findings(browser: Browser) -> None:
    report = report_of(browser, sheet_svg())
    assert report.counts() == {}
    assert [crossing.at for _, crossing in report.crossings] == [pytest.approx((40, 50))]
    assert {wire.name: wire.bends for wire in report.wires} == {"W1": 2, "W2": 0, "W3": 2, "W4": 0}
    assert report.smallest_font_mm == pytest.approx(2.6, abs=0.01)


def test_text_is_measured_where_the_browser_paints_it(browser: Browser) -> None:
    """A turned text's box stands upright, and its length is that of the same text lying."""
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="50mm" viewBox="0 0 200 100"'
        ' font-family="DejaVu Sans" font-size="5"><text x="20" y="30">RD/YE</text>'
        '<text transform="translate(100 60) rotate(-90)">RD/YE</text></svg>'
    )
    lying, standing = browser.measure("two texts", svg).texts
    assert lying.ink[0][0] == pytest.approx(10, abs=0.6)  # 20 units of half a millimetre
    assert lying.size_mm == standing.size_mm == 2.5

    def sides(box: tuple[tuple[float, float], ...]) -> tuple[float, float]:
        return math.dist(box[0], box[1]), math.dist(box[0], box[3])

    assert sides(standing.box) == pytest.approx(sides(lying.box), abs=0.05)
    assert standing.box[0][0] == pytest.approx(standing.box[1][0], abs=1e-3)
    assert standing.box[0][1] > standing.box[1][1]


# ------------------------------------------------------------------------------ planted defects


def planted(part: str = "", old: str = "", new: str = "", **lines: str) -> str:
    parts = dict(PARTS)
    if part:
        assert old in parts[part]
        parts[part] = parts[part].replace(old, new)
    return sheet_svg(parts, {k: v for k, v in (LINES | lines).items() if v})


DEFECTS = {
    # what is planted: the sheet, the finding that must come, others that may follow from it
    "a label moved onto another label": (
        planted("E1", 'x="66" y="121"', 'x="67" y="77"'),
        "overlapping texts",
        set(),
    ),
    "text over text, partly": (
        planted("K1", 'y="79.5"', 'y="77.2"'),
        "overlapping texts",
        set(),
    ),
    "a label moved onto another symbol": (
        planted("F1", 'x="44" y="34"', 'x="90" y="38"'),
        "text on a foreign symbol",
        set(),
    ),
    "a label inside another's closed outline": (
        planted("F1", '<text x="44" y="34">F1 15 A', '<text x="62" y="120.6" font-size="1.5">F'),
        "text on a foreign symbol",
        set(),
    ),
    "a label moved onto a wire": (
        planted("F2", 'x="104" y="34"', 'x="96" y="46"'),
        "text on a foreign wire",
        set(),
    ),
    "a wire label struck through by its wire": (
        planted(W2=LINES["W2"].replace("58.5 105", "60.8 105")),
        "text struck through by its own wire",
        set(),
    ),
    "a terminal number struck through by its symbol": (
        planted("K1", '<text x="1.5" y="-1">30', '<text x="-0.9" y="3">30'),
        "text struck through by its own symbol",
        set(),
    ),
    "a symbol moved off its wires": (
        planted("K1", "translate(60 70)", "translate(60 71.5)"),
        "wire end off its terminal",
        {"wire through a symbol"},
    ),
    "a symbol moved onto another": (
        planted("F1", '<rect x="38"', '<rect x="97"'),
        "symbols on each other",
        set(),
    ),
    "a symbol moved into a wire": (
        planted("K1", '<rect x="-10" y="3"', '<rect x="-23" y="-13"'),
        "wire through a symbol",
        set(),
    ),
    "a wire end off its terminal": (
        planted(W2=LINES["W2"].replace("V112", "V111.5")),
        "wire end off its terminal",
        set(),
    ),
    "a wire at the wrong terminal": (
        planted(W2=LINES["W2"].replace('data-from="K1.87"', 'data-from="K1.30"')),
        "wire end off its terminal",
        {"wire between the wrong nodes"},
    ),
    "a wire that says it goes elsewhere": (
        planted(W2=LINES["W2"].replace('data-from="K1.87"', 'data-from="K1.30"')),
        "wire between the wrong nodes",
        {"wire end off its terminal"},
    ),
    "a deleted wire": (planted(W4=""), "wire not drawn", set()),
    "a wire drawn twice": (planted(W5=LINES["W4"]), "wire drawn twice", set()),
    "a wire from nowhere": (
        planted(W5=LINES["W4"].replace('data-wire="W4"', 'data-wire="W77"')),
        "wire that the file does not have",
        set(),
    ),
    "a wire in two pieces": (
        planted(W2=LINES["W2"].replace("M60 84 V112", "M60 84 V95 M60 98 V112")),
        "wire in pieces",
        {"wire end off its terminal", "stray line in a wire"},
    ),
    "a colour that leaves its outline": (
        planted(W2=LINES["W2"].replace("M60 84 V112", "M60 84 V90 H61.5 V100 H60 V112", 1)),
        "stray line in a wire",
        set(),
    ),
    "a wire of the right name that is not painted": (
        planted(W4=drawn_wire("W4", "M60 128 V150").replace("stroke=", "data-stroke=")),
        "wire not drawn",
        {"wire without a line"},
    ),
    "two wires on top of each other": (
        planted(W3=drawn_wire("W3", "M100 40 V60 H20 V112")),
        "wires on top of each other",
        set(),
    ),
    "a wire that ends on a foreign wire": (
        planted(W2=drawn_wire("W2", "M60 84 V100 H20")),
        "wire ends on a foreign wire",
        {"wire end off its terminal"},
    ),
    "a wire through a lamp": (
        planted(W4=drawn_wire("W4", "M60 128 V118 H52 V145 H60 V150")),
        "wire through a symbol",
        set(),
    ),
    "a part off the page": (
        planted("F2", '<rect x="98" y="30"', '<rect x="-3" y="30"'),
        "part off the page",
        set(),
    ),
    "a part over the frame": (
        planted("F2", '<rect x="98" y="30"', '<rect x="198" y="30"'),
        "part off the page",
        set(),
    ),
    "a label off the page": (
        planted("F2", 'x="104" y="34"', 'x="195" y="34"'),
        "text off the page",
        set(),
    ),
    "a hidden label": (
        planted(W9='<rect x="43" y="30" width="20" height="6" style="fill:#fff"/>'),
        "hidden text",
        set(),
    ),
    "mirrored text": (
        planted("E2", '<text x="26" y="121">', '<text transform="translate(35 121) scale(-1 1)">'),
        "mirrored text",
        set(),
    ),
}


@pytest.mark.parametrize("name", DEFECTS)
def test_a_planted_defect_is_found(name: str, browser: Browser) -> None:
    svg, expected, consequences = DEFECTS[name]
    found = set(report_of(browser, svg).counts())
    assert expected in found
    assert found <= {expected} | consequences


def test_shrunk_text_shows_in_the_numbers(browser: Browser) -> None:
    svg = planted("E2", "<text ", '<text font-size="1.2" ')
    report = report_of(browser, svg)
    assert report.smallest_font_mm == pytest.approx(1.2, abs=0.01)
    # a page printed at another size than its drawing shrinks text too
    halved = sheet_svg().replace('width="210mm" height="297mm"', 'width="105mm" height="148.5mm"')
    assert report_of(browser, halved).smallest_font_mm == pytest.approx(1.3, abs=0.01)


def test_a_wire_on_two_sheets_is_drawn_twice(browser: Browser) -> None:
    assert set(report_of(browser, sheet_svg(), sheet_svg()).counts()) == {"wire drawn twice"}


def test_a_hop_and_a_bare_crossing_count_alike(browser: Browser) -> None:
    bare = planted(W3=drawn_wire("W3", "M100 40 V50 H20 V112"))
    assert len(report_of(browser, bare).crossings) == len(report_of(browser, sheet_svg()).crossings)


def test_a_rounded_corner_is_one_bend(browser: Browser) -> None:
    svg = planted(W1=drawn_wire("W1", "M40 40 V58 A2 2 0 0 0 42 60 H58 Q60 60 60 62 V70"))
    wires = {wire.name: wire for wire in report_of(browser, svg).wires}
    assert wires["W1"].bends == 2


def test_what_is_no_drawing_is_refused(browser: Browser) -> None:
    with pytest.raises(MeasureError):
        browser.measure("broken", "<svg><g></svg>")
    with pytest.raises(MeasureError):
        browser.measure("pixels", '<svg xmlns="http://www.w3.org/2000/svg" width="100"/>')


# ---------------------------------------------------------------------------------------- maps

MAP = """<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="148mm" viewBox="0 0 210 148"
 font-family="DejaVu Sans" font-size="3"><g class="place" data-place="left-wing"><circle cx="50"
 cy="60" r="1"/></g><g class="place" data-place="dash-box"><circle cx="90" cy="60" r="1"/></g>
<g class="leader" data-place="left-wing">
<polyline points="50,60 40,30" stroke="#000" fill="none"/></g>
<g class="leader" data-place="dash-box">
<polyline points="90,60 100,30" stroke="#000" fill="none"/></g>
<g class="callout" data-place="left-wing"><text x="30" y="29">1 Left wing</text></g>
<g class="callout" data-place="dash-box"><text x="95" y="29">2 Dash box</text></g></svg>"""

MAP_DEFECTS = {
    "call-outs on each other": MAP.replace('x="95" y="29"', 'x="40" y="29"'),
    "leader off its place": MAP.replace("50,60 40,30", "50,57.5 40,30"),
    "leader through another's text": MAP.replace("90,60 100,30", "90,60 40,28 100,28"),
    "call-out without a leader": MAP.replace('class="leader" data-place="dash-box"', ""),
    "leaders cross": MAP.replace("50,60 40,30", "50,60 96,60 96,35 40,35"),
}


def test_a_sound_map_has_no_findings(browser: Browser) -> None:
    assert check_map(browser.measure("map", MAP)) == []


@pytest.mark.parametrize("what", MAP_DEFECTS)
def test_a_defect_of_a_map_is_found(what: str, browser: Browser) -> None:
    assert what in {f.what for f in check_map(browser.measure("map", MAP_DEFECTS[what]))}


# ------------------------------------------------------------------------------------ geometry


def test_an_arc_runs_through_its_top() -> None:
    """A half circle of radius 1 from (1, 0) to (-1, 0), sweeping over y = 1 (SVG 1.1, 8.3.8)."""
    (path,) = sub_paths("M1 0 A1 1 0 0 1 -1 0")
    assert max(y for _, y in path.points) == pytest.approx(1)
    assert all(math.hypot(*p) == pytest.approx(1) for p in path.points)
    (quarter,) = sub_paths("m2 2 a1 1 0 0 0 -1 -1 l0 -3")
    assert quarter.points[-1] == pytest.approx((1, -2))
    assert quarter.curved.count(False) == 1


def test_turned_boxes_overlap_by_their_depth() -> None:
    square = ((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0))
    turned = ((3.0, 0.0), (4.0, 1.0), (3.0, 2.0), (2.0, 1.0))
    assert overlap_depth(square, turned) == 0
    assert overlap_depth(square, tuple((x - 0.5, y) for x, y in turned)) == pytest.approx(0.5)
    assert shrink(square, 0.5) == ((0.5, 0.5), (1.5, 0.5), (1.5, 1.5), (0.5, 1.5))


def test_a_line_is_trimmed_at_both_ends() -> None:
    assert trimmed([(0, 0), (1, 0), (1, 2)], 1.5, 0.5) == [
        pytest.approx((1, 0.5)),
        pytest.approx((1, 1.5)),
    ]
    assert trimmed([(0, 0), (1, 0)], 0.6, 0.6) == []


# --------------------------------------------------------------------------- the dot reference


def test_dot_cannot_draw_three_by_three_without_a_crossing(browser: Browser) -> None:
    """Three parts each joined to three others (K3,3) have no plane drawing (Kuratowski 1930)."""
    body = ""
    for i in range(6):
        x, y = 30 + 40 * (i % 3), 40 + 80 * (i // 3)
        body += (
            f'<g class="part" data-part="P{i}"><rect x="{x}" y="{y}" width="9" height="9"/>'
            f'<g class="terminal" data-node="P{i}.1"><circle cx="{x}" cy="{y}" r="0.3"/></g></g>'
        )
    for i in range(3):
        for j in range(3, 6):
            body += (
                f'<g class="wire" data-wire="{i}-{j}" data-from="P{i}.1" data-to="P{j}.1">'
                f'<path stroke="#000" d="M{30 + 40 * i} 40 L{30 + 40 * (j - 3)} 120"/></g>'
            )
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="150mm" height="150mm"'
        f' viewBox="0 0 150 150" fill="none">{body}</svg>'
    )
    sheet = browser.measure("K3,3", svg)
    found, edges = dot_crossings(sheet, {})
    assert edges == 9
    assert found
