"""The SVG writer, page furniture, marks and text metrics."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence
from pathlib import Path as FilePath

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageFont

from harnessdsl.drawing.block import PORT_PITCH_MM
from harnessdsl.drawing.furniture import (
    PAGE_SIZES_MM,
    Legend,
    TitleBlock,
    frame,
    rail,
    standard_cautions,
    track_strip,
)
from harnessdsl.drawing.marks import (
    Mark,
    earth_mark,
    plug_mark,
    reference_mark,
    splice_mark,
)
from harnessdsl.drawing.scene import (
    Circle,
    Group,
    Image,
    Page,
    Path,
    Polyline,
    Rect,
    Shape,
    Style,
    Text,
)
from harnessdsl.drawing.svg import clean, number, render_svg
from harnessdsl.drawing.text_metrics import (
    SMALL_MM,
    Box,
    shorten,
    text_box,
    text_width,
    wrap,
)

SVG = "{http://www.w3.org/2000/svg}"


def page(*shapes: Shape, title: str = "") -> Page:
    return Page("sheet", 100.0, 50.0, shapes, title)


def parsed(*shapes: Shape, title: str = "") -> ElementTree.Element:
    return ElementTree.fromstring(render_svg(page(*shapes, title=title)).encode("utf-8"))


NASTY = "<script>alert('1')</script> & \"quoted\" ]]> \x00\x1b\x85 \ud800 \uffff \u202e end"


def test_size_is_millimetres_on_paper() -> None:
    root = parsed()
    assert root.get("width") == "100mm"
    assert root.get("height") == "50mm"
    assert root.get("viewBox") == "0 0 100 50"


def test_text_is_text_and_user_text_is_harmless() -> None:
    group = Group((Text(1, 2, NASTY),), css="part", data={"part": NASTY}, title=NASTY)
    root = parsed(group, title=NASTY)
    text = root.find(f".//{SVG}text")
    assert text is not None and text.text is not None
    assert "<script>" in text.text and "end" in text.text
    assert root.findall(f".//{SVG}script") == []
    part = root.find(f".//{SVG}g[@class='part']")
    assert part is not None
    assert part.get("data-part") == text.text
    title = part.find(f"{SVG}title")
    assert title is not None and title.text == text.text
    assert not set(text.text) & {"\x00", "\x1b", "\x85", "\ud800", "\uffff", "\u202e"}


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text(max_size=30), st.text(max_size=10))
def test_any_text_gives_well_formed_xml(text: str, key: str) -> None:
    root = parsed(Group((Text(0, 0, text),), data={key: text}, title=text))
    found = root.find(f".//{SVG}text")
    assert found is not None
    assert (found.text or "") == clean(text)
    assert all(re.fullmatch(r"data-[a-z0-9-]+|class|transform", k) for k in _group_keys(root))


def _group_keys(root: ElementTree.Element) -> list[str]:
    return [k for g in root.findall(f".//{SVG}g") if g.get("class") != "sheet" for k in g.attrib]


def test_shapes_keep_their_geometry() -> None:
    root = parsed(
        Polyline(((0, 0), (1.23456, -0.0001)), Style("#ff0000", 0.5, dash_mm=(1, 0.5))),
        Polyline(((0, 0), (1, 0), (1, 1)), closed=True),
        Rect(1, 2, 3, 4, radius_mm=0.5),
        Circle(1, 2, 3, Style(fill="#00ff00")),
        Path("M 0 0 A 1.00049 1 0 0 1 2 2"),
        Group((Text(5, 6, "x", 3.0, "middle", -90, True, True, "#112233"),), shift=(1.5, 2)),
    )
    line = root.find(f".//{SVG}polyline")
    assert line is not None
    assert line.get("points") == "0,0 1.235,0"
    assert line.get("stroke") == "#ff0000"
    assert line.get("stroke-dasharray") == "1 0.5"
    assert root.find(f".//{SVG}polygon") is not None
    path = root.find(f".//{SVG}path")
    assert path is not None and path.get("d") == "M 0 0 A 1 1 0 0 1 2 2"
    text = root.find(f".//{SVG}text")
    assert text is not None
    assert text.get("transform") == "rotate(-90 5 6)"
    assert text.get("text-anchor") == "middle"
    assert text.get("font-weight") == "bold"
    group = root.find(f".//{SVG}g[@transform]")
    assert group is not None and group.get("transform") == "translate(1.5 2)"


def test_numbers_have_three_decimals_at_most() -> None:
    assert number(1.0) == "1"
    assert number(-0.00001) == "0"
    assert number(2 / 3) == "0.667"
    assert number(1e6) == "1000000"
    with pytest.raises(ValueError, match="no place on paper"):
        number(float("nan"))


def test_attributes_and_data_keep_one_order() -> None:
    one = Group((Text(0, 0, "x"),), data={"b": "2", "a": "1"})
    two = Group((Text(0, 0, "x"),), data={"a": "1", "b": "2"})
    assert render_svg(page(one)) == render_svg(page(two))


@pytest.mark.parametrize(
    "href",
    ["javascript:alert(1)", "/etc/passwd", "\\\\host\\x", "file:///x", "data:text/html;base64,AA"],
)
def test_pictures_from_elsewhere_are_refused(href: str) -> None:
    with pytest.raises(ValueError, match="picture"):
        render_svg(page(Image(0, 0, 1, 1, href)))


def test_pictures_embedded_or_beside_the_drawing_are_taken() -> None:
    for href in ("photos/box.jpg", "data:image/png;base64,iVBORw0KGgo="):
        assert href in render_svg(page(Image(0, 0, 1, 1, href)))


def test_colour_that_is_none_of_ours_is_refused() -> None:
    with pytest.raises(ValueError, match="no colour"):
        render_svg(page(Circle(0, 0, 1, Style(fill="url(#x)"))))


# ---- text metrics against real fonts

FONTS = [
    path
    for name in ("DejaVuSans", "DejaVuSans-Bold", "LiberationSans-Regular", "LiberationSans-Bold")
    for path in FilePath("/usr/share/fonts").rglob(f"{name}.ttf")
]


@pytest.mark.skipif(not FONTS, reason="none of the fonts of the stack is installed here")
@pytest.mark.parametrize("path", FONTS, ids=lambda path: path.stem)
def test_no_font_of_the_stack_is_wider_or_taller_than_the_table(path: FilePath) -> None:
    font = ImageFont.truetype(str(path), 1000)
    bold = path.stem.endswith("Bold")
    for text in ("Radiator fan relay", "WWWW", "56a", "4 RD/YE", "Größe µΩ°", "→ 2/14", "ÅÉŸ", "…"):
        assert font.getlength(text) / 1000 <= text_width(text, 1.0, bold) + 1e-6
        _, top, _, bottom = font.getbbox(text, anchor="ls")
        _, y0, _, y1 = text_box(Text(0, 0, text, 1.0, bold=bold))
        assert y0 <= top / 1000 and bottom / 1000 <= y1


def test_turned_text_fills_the_turned_box() -> None:
    flat = text_box(Text(10, 20, "abc", 2.0))
    up = text_box(Text(10, 20, "abc", 2.0, rotate_deg=-90))
    assert up[2] - up[0] == pytest.approx(flat[3] - flat[1])
    assert up[3] - up[1] == pytest.approx(flat[2] - flat[0])
    assert up[3] == pytest.approx(20) and up[2] > 10 > up[0]


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text(max_size=60), st.floats(8, 60), st.integers(1, 3))
def test_wrapped_lines_fit(text: str, width: float, lines: int) -> None:
    found = wrap(text, 2.5, width, lines)
    assert len(found) <= lines
    assert all(text_width(line, 2.5) <= width + 1e-9 for line in found if len(line) > 1)
    if text_width(" ".join(text.split()), 2.5) <= width:
        assert found == ((" ".join(text.split()),) if text.split() else ())
    assert text_width(shorten(text, 2.5, width), 2.5) <= width + 1e-9 or len(text) < 2


# ---- furniture and marks


def boxes(shapes: Sequence[Shape], dx: float = 0.0, dy: float = 0.0) -> Iterator[tuple[str, Box]]:
    for shape in shapes:
        if isinstance(shape, Group):
            yield from boxes(shape.shapes, dx + shape.shift[0], dy + shape.shift[1])
        elif isinstance(shape, Text):
            x0, y0, x1, y1 = text_box(shape)
            yield shape.text, (x0 + dx, y0 + dy, x1 + dx, y1 + dy)


def overlap(a: Box, b: Box) -> bool:
    return min(a[2], b[2]) - max(a[0], b[0]) > 0.05 and min(a[3], b[3]) - max(a[1], b[1]) > 0.05


FULL = TitleBlock(
    vehicle="Brackwater Tourer estate",
    circuit="Headlamps, side lamps, fog lamps and everything else that shines to the front",
    build="changeover cars, chassis 41200 on, with the other loom behind the dash",
    sheet=3,
    sheets=21,
    date="2026-03-14",
    drawn_by="Ilse and a friend with a long name",
    notes="Second-hand loom; left wing repaired",
    supply="12 V, negative earth",
    tracks="145-168",
)


@pytest.mark.parametrize("size", PAGE_SIZES_MM)
@pytest.mark.parametrize("title", [FULL, TitleBlock("", "")], ids=["full", "empty"])
def test_frame_keeps_to_the_paper_and_its_texts_apart(size: str, title: TitleBlock) -> None:
    every = Legend(("BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH"), True, True, True)
    cautions = standard_cautions(
        frozenset({"battery", "fuse", "ignition"}), frozenset({"fuel", "fan", "airbag", "Sharp!"})
    )
    for legend, warnings in ((every, cautions), (Legend(), ())):
        sheet = frame(size, title, legend, warnings)
        width, height = PAGE_SIZES_MM[size]
        texts = list(boxes(sheet.shapes))
        for (one, a), (two, b) in itertools.combinations(texts, 2):
            assert not overlap(a, b), (one, two)
        x0, y0, x1, y1 = sheet.area
        assert 0 < x0 < x1 < width and 0 < y0 < y1 < height
        assert y1 - y0 > height * 0.55, "too little is left for the drawing"
        for text, box in texts:
            assert box[0] >= 5 and box[1] >= 5 and box[2] <= width - 5 and box[3] <= height - 5
            assert not overlap(box, sheet.area), text


def test_paper_sizes_are_those_of_iso_216() -> None:
    assert sorted(PAGE_SIZES_MM["A4"]) == [210, 297]
    assert sorted(PAGE_SIZES_MM["A3"]) == [297, 420]
    with pytest.raises(KeyError):
        frame("A9", FULL)


def test_title_block_says_what_it_was_given_and_no_date_of_its_own() -> None:
    texts = " ".join(text for text, _ in boxes(frame("A3", FULL).shapes))
    for word in ("Brackwater", "2026-03-14", "3 / 21", "145-168", "negative earth", "Ilse"):
        assert word in texts
    empty = " ".join(text for text, _ in boxes(frame("A3", TitleBlock("", "")).shapes))
    assert re.search(r"\d{4}-\d\d", empty) is None


def test_cautions_come_with_what_they_are_about() -> None:
    assert any("same rating" in text for text in standard_cautions(frozenset({"fuse"})))
    assert any("igniter" in t for t in standard_cautions(frozenset(), frozenset({"airbag"})))
    assert any("earth lead" in t for t in standard_cautions(frozenset({"battery"})))
    assert "Mind the edge" in standard_cautions(frozenset(), frozenset({"Mind the edge"}))
    (only,) = standard_cautions(frozenset({"lamp"}))
    assert "maker" in only


def test_rail_name_stands_left_of_the_rail() -> None:
    for name in ("30", "31", "15", "58d", "15/54"):
        for text, box in boxes(rail(name, 20, 100, 10)):
            assert text == name
            assert box[2] <= 19 and box[1] < 10 < box[3]


def test_track_numbers_run_on_without_touching() -> None:
    shapes = track_strip(12, 100, 10, 118, 12)
    texts = list(boxes(shapes))
    assert [text for text, _ in texts] == [str(n) for n in range(118, 130)]
    for (_, a), (_, b) in itertools.pairwise(texts):
        assert not overlap(a, b)
    assert track_strip(12, 100, 10, 1, 0) == ()


MARKS = {
    "plug": plug_mark("X5", "1"),
    "plug, long": plug_mark("X12", "14", "a", "female"),
    "splice": splice_mark("J3"),
    "earth": earth_mark("E2"),
    "earth on engine": earth_mark("E7", "engine"),
    "goes on": reference_mark("2/14"),
    "comes in": reference_mark("2/14\nA3.51", "in", "top"),
}


@pytest.mark.parametrize("name", MARKS)
def test_marks_stay_in_their_boxes(name: str) -> None:
    mark: Mark = MARKS[name]
    texts = list(boxes(mark.shapes))
    for _, box in texts:
        assert mark.box[0] <= box[0] + 1e-6 and box[2] <= mark.box[2] + 1e-6
        assert mark.box[1] <= box[1] + 1e-6 and box[3] <= mark.box[3] + 1e-6
    for (one, a), (two, b) in itertools.combinations(texts, 2):
        assert not overlap(a, b), (one, two)
    for shape in mark.shapes:
        assert not isinstance(shape, Text) or shape.size_mm >= SMALL_MM
    assert mark.joins


def test_plugs_on_neighbouring_wires_do_not_touch() -> None:
    """Two wires at the least distance, each with a plug and its text to the left."""
    mark = plug_mark("X12", "14")
    (body,) = mark.solid
    assert body[2] <= PORT_PITCH_MM + mark.box[0] + 0.05
