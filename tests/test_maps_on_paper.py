"""Run, damage and place sheets, and other sizes of paper, judged from the SVG."""

from __future__ import annotations

from pathlib import Path

import pytest
from svg_checker.browser import Browser, BrowserMissing, shared_browser
from svg_checker.maps import check_map
from svg_checker.page import check_page, check_texts, smallest_text

from harnessdsl.drawing.maps import (
    Pictures,
    boxes,
    draw_box,
    draw_connector,
    draw_damage,
    draw_maps,
    draw_place,
    draw_runs,
)
from harnessdsl.drawing.scene import Page
from harnessdsl.drawing.svg import render_svg
from harnessdsl.model.bundles import damaged_at
from harnessdsl.model.layout_shelf import load_layout
from harnessdsl.pipeline import load

DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
VEHICLE = load(DEMO).vehicle
LAYOUT = load_layout(VEHICLE.body, DEMO.parent).layout
SMALLEST_MM = 1.8


@pytest.fixture(scope="module")
def browser() -> Browser:
    try:
        return shared_browser()
    except BrowserMissing as missing:
        pytest.skip(str(missing))


def sheets(size: str) -> list[Page]:
    assert LAYOUT is not None
    pages = draw_runs(VEHICLE, LAYOUT, page_size=size)
    for spot in ("left-b-post", "dash-box", "main"):
        pages += draw_damage(VEHICLE, LAYOUT, damaged_at(VEHICLE, spot), page_size=size)
    for place in [*list(VEHICLE.places)[::12], "dash-box"]:
        pages += draw_place(VEHICLE, LAYOUT, place, pictures=Pictures(), page_size=size)
    if size != "A4":
        pages += draw_maps(VEHICLE, LAYOUT, page_size=size)
        pages += draw_maps(VEHICLE, LAYOUT, highlight="turn-signals", page_size=size)
        for box in boxes(VEHICLE):
            pages += draw_box(VEHICLE, box, page_size=size)
        for plug in ("X1", "X15"):
            pages += draw_connector(VEHICLE, plug, page_size=size)
    return pages


@pytest.mark.parametrize("size", ["A4", "A4-portrait", "A3"])
def test_nothing_touches_and_nothing_leaves_the_sheet(size: str, browser: Browser) -> None:
    wrong = []
    pages = sheets(size)
    assert len(pages) >= 10
    for page in pages:
        sheet = browser.measure(page.name, render_svg(page))
        wrong += check_map(sheet) + check_texts(sheet) + check_page(sheet)
        assert smallest_text([sheet])[0] >= SMALLEST_MM
    assert wrong == [], "\n".join(map(str, wrong[:20]))
