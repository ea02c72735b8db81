"""Locator maps, box views and connector faces, judged from the SVG by the independent checker."""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import pytest
from svg_checker.browser import Browser, BrowserMissing, shared_browser
from svg_checker.findings import Finding
from svg_checker.maps import call_outs, check_map, leaders, marks
from svg_checker.page import check_page, check_texts, smallest_text
from svg_checker.planting import Planter

from harnessdsl.drawing.maps.box_view import draw_box
from harnessdsl.drawing.maps.connector_face import draw_connector
from harnessdsl.drawing.maps.map_pages import draw_maps
from harnessdsl.drawing.scene import Page
from harnessdsl.drawing.svg import render_svg
from harnessdsl.model.layout import Layout
from harnessdsl.model.layout_shelf import layout_names, load_layout
from harnessdsl.model.vehicle import Place, Vehicle
from harnessdsl.pipeline import load

DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
LETTER_MM = 1.8
"""Height of capitals: the smallest size of lettering in ISO 3098 (from memory)."""
PLACES = 60


@pytest.fixture(scope="module")
def browser() -> Browser:
    try:
        return shared_browser()
    except BrowserMissing as missing:
        pytest.skip(str(missing))


@pytest.fixture(scope="module")
def vehicle() -> Vehicle:
    return load(DEMO).vehicle


@pytest.fixture(scope="module")
def layout(vehicle: Vehicle) -> Layout:
    found = load_layout(vehicle.body, DEMO.parent).layout
    assert found is not None
    return found


def findings(browser: Browser, pages: Sequence[Page]) -> tuple[list[Finding], int]:
    """Return what is wrong on the pages, and how many leaders they have."""
    wrong: list[Finding] = []
    count = 0
    for page in pages:
        sheet = browser.measure(page.name, render_svg(page))
        wrong += check_map(sheet) + check_texts(sheet) + check_page(sheet)
        assert smallest_text([sheet])[1] >= LETTER_MM
        # each call-out has a leader and each leader a mark
        assert len(leaders(sheet)) == len(call_outs(sheet)) == len(marks(sheet))
        count += len(leaders(sheet))
    return wrong, count


def test_the_map_of_the_demo(vehicle: Vehicle, layout: Layout, browser: Browser) -> None:
    wrong, count = findings(browser, draw_maps(vehicle, layout))
    assert wrong == [], "\n".join(map(str, wrong[:20]))
    assert count >= len([p for p in vehicle.places.values() if p.position_mm])


def test_the_map_of_each_circuit(vehicle: Vehicle, layout: Layout, browser: Browser) -> None:
    wrong: list[Finding] = []
    for name in vehicle.circuits:
        found, count = findings(browser, draw_maps(vehicle, layout, highlight=name))
        assert count > 0, name
        wrong += found
    assert wrong == [], "\n".join(map(str, wrong[:20]))


def test_the_boxes_of_the_demo(vehicle: Vehicle, browser: Browser) -> None:
    boxes = [place.name for place in vehicle.places.values() if place.slots]
    assert len(boxes) >= 3
    wrong: list[Finding] = []
    for box in boxes:
        wrong += findings(browser, draw_box(vehicle, box))[0]
    assert wrong == [], "\n".join(map(str, wrong[:20]))


def test_the_plugs_of_the_demo(vehicle: Vehicle, browser: Browser) -> None:
    plugs = [part.name for part in vehicle.parts.values() if part.connector is not None]
    assert len(plugs) >= 25
    wrong: list[Finding] = []
    for plug in plugs:
        wrong += findings(browser, draw_connector(vehicle, plug))[0]
    assert wrong == [], "\n".join(map(str, wrong[:20]))


def crowded(layout: Layout) -> Vehicle:
    """A vehicle with PLACES places at random in the zones of a body, the same at each run."""
    chance = random.Random(f"places of {layout.name}")
    zones = list(layout.zones.values())
    places = {}
    for number in range(PLACES):
        zone = zones[number % len(zones)]
        at = tuple(
            round(chance.uniform(low, high))
            for low, high in zip(zone.least_mm, zone.greatest_mm, strict=True)
        )
        name = f"place-{number + 1}"
        position_mm = (float(at[0]), float(at[1]), float(at[2]))
        places[name] = Place(name, f"Somewhere in the {zone.label}", position_mm)
    return Vehicle("Sixty places", places=places)


@pytest.mark.parametrize("name", layout_names())
def test_every_body_with_sixty_places(name: str, browser: Browser) -> None:
    layout = load_layout(name, Path("nowhere")).layout
    assert layout is not None
    wrong, count = findings(browser, draw_maps(crowded(layout), layout))
    assert wrong == [], "\n".join(map(str, wrong[:20]))
    assert count == PLACES * len(layout.views)


# ------------------------------------------------------------------------------ planted defects


@pytest.fixture(scope="module")
def whole_map(vehicle: Vehicle, layout: Layout) -> str:
    return render_svg(draw_maps(vehicle, layout)[0])


def planted(browser: Browser, planter: Planter) -> set[str]:
    sheet = browser.measure("planted", planter.svg())
    return {f.what for f in check_map(sheet) + check_texts(sheet) + check_page(sheet)}


def test_a_moved_place_is_found(whole_map: str, browser: Browser) -> None:
    planter = Planter(whole_map)
    leader = planter.groups("leader")[5]
    (mark,) = planter.groups("place", place=leader.get("data-place"), view=leader.get("data-view"))
    planter.move(mark, 2.5, 0.0)
    assert planted(browser, planter) == {"leader off its place"}


def test_a_moved_call_out_is_found(whole_map: str, browser: Browser) -> None:
    planter = Planter(whole_map)
    planter.move(planter.groups("callout")[5], 3.0, 0.0)
    assert "call-outs on each other" in planted(browser, planter)


def test_a_call_out_on_a_leader_is_found(whole_map: str, browser: Browser) -> None:
    planter = Planter(whole_map)
    planter.move(planter.groups("callout")[5], 0.0, 9.0)
    planter.move(planter.groups("callout")[6], 0.0, -9.0)
    assert "leader through another's text" in planted(browser, planter) or (
        "call-outs on each other" in planted(browser, planter)
    )


def test_a_lost_leader_is_found(whole_map: str, browser: Browser) -> None:
    planter = Planter(whole_map)
    planter.delete(planter.groups("leader")[5])
    assert planted(browser, planter) == {"call-out without a leader"}
