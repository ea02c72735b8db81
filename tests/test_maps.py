"""Locator maps, boxes, connector faces, runs, damage, photos, and the same as text.

Whether texts and leaders keep clear of one another on paper is judged from the SVG in
test_maps_checked.py; here it is what is drawn and whether it is true.
"""

from __future__ import annotations

import base64
import io
import math
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image

from harnessdsl.diagnostics import render
from harnessdsl.drawing.colours import on_colour
from harnessdsl.drawing.maps import (
    Pictures,
    box_text,
    boxes,
    callouts,
    connector_text,
    damage_text,
    draw_box,
    draw_connector,
    draw_damage,
    draw_maps,
    draw_place,
    draw_runs,
    locate_text,
    map_text,
    runs_text,
)
from harnessdsl.drawing.maps.box_view import housing_colour, slot_contents
from harnessdsl.drawing.maps.callouts import (
    HEIGHT_MM,
    Mark,
    Rows,
    place_callouts,
)
from harnessdsl.drawing.maps.connector_face import face
from harnessdsl.drawing.scene import Circle, Group, Page, Polyline, Rect, Shape, Text
from harnessdsl.drawing.scene import Image as PageImage
from harnessdsl.drawing.svg import render_svg
from harnessdsl.model.bundles import Bundles, damaged_at
from harnessdsl.model.feeds import Feeds
from harnessdsl.model.layout import Layout
from harnessdsl.model.layout_shelf import load_layout
from harnessdsl.model.location import access, find_spots, part_places
from harnessdsl.model.vehicle import Place, Vehicle
from harnessdsl.pipeline import load, load_string
from harnessdsl.text import Span

DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
VEHICLE = load(DEMO).vehicle


def layout_of(name: str) -> Layout:
    found = load_layout(name, DEMO.parent).layout
    assert found is not None
    return found


LAYOUT = layout_of(VEHICLE.body)


def groups(shapes: tuple[Shape, ...]) -> Iterator[Group]:
    for shape in shapes:
        if isinstance(shape, Group):
            yield shape
            yield from groups(shape.shapes)


def on_pages(pages: list[Page], css: str) -> list[Group]:
    return [group for page in pages for group in groups(page.shapes) if css in group.css.split()]


def words(shapes: tuple[Shape, ...]) -> str:
    found = []
    for shape in shapes:
        if isinstance(shape, Text):
            found.append(shape.text)
        elif isinstance(shape, Group):
            found.append(words(shape.shapes))
    return " ".join(found)


def all_words(pages: list[Page]) -> str:
    return " ".join(words(page.shapes) for page in pages)


def vehicle_of(text: str, folder: Path | None = None) -> Vehicle:
    name = str(folder / "car.harness") if folder else "car.harness"
    result = load_string(text, name)
    assert not result.broken, [render(d, result.sources) for d in result.diagnostics]
    return result.vehicle


# --- the map of the demo


@pytest.fixture(scope="module")
def maps() -> list[Page]:
    return draw_maps(VEHICLE, LAYOUT)


def test_every_place_of_the_demo_has_a_call_out_in_both_views(maps: list[Page]) -> None:
    wanted = sorted((name, view) for name in VEHICLE.places for view in ("plan", "side"))
    for css in ("callout", "leader"):
        found = sorted((g.data["place"], g.data["view"]) for g in on_pages(maps, css))
        assert found == wanted


def test_every_part_box_plug_and_earth_is_listed_at_its_place(maps: list[Page]) -> None:
    rows: dict[str, str] = {}
    for row in on_pages(maps, "row"):
        rows[row.data["place"]] = rows.get(row.data["place"], "") + " " + words(row.shapes)
    families = set()
    for part in VEHICLE.parts.values():
        places = part_places(part, VEHICLE)
        assert places, f"{part.name} is nowhere"
        for place in places:
            assert re.search(rf"(?<!\S){re.escape(part.name)}(?!\S)", rows[place]), part.name
        families.add(part.family)
    assert {"connector", "earth", "fuse", "relay"} <= families


def test_marks_lie_where_the_figures_say(maps: list[Page]) -> None:
    """Recomputed from the frame that the drawing states: 1 : n, front and centre line."""
    for page in maps:
        for view in (g for g in groups(page.shapes) if g.css == "view"):
            body = next(g for g in groups(view.shapes) if g.css == "body")
            left, base, scale = (float(body.data[key]) for key in ("left", "base", "scale"))
            for leader in (g for g in groups(view.shapes) if g.css == "leader"):
                x, y, z = VEHICLE.places[leader.data["place"]].position_mm or (0, 0, 0)
                up = y if view.data["view"] == "plan" else z
                line = leader.shapes[0]
                assert isinstance(line, Polyline)
                assert math.dist(line.points[-1], (left + x * scale, base - up * scale)) < 0.05
                # nothing is further from its place than the 2 mm that a reader forgives


def test_numbers_run_from_front_to_rear_and_are_the_same_on_every_sheet(maps: list[Page]) -> None:
    spots = find_spots(VEHICLE, LAYOUT)
    xs = [spot.position_mm[0] for spot in spots if spot.position_mm is not None]
    assert xs == sorted(xs)
    number = {spot.name: str(spot.number) for spot in spots}
    pages = [*maps, *draw_maps(VEHICLE, LAYOUT, highlight="fan")]
    for callout in on_pages(pages, "callout"):
        assert words(callout.shapes) == number[callout.data["place"]]


@pytest.mark.parametrize("circuit", list(VEHICLE.circuits))
def test_a_circuit_is_highlighted_and_nothing_else(circuit: str) -> None:
    pages = draw_maps(VEHICLE, LAYOUT, highlight=circuit)
    named = {g.data["place"] for g in on_pages(pages, "callout")}
    must = {place for name in VEHICLE.circuits[circuit].parts
            for place in part_places(VEHICLE.parts[name], VEHICLE)}
    assert must <= named
    others = {g.data["place"] for g in on_pages(pages, "other")}
    assert named | others == set(VEHICLE.places) and not named & others
    text = all_words(pages)
    for name in VEHICLE.circuits[circuit].parts:
        assert re.search(rf"(?<!\S){re.escape(name)}(?!\S)", text), name


def test_one_part_is_highlighted_with_the_way_to_it() -> None:
    relay = next(p for p in VEHICLE.parts.values() if p.family == "relay" and p.slot)
    pages = draw_maps(VEHICLE, LAYOUT, highlight=relay.name)
    assert {g.data["place"] for g in on_pages(pages, "callout")} == {relay.place}
    text = all_words(pages)
    assert f"slot {relay.slot}" in text
    for step in VEHICLE.places[relay.place].reach:
        assert step.text.split()[0] in text


def test_an_unknown_name_is_no_highlight() -> None:
    with pytest.raises(KeyError):
        draw_maps(VEHICLE, LAYOUT, highlight="nothing-of-that-name")


def test_what_has_no_position_is_listed_not_drawn() -> None:
    vehicle = vehicle_of(
        'vehicle "V" { body saloon-lhd }\nplace a "A" at 100, 0, 500 mm\nplace b "Bee"\n'
        'place far "Far away" at 99000, 0, 500 mm\n'
        'horn H1 "Horn" in b\nhorn H2 "Nowhere"\nhorn H3 "Zoned" zone boot\n')
    pages = draw_maps(vehicle, layout_of("saloon-lhd"))
    assert {g.data["place"] for g in on_pages(pages, "callout")} == {"a", "zone boot"}
    text = words(tuple(on_pages(pages, "unplaced")))
    assert "b: H1" in text and "Place not known: H2" in text and "far" in text
    approximate = next(g for g in on_pages(pages, "callout") if g.data["place"] == "zone boot")
    pill = approximate.shapes[0]
    assert isinstance(pill, Rect) and pill.style.dash_mm  # a broken edge says: roughly
    assert "only its zone is known" in all_words(pages)


def test_names_from_a_stranger_stay_text() -> None:
    evil = '<script>alert(1)</script> & "x'
    vehicle = Vehicle(evil, places={evil: Place(evil, evil, (1.0, 2.0, 3.0))})
    for page in draw_maps(vehicle, LAYOUT):
        svg = render_svg(page)
        assert "<script" not in svg
    assert all(re.fullmatch(r"[\w-]+", page.name)
               for page in draw_maps(vehicle, LAYOUT, highlight=evil))


# --- call-outs: any marks

points = st.tuples(st.floats(0, 170), st.floats(20, 80))


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(points, min_size=1, max_size=60))
def test_call_outs_never_overlap_and_leaders_never_cross(at: list[tuple[float, float]]) -> None:
    marks = [Mark(str(index), str(index), point) for index, point in enumerate(at, 1)]
    rows = Rows(0, 178, 10, 90)
    placed = place_callouts(marks, rows)
    assert [c.mark for c in placed] == marks
    for index, a in enumerate(placed):
        assert rows.x0 <= a.centre[0] - a.width / 2 and a.centre[0] + a.width / 2 <= rows.x1 + 1e-6
        assert a.leader[0] == a.mark.at
        for b in placed[index + 1 :]:
            if a.centre[1] == b.centre[1]:
                assert abs(a.centre[0] - b.centre[0]) >= (a.width + b.width) / 2
            assert not crossing(*a.leader, *b.leader)
        for b in placed:
            if a is not b:
                assert not through(a.leader, b.centre, b.width, HEIGHT_MM)


def test_swapping_alone_parts_all_crossing_leaders(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(callouts, "_keep_clear", lambda *_: False)
    chance = random.Random(7)
    marks = [Mark(str(i), str(i), (chance.uniform(60, 110), chance.uniform(20, 80)))
             for i in range(60)]
    placed = place_callouts(marks, Rows(0, 178, 10, 90))
    by_x = sorted(placed, key=lambda c: c.mark.at)
    assert [c.centre[0] for c in by_x] != sorted(c.centre[0] for c in by_x)  # some were swapped
    assert not any(crossing(*a.leader, *b.leader) for a in placed for b in placed if a is not b)


def crossing(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float],
             d: tuple[float, float]) -> bool:
    def side(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return (side(a, b, c) * side(a, b, d) < -1e-9) and (side(c, d, a) * side(c, d, b) < -1e-9)


def through(leader: tuple[tuple[float, float], tuple[float, float]],
            centre: tuple[float, float], width: float, height: float) -> bool:
    """Sample the leader: is any point of it inside the call-out?"""
    (x0, y0), (x1, y1) = leader
    return any(
        abs(x0 + (x1 - x0) * k / 400 - centre[0]) < width / 2 - 1e-6
        and abs(y0 + (y1 - y0) * k / 400 - centre[1]) < height / 2 - 1e-6 for k in range(401))


def test_more_marks_than_fit_are_refused() -> None:
    marks = [Mark(str(i), str(i), (float(i), 50.0)) for i in range(100)]
    with pytest.raises(ValueError, match="do not fit"):
        place_callouts(marks, Rows(0, 178, 10, 90))


def test_two_hundred_places_take_several_sheets() -> None:
    vehicle = Vehicle("Many", places={
        f"p{i}": Place(f"p{i}", "x", (20.0 * i, 700.0 - 7 * i, 300.0 + 5 * i)) for i in range(200)})
    pages = [page for page in draw_maps(vehicle, LAYOUT) if "index" not in page.name]
    assert len(pages) >= 4
    for page in pages:
        assert len(on_pages([page], "callout")) <= 120
    assert {g.data["place"] for g in on_pages(pages, "callout")} == set(vehicle.places)


# --- boxes

# ISO 8820-3 housing colours: regular and mini blades as sold (amp lists of fuse makers), 35 and
# 40 A and the maxi column from memory of ISO 8820-3 / SAE J1888.
BLADE = {1: "black", 2: "grey", 3: "violet", 4: "pink", 5: "tan", 7.5: "brown", 10: "red",
         15: "blue", 20: "yellow", 25: "clear", 30: "green", 35: "blue-green", 40: "orange"}
MAXI = {20: "yellow", 25: "grey", 30: "green", 35: "brown", 40: "orange", 50: "red", 60: "blue",
        70: "tan", 80: "clear", 100: "violet"}
TORPEDO = {5: "yellow", 8: "white", 16: "red", 25: "blue"}  # DIN 72581-1


@pytest.mark.parametrize("kind,table", [
    ("blade-fuse", BLADE), ("mini-fuse", BLADE), ("maxi-fuse", MAXI), ("torpedo-fuse", TORPEDO)])
def test_fuses_have_the_colour_of_their_kind_and_rating(
    kind: str, table: dict[float, str]
) -> None:
    for rating, name in table.items():
        vehicle = vehicle_of(f'vehicle "V" {{ supply 12 V }}\nplace box "Box" {{ slots 1..2 {kind}'
                             f' }}\n{kind} F1 "F" in box slot 1 {rating:g} A\n')
        colour = housing_colour(vehicle.parts["F1"])
        assert colour is not None and colour.name == name
        (fuse,) = on_pages(draw_box(vehicle, "box"), "fuse")
        body, text = fuse.shapes
        assert isinstance(body, Rect) and body.style.fill == colour.rgb
        assert isinstance(text, Text) and text.text == f"{rating:g} A"
        assert contrast(body.style.fill, text.colour) >= 3.0


def contrast(a: str, b: str) -> float:
    """Contrast ratio by WCAG 2.1, success criterion 1.4.3 (3 : 1 for large or bold type)."""
    def luminance(rgb: str) -> float:
        channels = []
        for at in (1, 3, 5):
            c = int(rgb[at : at + 2], 16) / 255
            channels.append(c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4)
        return 0.2126 * channels[0] + 0.7152 * channels[1] + 0.0722 * channels[2]

    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_fuses_without_a_standard_colour_and_breakers_stay_white() -> None:
    vehicle = vehicle_of('vehicle "V" { supply 12 V }\nplace box "Box" { slots 1..3 glass-fuse }\n'
                         'glass-fuse F1 "F" in box slot 1 10 A\nbreaker F2 "B" in box slot 2 10 A\n'
                         'blade-fuse F3 "Odd" in box slot 3 13 A\n')
    for name in ("F1", "F2", "F3"):
        assert housing_colour(vehicle.parts[name]) is None
    assert on_colour("#ffffff") == "#000000"


@pytest.mark.parametrize("box", boxes(VEHICLE))
def test_every_slot_of_the_demos_boxes_is_drawn_once_with_what_sits_in_it(box: str) -> None:
    pages = draw_box(VEHICLE, box)
    cells = {g.data["slot"]: g for g in on_pages(pages, "slot") if g.data["box"] == box}
    assert len([g for g in on_pages(pages, "slot") if g.data["box"] == box]) == len(cells)
    assert list(cells) == list(VEHICLE.places[box].slots)
    for slot, cell in cells.items():
        inside = [p for p in VEHICLE.parts.values() if p.place == box and p.slot == slot]
        text = words(cell.shapes)
        assert slot in text.split()
        if not inside:
            assert "empty" in cell.css or "unknown" in cell.css
            continue
        (part,) = inside
        assert part.name in text
        assert ("unknown" in cell.css) == (part.family == "unknown")
        rating = part.rating_a()
        if rating is not None and part.family != "unknown":
            assert f"{rating:g} A" in text
    chart = " ".join(words(g.shapes) for g in on_pages(pages, "row"))
    for part in VEHICLE.parts.values():
        if part.place == box:
            assert part.name in chart.replace(";", " ").split()


def test_there_are_three_boxes() -> None:
    assert len(boxes(VEHICLE)) == 3


def test_slots_fill_the_grid_row_by_row_as_seen_from_the_front() -> None:
    box = next(name for name in boxes(VEHICLE) if VEHICLE.places[name].grid_columns == 8)
    rects = []
    for cell in on_pages(draw_box(VEHICLE, box), "slot"):
        frame = cell.shapes[0]
        assert isinstance(frame, Rect)
        rects.append((frame.x, frame.y))
    columns = sorted({round(x, 3) for x, _ in rects})
    rows = sorted({round(y, 3) for _, y in rects})
    assert len(columns) == 8
    assert [(columns.index(round(x, 3)), rows.index(round(y, 3))) for x, y in rects] == [
        (i % 8, i // 8) for i in range(len(rects))]


def test_empty_and_unknown_slots_are_told_apart() -> None:
    vehicle = vehicle_of(
        'vehicle "V" { supply 12 V }\nplace box "Box" { slots 1..3 blade-fuse; slots X\n'
        'slot 2 blade-fuse "Fog" }\nunknown U1 "Green thing" in box slot 3\n')
    states = {c.slot.name: c.state for c in slot_contents(vehicle, "box")[0]}
    assert states == {"1": "empty", "2": "unknown", "3": "unknown", "X": "unknown"}
    text = "\n".join(box_text(vehicle, "box"))
    assert "slot 1 (blade fuse): empty" in text
    assert "lid says: Fog; nobody has looked" in text
    assert "[3 ?]" in text and "U1 Green thing" in text


def test_boxes_in_a_box_follow_it() -> None:
    vehicle = vehicle_of(
        'vehicle "V" { supply 12 V }\nplace box "Box" { slots 1..4 blade-fuse\n'
        'reach "Lid off" 1 min\ncaution "Hot" }\n'
        'place rail "Rail" in box { slots G..J mini-relay\nreach "Swing it out" 2 min }\n'
        'relay K1 "Relay" in rail slot H\n')
    pages = draw_box(vehicle, "box")
    assert {(g.data["box"], g.data["slot"]) for g in on_pages(pages, "slot")} == {
        *(("box", s) for s in "1234"), *(("rail", s) for s in "GHIJ")}
    way = access(vehicle, "rail")
    assert [step[1] for step in way.steps] == ["Lid off", "Swing it out"]
    assert way.minutes == 3 and way.cautions == ("Hot",)
    text = all_words(draw_box(vehicle, "rail"))
    assert "1. Lid off (1 min)" in text and "2. Swing it out (2 min)" in text
    assert "3 minutes in all" in text and "Hot" in text


def test_what_a_fuse_feeds_comes_from_the_wiring_or_from_the_caller() -> None:
    vehicle = vehicle_of(
        'vehicle "V" { supply 12 V negative-earth }\nplace box "Box" { slots 1..2 blade-fuse\n'
        'slots A mini-relay }\nbattery G1 "B"\nblade-fuse F1 "One" in box slot 1 10 A\n'
        'relay K1 "Relay" in box slot A\nhorn H1 "Horn"\nearth E1 "E"\n'
        "wire G1.+ -> F1.1 2.5 mm2 RD\nwire F1.2 -> K1.30 2.5 mm2 RD\nwire F1.2 -> K1.86 1 mm2 RD\n"
        "wire K1.87 -> H1.1 1 mm2 BK\nwire H1.2 -> E1 1 mm2 BN\nwire K1.85 -> E1 1 mm2 BN\n"
        "wire G1.- -> E1 10 mm2 BK\n")
    feeds = Feeds(vehicle)
    assert feeds.fed_by("F1") == ["K1", "H1"] and feeds.fed_by("K1") == ["H1"]
    assert "→ K1 Relay, H1 Horn" in all_words(draw_box(vehicle, "box"))
    mine = draw_box(vehicle, "box", feeds_of=lambda name: ["H1"] if name == "F1" else [])
    assert "→ H1 Horn" in all_words(mine) and "→ K1" not in all_words(mine)


def test_every_wired_fuse_of_the_demo_feeds_something() -> None:
    """A fuse on a switch that another fuse feeds as well (turn signals and hazard) counts too."""
    feeds = Feeds(VEHICLE)
    wired = {end.part for wire in VEHICLE.wires.values() for end in (wire.a, wire.b)}
    for name in feeds.protections():
        if name in wired and "spare" not in VEHICLE.parts[name].flags:
            assert feeds.fed_by(name), name


def test_a_box_of_two_hundred_slots_stays_on_its_sheets() -> None:
    vehicle = vehicle_of('vehicle "V" { supply 12 V }\n'
                         'place box "Box" { slots 1..200 blade-fuse; grid 10 columns }\n')
    pages = draw_box(vehicle, "box")
    for page in pages:
        for cell in on_pages([page], "slot"):
            frame = cell.shapes[0]
            assert isinstance(frame, Rect)
            assert frame.x > 0 and frame.x + frame.width < page.width_mm
            assert frame.y > 0 and frame.y + frame.height < page.height_mm - 20
    assert len(on_pages(pages, "slot")) == 200


def test_a_place_without_slots_is_no_box() -> None:
    with pytest.raises(ValueError):
        draw_box(Vehicle(places={"a": Place("a")}), "a")


# --- connector faces

CONNECTOR = vehicle_of(
    'vehicle "V" { supply 12 V }\nconnector X1 "Five in two rows" 5 way {\n'
    'half a male "loom"\nhalf b female "engine"\nrows 2\n}\n'
    'horn H1 "Horn"\nhorn H2 "Horn"\nwire H1.1 -> X1.1 -> H2.1 1 mm2 RD/WH\n'
    'wire H1.2 -> X1.4 -> H2.2 2.5 mm2 GNYE\n')


def seen_from(half: str, side: str) -> dict[str, tuple[float, float]]:
    """Where each cavity appears, from the geometry of two halves face to face.

    Half a lies in the plane z = 0 with its mating face towards +z; cavities 1 2 3 above 4 5, from
    -x to +x. Half b is plugged onto it: each of its cavities lies at the same x and y, its mating
    face towards -z. Who looks against +z (from above) has +x to the right; who looks along +z
    (from below) has +x to the left.
    """
    space = {"1": (0.0, 1.0), "2": (1.0, 1.0), "3": (2.0, 1.0), "4": (0.0, 0.0), "5": (1.0, 0.0)}
    mating_faces_up = half == "a"
    viewer_above = mating_faces_up == (side == "mating")
    sign = 1.0 if viewer_above else -1.0
    return {cavity: (sign * x, y) for cavity, (x, y) in space.items()}


@pytest.mark.parametrize("half", ["a", "b"])
@pytest.mark.parametrize("side", ["mating", "wire"])
def test_an_asymmetric_face_is_mirrored_as_two_halves_face_to_face_are(
    half: str, side: str
) -> None:
    assert side in ("mating", "wire")
    pages = draw_connector(CONNECTOR, "X1", halves=[half],
                           sides=["mating" if side == "mating" else "wire"])
    drawn: dict[str, tuple[float, float]] = {}
    for cell in on_pages(pages, "cavity"):
        frame = cell.shapes[0]
        assert isinstance(frame, Rect) and cell.data["half"] == half
        drawn[cell.data["cavity"]] = (frame.x, -frame.y)
        assert cell.data["cavity"] in words(cell.shapes).split()
    expected = seen_from(half, side)
    assert set(drawn) == set(expected)
    for a in expected:
        for b in expected:
            for axis in (0, 1):
                want = math.copysign(1, expected[a][axis] - expected[b][axis]) if (
                    expected[a][axis] != expected[b][axis]) else 0
                got = drawn[a][axis] - drawn[b][axis]
                assert (abs(got) < 1e-6) if want == 0 else got * want > 1e-6, (a, b, axis)
    # the key is over cavity 1, wherever one looks from
    (shell,) = on_pages(pages, "shell")
    outline = shell.shapes[0]
    assert isinstance(outline, Polyline)
    top = min(y for _, y in outline.points)
    key_x = [x for x, y in outline.points if y == top]
    middle = (min(x for x, _ in outline.points) + max(x for x, _ in outline.points)) / 2
    first_is_left = expected["1"][0] < expected["3"][0]
    assert (sum(key_x) / len(key_x) < middle) == first_is_left
    assert f"seen from the {side} side" in all_words(pages)


def test_the_back_of_one_half_looks_like_the_front_of_the_other() -> None:
    part = CONNECTOR.parts["X1"]

    def at(half: str, side: str) -> dict[str, tuple[int, int]]:
        seen = face(CONNECTOR, part, half, "mating" if side == "mating" else "wire")
        return {use.cavity: (use.column, use.row) for use in seen}

    assert at("a", "mating") == at("b", "wire") == {
        "1": (0, 0), "2": (1, 0), "3": (2, 0), "4": (0, 1), "5": (1, 1)}
    assert at("a", "wire") == at("b", "mating") == {
        "1": (2, 0), "2": (1, 0), "3": (0, 0), "4": (2, 1), "5": (1, 1)}


def test_wires_are_shown_in_their_colours_and_unused_cavities_as_such() -> None:
    pages = draw_connector(CONNECTOR, "X1", halves=["a"], sides=["mating"])
    cells = {g.data["cavity"]: g for g in on_pages(pages, "cavity")}
    assert [name for name, g in cells.items() if "unused" in g.css] == ["2", "3", "5"]
    discs = [s for s in cells["1"].shapes if isinstance(s, Circle)]
    assert discs[0].style.fill == "#d01f1f"
    assert "RD/WH" in words(cells["1"].shapes) and "1 mm2" in words(cells["1"].shapes)
    assert "GNYE" in words(cells["4"].shapes) and "2.5 mm2" in words(cells["4"].shapes)
    assert "to H1.1 Horn" in all_words(pages)


def test_every_cavity_of_every_plug_of_the_demo_is_drawn() -> None:
    for part in VEHICLE.parts.values():
        if part.connector is None:
            continue
        pages = draw_connector(VEHICLE, part.name, sides=["wire"])
        found = [(g.data["half"], g.data["cavity"]) for g in on_pages(pages, "cavity")]
        halves = ["a"] if part.connector.of else ["a", "b"]
        assert sorted(found) == sorted((h, c) for h in halves for c in part.connector.cavities)


def test_a_plug_of_a_hundred_and_twenty_ways_stays_on_its_sheets() -> None:
    vehicle = vehicle_of('vehicle "V" { supply 12 V }\nconnector X1 "Huge" 120 way { rows 1 }\n')
    pages = draw_connector(vehicle, "X1")
    for page in pages:
        for cell in on_pages([page], "cavity"):
            frame = cell.shapes[0]
            assert isinstance(frame, Rect)
            assert frame.x > 10 and frame.x + frame.width < page.width_mm - 10
            assert frame.y + frame.height < page.height_mm - 20
    assert len(on_pages(pages, "cavity")) == 4 * 120


def test_what_is_no_plug_is_refused() -> None:
    with pytest.raises(ValueError, match="no connector"):
        draw_connector(CONNECTOR, "H1")


def test_the_face_in_text_is_mirrored_alike() -> None:
    lines = connector_text(CONNECTOR, "X1")
    tops = [line.split("|")[1].split() for line in lines if re.search(r"\|.*1.*\|", line)
            and "/" not in line]
    assert tops == [["1", "2", "3"], ["3", "2", "1"], ["3", "2", "1"], ["1", "2", "3"]]
    assert "  a.2  unused" in lines and any("RD/WH 1 mm2 to H1.1" in line for line in lines)


# --- runs and damage


def test_the_branches_of_every_run_are_drawn_and_add_up_to_its_length() -> None:
    pages = draw_runs(VEHICLE, LAYOUT)
    bundles = Bundles(VEHICLE)
    drawn = {(g.data["loom"], g.data["from"], g.data["to"]) for g in on_pages(pages, "branch")}
    for run in VEHICLE.runs.values():
        legs = bundles.legs[run.name]
        assert [(leg.start, leg.end) for leg in legs] == list(
            zip(run.places, run.places[1:], strict=False))
        assert drawn >= {(run.name, leg.start, leg.end) for leg in legs}
        if run.length_m is not None:
            assert math.fsum(leg.length_m or 0 for leg in legs) == pytest.approx(run.length_m)
    assert {g.data["run"] for g in on_pages(pages, "run-callout")} == set(VEHICLE.runs)
    grommets = {place for run in VEHICLE.runs.values() for place in run.grommets}
    assert {g.data["place"] for g in on_pages(pages, "grommet")} == grommets
    text = all_words(pages)
    for run in VEHICLE.runs.values():
        assert f"({run.name})" in text


def independent_wires_at(place: str) -> set[str]:
    """The wires that pass or end at a place, by networkx over the run's branches."""
    found = set()
    for wire in VEHICLE.wires.values():
        ends = []
        for end in (wire.a, wire.b):
            part = VEHICLE.parts[end.part]
            half = part.connector.halves.get(end.half) if part.connector else None
            ends.append(half.place if half is not None and half.place else part.place)
        if place in ends:
            found.add(wire.name)
            continue
        graph = networkx.Graph()
        for run in VEHICLE.runs.values():
            if wire.name not in run.wires:
                continue
            at = [VEHICLE.places[name].position_mm or (0, 0, 0) for name in run.places]
            gaps = [math.dist(a, b) for a, b in pairwise(at)]
            for a, b, gap in zip(run.places, run.places[1:], gaps, strict=False):
                graph.add_edge(a, b, weight=gap * (run.length_m or 1) / sum(gaps))
        joined = all(end in graph for end in ends) and ends[0] != ends[1]
        if joined and networkx.has_path(graph, *ends) and place in networkx.shortest_path(
                graph, *ends, weight="weight"):
            found.add(wire.name)
    return found


HINGES = [name for name, place in VEHICLE.places.items() if "hinge" in place.label]


@pytest.mark.parametrize("place", [*HINGES, "left-bulkhead", "left-sill", "dash-box"])
def test_what_a_damaged_spot_takes_with_it_agrees_with_an_independent_search(place: str) -> None:
    damage = damaged_at(VEHICLE, place)
    assert set(damage.wires) == independent_wires_at(place)
    assert damage.wires
    text = damage_text(VEHICLE, damage)
    count = len(damage.wires) + len(damage.possible)
    assert f"{count} wires, {len(damage.circuits)} circuits" in text[0]
    for circuit in damage.circuits:
        assert any(f"circuit {circuit}" in line for line in text)


def test_a_chafed_door_loom_names_wires_circuits_and_what_to_switch_off() -> None:
    vehicle = vehicle_of(
        'vehicle "V" { supply 12 V negative-earth }\n'
        'place front "F" at 0, 0, 0 mm\nplace hinge "Hinge" at 1000, 0, 0 mm\n'
        'place door "Door" at 1500, 0, 0 mm\nplace other "O" at 1000, 500, 0 mm\n'
        'battery G1 "B" in front\nblade-fuse F1 "F" in front 10 A\nhorn H1 "Horn" in door\n'
        'horn H2 "Lone" in door\nhorn H3 "Elsewhere" in other\nearth E1 "E" in front\n'
        "wire W1 G1.+ -> F1.1 2.5 mm2 RD\n"
        "wire W2 F1.2 -> H1.1 1 mm2 BK via loom\nwire W3 H1.2 -> E1 1 mm2 BN via loom\n"
        "wire W4 G1.+ -> H2.1 1 mm2 RD via loom\nwire W5 F1.2 -> H3.1 1 mm2 BK via side\n"
        "wire W6 G1.- -> E1 10 mm2 BK\n"
        'run loom "Door loom" front -> hinge -> door 3 m\nrun side "Side" front -> other 1 m\n'
        'circuit horn "Horn" { H1 F1 }\ncircuit other "Other" { H3 }\n')
    damage = damaged_at(vehicle, "hinge")
    assert damage.wires == ("W2", "W3", "W4") and damage.possible == ()
    assert damage.circuits == ("horn",)
    assert damage.fuses == ("F1",)
    assert damage.unfused == ("W4",)
    text = "\n".join(damage_text(vehicle, damage))
    assert "live without any fuse" in text and "W4" in text
    assert "pull before touching it: F1" in text
    # 3 m over 1000 + 500 mm: the hinge is 2 m along
    assert damaged_at(vehicle, "loom", 1.9).legs[0].end == "hinge"
    assert damaged_at(vehicle, "loom", 2.1).legs[0].start == "hinge"
    assert damaged_at(vehicle, "loom").wires == ("W2", "W3", "W4")
    with pytest.raises(ValueError, match=r"3\.00 m long, not 4 m"):
        damaged_at(vehicle, "loom", 4)
    with pytest.raises(KeyError):
        damaged_at(vehicle, "nowhere")
    pages = draw_damage(vehicle, LAYOUT, damage)
    assert {g.data["loom"] for g in on_pages(pages, "loom") if "other" not in g.css} == {"loom"}
    assert {g.data["place"] for g in on_pages(pages, "callout")} == {"hinge"}


# --- access, places, photos


def photo_bytes(kind: str, size: tuple[int, int] = (60, 40), **options: object) -> bytes:
    picture = Image.new("RGB", size, (200, 30, 30))
    stream = io.BytesIO()
    picture.save(stream, kind, **options)
    return stream.getvalue()


def with_photo(folder: Path, path: str = "photo.jpg") -> Vehicle:
    text = (f'vehicle "V" {{ body estate-lhd }}\nplace box "Box" at 320, -540, 610 mm {{\n'
            f'photo "{path}" mark 0.25, 0.75\n}}\n')
    (folder / "car.harness").write_text(text, encoding="utf-8")
    result = load(folder / "car.harness")
    assert not result.broken and result.vehicle.places["box"].photo is not None
    return result.vehicle


@pytest.mark.parametrize("kind,name", [("JPEG", "photo.jpg"), ("PNG", "photo.png")])
def test_a_photo_is_embedded_with_its_mark(tmp_path: Path, kind: str, name: str) -> None:
    (tmp_path / name).write_bytes(photo_bytes(kind))
    pictures = Pictures(embed=True)
    pages = draw_place(with_photo(tmp_path, name), LAYOUT, "box", pictures=pictures)
    assert pictures.diagnostics == []
    (photo,) = on_pages(pages, "photo")
    image = next(s for s in photo.shapes if isinstance(s, PageImage))
    head, _, data = image.href.partition(",")
    assert head == f"data:image/{kind.lower()};base64"
    decoded = Image.open(io.BytesIO(base64.b64decode(data)))  # by a library of its own
    decoded.load()
    assert decoded.size == (60, 40)
    assert image.width / image.height == pytest.approx(60 / 40)
    (mark,) = [g for g in groups(photo.shapes) if g.css == "mark"]
    ring = next(s for s in mark.shapes if isinstance(s, Circle))
    assert (ring.x, ring.y) == pytest.approx(
        (image.x + 0.25 * image.width, image.y + 0.75 * image.height))
    assert "data:image" in render_svg(pages[0])


def test_a_photo_is_linked_relative_to_the_drawing(tmp_path: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "a b#.jpg").write_bytes(photo_bytes("JPEG"))
    pictures = Pictures(embed=False, output_folder=tmp_path / "out")
    pages = draw_place(with_photo(tmp_path, "photos/a b#.jpg"), LAYOUT, "box", pictures=pictures)
    (photo,) = on_pages(pages, "photo")
    image = next(s for s in photo.shapes if isinstance(s, PageImage))
    assert image.href == "../photos/a%20b%23.jpg"
    assert "data:" not in render_svg(pages[0])


def test_a_photo_does_not_tell_where_the_garage_is(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[ExifTags.Base.Artist] = "Ilse Secret"
    exif[ExifTags.Base.Orientation] = 6
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitude] = (52.0, 31.0, 0.0)
    data = photo_bytes("JPEG", exif=exif, comment=b"secret remark")
    assert b"Secret" in data
    (tmp_path / "photo.jpg").write_bytes(data)
    picture = Pictures().read("photo.jpg", str(tmp_path / "car.harness"), Span())
    assert picture is not None
    kept = base64.b64decode(picture.href.partition(",")[2])
    assert b"Secret" not in kept and b"secret" not in kept
    found = Image.open(io.BytesIO(kept)).getexif()
    assert dict(found.get_ifd(ExifTags.IFD.GPSInfo)) == {}
    assert found[ExifTags.Base.Orientation] == 6  # lies on its side: 60 x 40 is seen as 40 x 60
    assert (picture.width_px, picture.height_px) == (40, 60)


JPEG, PNG = photo_bytes("JPEG", (300, 200)), photo_bytes("PNG", (300, 200))
BAD_PHOTOS = [
    ("cut.jpg", JPEG[: len(JPEG) // 2], "photo-damaged", "cut short"),
    ("cut.png", PNG[: len(PNG) // 2], "photo-damaged", "cut short"),
    ("flipped.png", PNG[:60] + bytes([PNG[60] ^ 255]) + PNG[61:], "photo-damaged", "check sum"),
    ("header.jpg", JPEG[:2], "photo-damaged", "cut short"),
    ("header.png", PNG[:8], "photo-damaged", "cut short"),
    ("text.jpg", b"this is no picture", "photo-not-picture", "neither a PNG nor a JPEG"),
    ("empty.jpg", b"", "photo-not-picture", "empty"),
    ("anim.gif", photo_bytes("GIF"), "photo-not-picture", "GIF"),
    ("new.webp", photo_bytes("WEBP"), "photo-not-picture", "WebP"),
    ("phone.jpg", b"\x00\x00\x00\x18ftypheic" + b"\x00" * 40, "photo-not-picture", "HEIC"),
    ("drawing.png", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "photo-not-picture", "SVG"),
    ("book.jpg", b"%PDF-1.4", "photo-not-picture", "PDF"),
    ("bomb.png", PNG[:16] + b"\x7f\xff\xff\xff" * 2 + PNG[24:], "photo-damaged", "check sum"),
]


@pytest.mark.parametrize("name,data,code,said", BAD_PHOTOS, ids=[b[0] for b in BAD_PHOTOS])
def test_a_file_that_is_no_whole_picture_is_reported(
    tmp_path: Path, name: str, data: bytes, code: str, said: str
) -> None:
    (tmp_path / name).write_bytes(data)
    pictures = Pictures()
    vehicle = with_photo(tmp_path, name)
    pages = draw_place(vehicle, LAYOUT, "box", pictures=pictures)
    (found,) = pictures.diagnostics
    assert found.code == code and said in found.message and name in found.message
    assert found.span.line == 3 and found.hint
    assert on_pages(pages, "photo") == [] and on_pages(pages, "callout")  # the map instead


@pytest.mark.parametrize("path,code", [
    ("missing.jpg", "photo-missing"), ("photos", "photo-missing"),
    ("../outside.jpg", "photo-outside-folder"), ("/etc/passwd", "photo-outside-folder"),
    ("photos/../../outside.jpg", "photo-outside-folder"), ("link.jpg", "photo-outside-folder"),
])
def test_a_photo_that_is_not_there_or_not_ours_is_reported(
    tmp_path: Path, path: str, code: str
) -> None:
    folder = tmp_path / "car"
    (folder / "photos").mkdir(parents=True)
    (tmp_path / "outside.jpg").write_bytes(JPEG)
    (folder / "link.jpg").symlink_to(tmp_path / "outside.jpg")
    (folder / "misssing.jpg").write_bytes(JPEG)
    pictures = Pictures()
    assert pictures.read(path, str(folder / "car.harness"), Span("car.harness", 3, 1, 9)) is None
    (found,) = pictures.diagnostics
    assert found.code == code
    if path == "missing.jpg":
        assert found.hint == "did you mean 'misssing.jpg'?"
    assert pictures.read(path, str(folder / "car.harness"), Span()) is None
    assert len(pictures.diagnostics) == 1  # said once


def test_a_huge_photo_is_refused_with_its_size(tmp_path: Path) -> None:
    with (tmp_path / "huge.jpg").open("wb") as stream:
        stream.write(JPEG)
        stream.truncate(9_500_000)
    pictures = Pictures()
    assert pictures.read("huge.jpg", str(tmp_path / "car.harness"), Span()) is None
    assert "9.5 MB, more than 8 MB" in pictures.diagnostics[0].message
    assert "link it" in (pictures.diagnostics[0].hint or "")


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.integers(0, len(JPEG) - 1), st.integers(0, 255), st.booleans(), st.booleans())
def test_a_mangled_photo_never_raises_anything_else(
    at: int, value: int, cut: bool, png: bool
) -> None:
    from harnessdsl.drawing.maps.picture_file import DamagedPicture, NotAPicture, read_picture

    data = bytearray(PNG if png else JPEG)
    at %= len(data)
    data[at] = value
    try:
        found = read_picture(bytes(data[: at + 1] if cut else data))
    except (DamagedPicture, NotAPicture):
        return
    assert found.width_px > 0 and found.height_px > 0


def test_the_demos_photo_is_shown() -> None:
    with_photos = [name for name, place in VEHICLE.places.items() if place.photo is not None]
    pictures = Pictures()
    for name in with_photos:
        assert on_pages(draw_place(VEHICLE, LAYOUT, name, pictures=pictures), "photo")
    assert pictures.diagnostics == [] and with_photos


def test_a_picture_behind_a_traced_outline_is_placed_by_its_corners(tmp_path: Path) -> None:
    (tmp_path / "side.png").write_bytes(photo_bytes("PNG", (400, 200)))
    (tmp_path / "my.layout").write_text(
        'layout my "My" { view side { rows down; scale 10 mm; origin 20, 180\n'
        'image "side.png" at 0, 0 to 400, 200\n'
        "outline body { points 20, 160  20, 60  380, 60  380, 160 } } }", encoding="utf-8")
    layout = load_layout("my", tmp_path).layout
    assert layout is not None
    pages = draw_maps(Vehicle("V"), layout, pictures=Pictures())
    (view,) = on_pages(pages, "view")
    image = next(s for s in view.shapes if isinstance(s, PageImage))
    body = next(g for g in groups(view.shapes) if g.css == "body")
    outline = body.shapes[0]
    assert isinstance(outline, Polyline)
    pixel = image.width / 400
    assert image.height == pytest.approx(200 * pixel)
    assert outline.points[0] == pytest.approx((image.x + 20 * pixel, image.y + 160 * pixel))


# --- the same as text


def test_the_text_says_what_the_map_says() -> None:
    text = "\n".join(map_text(VEHICLE, LAYOUT))
    for spot in find_spots(VEHICLE, LAYOUT):
        assert f"{spot.number:>3}  " in text
    for part in VEHICLE.parts.values():
        assert part.name in text
    for name in VEHICLE.parts:
        lines = locate_text(VEHICLE, name, LAYOUT)
        assert lines[0].startswith(name) and len(lines) > 1
    fan = "\n".join(locate_text(VEHICLE, "fan", LAYOUT))
    assert all(name in fan for name in VEHICLE.circuits["fan"].parts)
    runs = "\n".join(runs_text(VEHICLE))
    assert all(name in runs for name in VEHICLE.runs)
    with pytest.raises(KeyError):
        locate_text(VEHICLE, "nothing-of-that-name")


def test_places_in_places_are_reached_from_the_outside_in() -> None:
    vehicle = vehicle_of(
        'vehicle "V" { supply 12 V }\nplace a "A" at 1, 2, 3 mm { reach "First" 1 min\n'
        'caution battery }\nplace b "B" in a { reach "Second" 2.5 min }\n'
        'place c "C" in b { reach "Third"; photo "x.jpg" mark 0.5, 0.1 }\nhorn H1 "Horn" in c\n')
    lines = locate_text(vehicle, "H1")
    order = [next(i for i, line in enumerate(lines) if each in line)
             for each in ("earth lead off first", "1. First", "2. Second", "3. Third",
                          "3.5 minutes in all", "photo: x.jpg")]
    assert order == sorted(order)
    assert "marked 50% from the left and 10% from the top" in "\n".join(lines)


# --- the same bytes

SCRIPT = """
import hashlib, sys
from pathlib import Path
from harnessdsl.drawing.maps import *
from harnessdsl.drawing.svg import render_svg
from harnessdsl.model.bundles import damaged_at
from harnessdsl.model.layout_shelf import load_layout
from harnessdsl.pipeline import load
path = Path(sys.argv[1])
vehicle = load(path).vehicle
layout = load_layout(vehicle.body, path.parent).layout
damage = damaged_at(vehicle, "left-sill")
pages = [*draw_maps(vehicle, layout), *draw_maps(vehicle, layout, highlight="fan"),
         *draw_runs(vehicle, layout), *draw_damage(vehicle, layout, damage),
         *draw_place(vehicle, layout, "dash-box", pictures=Pictures())]
for box in boxes(vehicle):
    pages += draw_box(vehicle, box)
for part in list(vehicle.parts.values()):
    if part.connector is not None:
        pages += draw_connector(vehicle, part.name)
digest = hashlib.sha256()
for page in pages:
    digest.update(page.name.encode() + render_svg(page).encode())
print(len(pages), digest.hexdigest())
"""


def test_the_same_file_gives_the_same_bytes() -> None:
    found = {
        subprocess.run([sys.executable, "-c", SCRIPT, str(DEMO)], capture_output=True, text=True,
                       check=True, env={"PYTHONHASHSEED": seed, "PATH": "/usr/bin:/bin",
                                        "PYTHONPATH": str(DEMO.parent.parent.parent)}).stdout
        for seed in ("1", "2")
    }
    assert len(found) == 1 and int(found.pop().split()[0]) > 60
