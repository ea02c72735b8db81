"""Layouts: the shipped bodies, mirroring, one's own traced outlines, and the messages."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from harnessdsl.diagnostics import Severity, render
from harnessdsl.drawing.maps import draw_maps
from harnessdsl.drawing.scene import Group, Shape, Text
from harnessdsl.drawing.svg import render_svg
from harnessdsl.language.parser import parse_text
from harnessdsl.model.layout import Drive, Layout, View, swap_sides
from harnessdsl.model.layout_builder import build_layout
from harnessdsl.model.layout_shelf import layout_names, load_layout, read_layout, shipped_bodies
from harnessdsl.model.location import find_spots, spread, zone_messages
from harnessdsl.model.vehicle import Place, Vehicle
from harnessdsl.pipeline import load_string
from harnessdsl.resources import data_folder
from harnessdsl.text import SourceFile, Span

NOWHERE_FOLDER = Path("no-layouts-here")
DOCS = Path(__file__).resolve().parent.parent / "docs" / "layouts.md"
REQUIRED = {"saloon", "estate", "pickup", "panel-van", "motorcycle", "tractor"}

CAR_ZONES = {
    "engine-bay", "left-engine-bay", "right-engine-bay", "bulkhead", "dash", "left-dash",
    "dash-centre", "right-dash", "left-footwell", "right-footwell", "left-kick-panel",
    "right-kick-panel", "left-front-door", "right-front-door", "left-front-seat",
    "right-front-seat", "left-headlamp", "right-headlamp", "left-tail-lamp", "right-tail-lamp",
    "left-front-wheel-arch", "right-rear-wheel-arch", "under-floor", "fuel-tank", "steering-column",
}  # fmt: skip
CARS = ("saloon", "estate", "hatchback", "convertible", "pickup", "panel-van")


def built(text: str) -> tuple[Layout | None, list[str]]:
    """Return the layout in a text and its messages as printed."""
    source = SourceFile("my.layout", text)
    facts, syntax = parse_text(source)
    layout, messages = build_layout(facts, "my.layout")
    return layout, [render(d, {source.path: source}) for d in [*syntax, *messages]]


def shipped(name: str) -> Layout:
    result = load_layout(name, NOWHERE_FOLDER)
    assert result.layout is not None, result.diagnostics
    return result.layout


# --- what is shipped


def test_the_bodies_asked_for_are_shipped_in_both_hands() -> None:
    assert set(shipped_bodies()) >= REQUIRED
    assert set(layout_names()) >= {
        f"{body}-{hand}" for body in CARS for hand in ("lhd", "rhd")} | {"motorcycle", "tractor"}


@pytest.mark.parametrize("body", shipped_bodies())
def test_a_shipped_body_is_read_without_a_message(body: str) -> None:
    result = read_layout(data_folder("layouts") / f"{body}.layout")
    assert [d.message for d in result.diagnostics] == []
    assert result.layout is not None
    assert result.layout.name == body
    assert result.layout.views == (View.PLAN, View.SIDE)


@pytest.mark.parametrize("name", layout_names())
def test_a_body_has_the_size_of_a_vehicle_and_stands_on_its_wheels(name: str) -> None:
    layout = shipped(name)
    x0, _, x1, _ = layout.bounds_mm(View.SIDE)
    _, y0, _, y1 = layout.bounds_mm(View.PLAN)
    _, z0, _, z1 = layout.bounds_mm(View.SIDE)
    assert 1800 < x1 - x0 < 7000
    assert 700 < y1 - y0 < 2800
    assert 1000 < z1 - z0 < 3000
    assert abs(x0) < 60
    assert y0 == pytest.approx(-y1, abs=80)  # a sliding door may stand out a little
    if layout.wheels:
        assert z0 == pytest.approx(0, abs=1)
    for wheel in layout.wheels:
        x, y, z = wheel.centre_mm
        assert z == wheel.radius_mm
        assert x0 <= x - wheel.radius_mm and x + wheel.radius_mm <= x1 + 40
        assert y0 - 1 <= y - wheel.width_mm / 2 and y + wheel.width_mm / 2 <= y1 + 1


@pytest.mark.parametrize("name", layout_names())
def test_zones_lie_in_the_body_and_come_in_pairs(name: str) -> None:
    layout = shipped(name)
    x0, _, x1, _ = layout.bounds_mm(View.SIDE)
    _, y0, _, y1 = layout.bounds_mm(View.PLAN)
    _, z0, _, z1 = layout.bounds_mm(View.SIDE)
    assert len(layout.zones) >= 25
    for zone in layout.zones.values():
        (ax, ay, az), (bx, by, bz) = zone.least_mm, zone.greatest_mm
        assert ax < bx and ay < by and az < bz, zone.name
        assert x0 - 130 <= ax and bx <= x1 + 130, zone.name
        assert y0 - 60 <= ay and by <= y1 + 60, zone.name
        assert z0 - 10 <= az and bz <= z1 + 30, zone.name
        twin = layout.zones.get(swap_sides(zone.name))
        if zone.name.startswith(("left-", "right-")):
            assert twin is not None, f"{zone.name} has no twin"
            assert twin.least_mm == (ax, -by, az) and twin.greatest_mm == (bx, -ay, bz)
            assert twin.label == swap_sides(zone.label)
            assert (zone.centre_mm[1] < 0) == zone.name.startswith("left-"), zone.name


@pytest.mark.parametrize("body", CARS)
def test_cars_share_the_trade_names_of_zones(body: str) -> None:
    assert set(shipped(f"{body}-lhd").zones) >= CAR_ZONES


# --- left and right


@pytest.mark.parametrize("body", CARS)
def test_right_hand_drive_is_the_mirror_image(body: str) -> None:
    left, right = shipped(f"{body}-lhd"), shipped(f"{body}-rhd")
    assert (left.drive, right.drive) == (Drive.LEFT, Drive.RIGHT)
    assert (left.mirrored, right.mirrored) == (False, True)
    for a, b in zip(left.outlines, right.outlines, strict=True):
        assert a.view is b.view
        wanted = [(x, -v) if a.view is View.PLAN else (x, v) for x, v in a.points_mm]
        assert list(b.points_mm) == wanted
    column_left, column_right = (each.zones["steering-column"] for each in (left, right))
    assert column_left.centre_mm[1] < 0 < column_right.centre_mm[1]
    assert column_left.centre_mm[1] == -column_right.centre_mm[1]
    for layout in (left, right):
        assert layout.zones["left-footwell"].centre_mm[1] < 0 < (
            layout.zones["right-footwell"].centre_mm[1])
    assert right.mirror() == left


def test_a_body_that_is_the_same_everywhere_is_never_mirrored() -> None:
    for name in ("tractor-lhd", "tractor-rhd", "tractor"):
        assert shipped(name).mirrored is False


def test_what_is_on_one_flank_changes_sides() -> None:
    left = [line.side for line in shipped("panel-van-lhd").outlines if line.side]
    right = [line.side for line in shipped("panel-van-rhd").outlines if line.side]
    assert set(left) == {"right"} and set(right) == {"left"}


def texts(shapes: tuple[Shape, ...]) -> list[Text]:
    found: list[Text] = []
    for shape in shapes:
        if isinstance(shape, Group):
            found += texts(shape.shapes)
        elif isinstance(shape, Text):
            found.append(shape)
    return found


def test_text_stays_readable_and_places_stay_put_in_a_mirrored_body() -> None:
    vehicle = Vehicle("Both hands", places={
        "left-wing": Place("left-wing", "Left inner wing", (320.0, -540.0, 610.0)),
        "column": Place("column", "Column", zone="steering-column"),
    })
    drawn = {hand: render_svg(draw_maps(vehicle, shipped(f"estate-{hand}"))[0])
             for hand in ("lhd", "rhd")}
    words = {}
    for hand, svg in drawn.items():
        assert "scale(" not in svg and "matrix(" not in svg  # nothing is turned over
        words[hand] = sorted(re.findall(r">([^<>]+)</text>", svg))
    assert words["lhd"] == words["rhd"]
    assert "← front · seen from above, left-hand side below, right-hand side above" in (
        drawn["rhd"].split(" · 1 : ")[1] + drawn["rhd"].split(" · 1 : ")[0])

    def mark(svg: str, place: str) -> str:
        group = re.search(
            rf'<g class="place" data-place="{place}" data-view="plan">(.*?)</g>', svg, re.DOTALL)
        assert group is not None
        return re.findall(r'cy="([\d.]+)"', group[1])[-1]

    base = float(re.search(r'data-base="([\d.]+)"[^>]*data-view="plan"',  # type: ignore[union-attr]
                           drawn["lhd"])[1])
    assert mark(drawn["lhd"], "left-wing") == mark(drawn["rhd"], "left-wing")
    assert float(mark(drawn["lhd"], "left-wing")) > base  # left is below
    below, above = float(mark(drawn["lhd"], "column")), float(mark(drawn["rhd"], "column"))
    assert below - base == pytest.approx(base - above, abs=0.002)
    assert below > base


# --- zones


@pytest.mark.parametrize("word,zone", [
    ("left-dash", "left-dash"), ("dash-left", "left-dash"), ("bay-engine-left", "left-engine-bay"),
    ("left-front-fender", "left-front-wing"), ("firewall", "bulkhead"), ("hood", "bonnet"),
    ("dash-center", "dash-centre"), ("rh-footwell", "right-footwell"), ("Left_Sill", "left-sill"),
    ("left-rocker", "left-sill"), ("glovebox", "glove-box"),
])
def test_zone_words_are_understood_in_any_order_and_from_either_side_of_the_ocean(
    word: str, zone: str
) -> None:
    found = shipped("estate-lhd").zone(word)
    assert found is not None and found.name == zone


def test_a_zone_that_the_body_lacks_is_reported_with_the_nearest() -> None:
    vehicle = load_string(
        'vehicle "V" { body estate-lhd }\nplace a "A" zone left-fotwell\n'
        'lamp-5w E1 "Lamp" zone left-tail-lmp\n').vehicle
    found = {d.subject: d for d in zone_messages(vehicle, shipped("estate-lhd"))}
    assert found["a"].hint == "did you mean 'left-footwell'?"
    assert found["a"].span.line == 2


def test_a_place_known_by_zone_only_is_put_there_and_is_approximate() -> None:
    layout = shipped("estate-lhd")
    vehicle = Vehicle(places={
        "exact": Place("exact", "", (1.0, 2.0, 3.0), zone="boot"),
        "rough": Place("rough", "", zone="left-footwell"),
        "inner": Place("inner", "", inside="rough"),
        "lost": Place("lost", ""),
    })
    spots = {spot.name: spot for spot in find_spots(vehicle, layout)}
    assert spots["exact"].position_mm == (1.0, 2.0, 3.0) and not spots["exact"].approximate
    assert spots["rough"].position_mm == layout.zones["left-footwell"].centre_mm
    assert spots["rough"].approximate and spots["inner"].approximate
    assert spots["inner"].position_mm == spots["rough"].position_mm
    assert spots["lost"].position_mm is None


@pytest.mark.parametrize("count", [1, 2, 5, 6, 13, 40])
def test_places_in_one_zone_are_spread_over_it(count: int) -> None:
    zone = shipped("saloon-lhd").zones["engine-bay"]
    points = spread(zone, count)
    assert len(set(points)) == count
    for x, y, z in points:
        assert zone.least_mm[0] <= x <= zone.greatest_mm[0]
        assert zone.least_mm[1] <= y <= zone.greatest_mm[1]
        assert z == zone.centre_mm[2]


# --- one's own outline

BLOCKS = re.findall(r"```layout\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)


@pytest.mark.parametrize("text", BLOCKS)
def test_every_example_of_the_guide_is_a_layout(text: str) -> None:
    layout, messages = built(text)
    assert messages == []
    assert layout is not None and layout.views == (View.PLAN, View.SIDE)


def test_there_are_examples_in_the_guide() -> None:
    assert len(BLOCKS) == 2


def test_a_traced_outline_is_found_beside_the_file_and_comes_out_in_millimetres(
    tmp_path: Path,
) -> None:
    (tmp_path / "my-van.layout").write_text(BLOCKS[1], encoding="utf-8")
    layout = load_layout("my-van", tmp_path).layout
    assert layout is not None and layout.drive is Drive.RIGHT
    # by hand: 512 px between the wheel centres are 2460 mm, so one px is 4.8047 mm
    pixel = 2460 / (743 - 231)
    side = next(line for line in layout.outlines if line.view is View.SIDE)
    x0, z0, x1, z1 = layout.bounds_mm(View.SIDE)
    low = (0.0, (481 - 440) * pixel)  # its corner is rounded, so the line passes close by
    assert min(math.dist(point, low) for point in side.points_mm) < 100
    assert x1 == pytest.approx((900 - 62) * pixel, rel=0.02)
    assert z1 == pytest.approx((481 - 172) * pixel, rel=0.02)
    assert (x0, z0) == pytest.approx((0.0, 41 * pixel), abs=60)
    # front up, so x runs down the picture and the right-hand side is to the right
    plan = next(line for line in layout.outlines if line.view is View.PLAN)
    assert plan.points_mm[0] == pytest.approx(((95 - 90) * 4.8, (230 - 400) * 4.8))
    assert plan.points_mm[1] == pytest.approx(((95 - 90) * 4.8, (570 - 400) * 4.8))
    zone = layout.zones["load-bay"]
    assert zone.least_mm[0] == pytest.approx((330 - 90) * 4.8)
    assert zone.greatest_mm[1] == pytest.approx((565 - 400) * 4.8)
    assert (zone.least_mm[2], zone.greatest_mm[2]) == pytest.approx((z0, z1))
    mirrored = load_layout("my-van-lhd", tmp_path).layout
    assert mirrored is not None and mirrored.drive is Drive.LEFT and mirrored.mirrored
    assert load_layout("my-van.layout", tmp_path).layout == layout


@pytest.mark.parametrize("front,rows,point,wanted", [
    ("left", "up", (10, 5), (10, 5)),  # facing left: the right-hand side is up
    ("left", "down", (10, 5), (10, -5)),
    ("right", "up", (-10, -5), (10, 5)),
    ("up", "up", (5, -10), (10, 5)),  # facing up: right is right
    ("up", "down", (5, 10), (10, 5)),
    ("down", "up", (-5, 10), (10, 5)),
])
def test_a_plan_may_be_traced_in_any_direction(
    front: str, rows: str, point: tuple[int, int], wanted: tuple[int, int]
) -> None:
    layout, messages = built(
        f"layout t {{ view plan {{ front {front}; rows {rows}\n"
        f"outline panel {{ points 0, 0  {point[0]}, {point[1]} }} }} }}")
    assert messages == [] and layout is not None
    assert layout.outlines[0].points_mm[1] == pytest.approx(wanted)


def test_a_file_of_ones_own_goes_before_a_shipped_one(tmp_path: Path) -> None:
    (tmp_path / "estate.layout").write_text(BLOCKS[0], encoding="utf-8")
    found = load_layout("estate-rhd", tmp_path).layout
    assert found is not None and found.name == "crate" and found.mirrored


def test_an_arc_is_round_and_a_rounded_corner_stays_inside() -> None:
    layout, messages = built(
        "layout t { view side { outline panel { arc 100, 50 radius 40 from 180 to 0 }\n"
        "outline body round 20 { points 0, 0  200, 0  200, 100  0, 100 } } }")
    assert messages == [] and layout is not None
    bow, box = layout.outlines
    assert all(math.dist(point, (100, 50)) == pytest.approx(40) for point in bow.points_mm)
    assert bow.points_mm[0] == pytest.approx((60, 50))
    assert bow.points_mm[-1] == pytest.approx((140, 50))
    assert max(y for _, y in bow.points_mm) == pytest.approx(90, abs=0.2)
    assert all(0 <= x <= 200 and 0 <= y <= 100 for x, y in box.points_mm)
    assert (0, 0) not in box.points_mm
    assert (20, 0) in [(round(x), round(y)) for x, y in box.points_mm]


def test_a_smooth_line_goes_through_its_points() -> None:
    layout, _ = built(
        "layout t { view side { outline panel smooth { points 0, 0  10, 5  20, 0  30, 5 } } }")
    assert layout is not None
    points = layout.outlines[0].points_mm
    for wanted in ((0, 0), (10, 5), (20, 0), (30, 5)):
        assert min(math.dist(point, wanted) for point in points) < 1e-6


# --- mistakes: each with what it must say, and on which line

OUTLINE = "outline body { points 0, 0  10, 0  10, 10 }"
BROKEN = [
    ("", "holds no layout", 1),
    ('place a "A"', "does not belong into a layout file", 1),
    ("layout a { view side { " + OUTLINE + " } }\nlayout b { }", "a file holds one layout", 2),
    ("layout a { }", "draws nothing", 1),
    ("layout { view side { " + OUTLINE + " } }", "lacks the layout's name", 1),
    ("layout a {\n  viev side { " + OUTLINE + " } }", "did you mean 'view'?", 2),
    ("layout a {\n  view rear { " + OUTLINE + " } }", "'rear' is no view", 2),
    ("layout a {\n  view side { } }", "the side view is empty", 2),
    ("layout a {\n  drive lefft\n  view side { " + OUTLINE + " } }", "did you mean 'left'?", 2),
    ("layout a { view side {\n  outline boddy { points 0, 0  1, 0  1, 1 } } }",
     "did you mean 'body'?", 2),
    ("layout a { view side {\n  outline body { points 0, 0  1, 0 } } }", "needs more points", 2),
    ("layout a { view side {\n  outline body } }", "has no points", 2),
    ("layout a { view side {\n  outline body { points 0, 0  1, 0  1 } } }", "needs 2 figures", 2),
    ("layout a { view side {\n  outline body { points 0 0  1 0  1 1 } } }", "needs 2 figures", 2),
    ("layout a { view side {\n  outline body { points 0, x  1, 0 } } }", "stands where a point", 2),
    ("layout a { view side {\n  outline body { points 0, 5 mm  1, 0 } } }", "has a unit", 2),
    ("layout a { view side {\n  outline body { pints 0, 5 } } }", "did you mean 'points'?", 2),
    ("layout a { view side {\n  outline body smoth { points 0, 0  1, 0  1, 1 } } }",
     "did you mean 'smooth'?", 2),
    ("layout a { view side {\n  outline body symmetric { points 0, 0  1, 0  1, 1 } } }",
     "are for the plan", 2),
    ("layout a { view side {\n  scale 0 mm\n " + OUTLINE + " } }", "more than nothing", 2),
    ("layout a { view side {\n  ruler 1, 1 to 1, 1 2 m\n " + OUTLINE + " } }", "same point", 2),
    ("layout a { view side {\n  ruler 1, 1 to 9, 1 2000\n " + OUTLINE + " } }", "needs a unit", 2),
    ("layout a { view side {\n  front up\n " + OUTLINE + " } }", "can't be 'up'", 2),
    ("layout a { view side { scale 1 m\n  outline body { points 0, 0  99, 0  99, 9 } } }",
     "is the scale right?", 2),
    ("layout a { view side { " + OUTLINE + " }\n  zone boot box 0, 0, 0 to 1, 1 }",
     "needs 3 figures", 2),
    ("layout a { view side { " + OUTLINE + " }\n  zone boot box 0, 0, 0 1, 1, 1 }",
     "stands where 'to' belongs", 2),
    ("layout a { view side { " + OUTLINE + " }\n  zone boot both box 0, 0, 0 to 1, 1, 1 }",
     "call it left-boot", 2),
    ("layout a { view side { " + OUTLINE + " }\n  zone boot box 0, 0, 0 to 1, 1, 1\n"
     "  zone boot box 0, 0, 0 to 2, 2, 2 }", "is there already", 3),
    ("layout a { view side { " + OUTLINE + " }\n  wheel w both at 5, 0 radius 3 width 1 }",
     "no twin", 2),
    ("layout a { view side { " + OUTLINE + " }\n  wheel w at 5, 1 radius -3 width 1 }",
     "more than nothing", 2),
    ('layout a { view side { rows down; ' + OUTLINE + '\n  image "x.png" at 9, 9 to 1, 1 } }',
     "not top left and bottom right", 2),
    ("layout a { view side { " + OUTLINE + "\n  circle body at 5, 5 radius 0 } }",
     "more than nothing", 2),
]


@pytest.mark.parametrize("text,words,line", BROKEN)
def test_a_mistake_is_reported_where_it_is(text: str, words: str, line: int) -> None:
    _, messages = built(text)
    assert len(messages) == 1, messages
    assert words in messages[0]
    assert messages[0].startswith(f"my.layout:{line}:")
    assert "^" in messages[0] or not text


def test_all_mistakes_of_a_file_are_reported_and_the_rest_is_drawn() -> None:
    layout, messages = built(
        "layout a {\n  drve left\n  view side {\n    outline bdy { points 0, 0 1, 0 1, 1 }\n"
        f"    {OUTLINE}\n  }}\n  zone x box 1, 2 to 3, 4\n}}")
    assert len(messages) == 3
    assert layout is not None and len(layout.outlines) == 1


@pytest.mark.parametrize("body,words", [
    ("", "does not say what body"),
    ("estte-lhd", "did you mean 'estate-lhd'?"),
    ("hovercraft", "draw your own in 'hovercraft.layout'"),
    ("../secret", "outside the folder"),
    ("/etc/passwd", "outside the folder"),
    ("estate-lhd.layout", "there is no layout"),
])
def test_a_body_that_is_not_there_is_reported(body: str, words: str, tmp_path: Path) -> None:
    result = load_layout(body, tmp_path, Span("car.harness", 3, 5, 9))
    assert result.layout is None
    (found,) = result.diagnostics
    assert found.severity is Severity.ERROR and found.span.line == 3
    assert words in render(found, {})


def test_a_layout_that_is_no_text_is_reported(tmp_path: Path) -> None:
    (tmp_path / "mine.layout").write_bytes(b"\x00\x01\xff\xfe" * 20)
    result = load_layout("mine", tmp_path)
    assert result.layout is None
    assert "not a text file" in result.diagnostics[0].message
