"""The layout of schematics: what must hold for any vehicle, however odd.

The pages are judged as finished shapes by the same checks as the printed sheets (svg_checker);
only the measuring is done without a browser here. That a whole-number level assignment is
optimal is checked against scipy's linear programming; how many wires must cross in a channel
against the geometry that comes out.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest
from scene_sheet import sheet_of
from scipy.optimize import linprog
from svg_checker.report import Report, check_schematics
from svg_checker.sheet import Sheet
from wild_vehicles import wild_text, wild_vehicle

from harnessdsl.drawing.block import GRID_MM
from harnessdsl.drawing.channel import Column, Net, order_tracks, set_levels
from harnessdsl.drawing.network_simplex import drop_cycles, levels
from harnessdsl.drawing.scene import Group, Page, Shape, Text
from harnessdsl.drawing.schematic import (
    Annotation,
    Annotations,
    SchematicOptions,
    draw_schematics,
)
from harnessdsl.drawing.sheet_elements import build_graph
from harnessdsl.drawing.sheet_plan import Role
from harnessdsl.drawing.sheet_planner import plan_sheets
from harnessdsl.drawing.sheet_symbols import BlockCache, symbols_of
from harnessdsl.drawing.strands import string_wires
from harnessdsl.drawing.supply_lines import find_supply_lines
from harnessdsl.drawing.wiring import read_wiring
from harnessdsl.model.topology import build_topology
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load, load_string

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "examples" / "tourer" / "tourer.harness"


def judge(vehicle: Vehicle, pages: list[Page] | None = None) -> Report:
    pages = draw_schematics(vehicle) if pages is None else pages
    wires = {wire.name: (wire.a.node, wire.b.node) for wire in vehicle.wires.values()}
    plugs = [
        (f"{part.name}.a.{cavity}", f"{part.name}.b.{cavity}")
        for part in vehicle.parts.values()
        if part.connector is not None and not part.connector.of
        for cavity in part.connector.cavities
    ]
    return check_schematics([sheet_of(page) for page in pages], wires, plugs)


def faults(report: Report) -> list[str]:
    # a bar inside a part joins nets too, which the check does not know of
    return [str(f) for f in report.findings if f.what != "supply line of several nets"]


def sheets_of(vehicle: Vehicle) -> list[Sheet]:
    return [sheet_of(page) for page in draw_schematics(vehicle)]


def groups(page: Page, css: str) -> list[Group]:
    found: list[Group] = []

    def visit(shape: Shape) -> None:
        if isinstance(shape, Group):
            if css in shape.css.split():
                found.append(shape)
            for inner in shape.shapes:
                visit(inner)

    for shape in page.shapes:
        visit(shape)
    return found


def texts(shape: Shape) -> list[str]:
    if isinstance(shape, Text):
        return [shape.text]
    if isinstance(shape, Group):
        return [text for inner in shape.shapes for text in texts(inner)]
    return []


FUSE_AND_LAMP = """
vehicle "Small" { supply 12 V negative-earth }
battery G1 "Battery" 60 Ah
blade-fuse F1 "Lamp" 10 A
lamp E1 "Lamp"
earth EP1 "Body"
wire G1.+ -> F1.1 4 mm2 RD measured
wire F1.2 -> E1.1 1 mm2 RD/YE guessed
wire E1.2 -> EP1 1 mm2 BN measured
wire G1.- -> EP1 16 mm2 BK measured
"""


# ---- the parts that the layout is made of -------------------------------------------------------


@pytest.mark.parametrize("seed", range(60))
def test_levels_are_as_good_as_linear_programming(seed: int) -> None:
    """Reference: scipy.optimize.linprog on the same inequalities."""
    chance = random.Random(seed)
    count = chance.randint(2, 25)
    arcs = drop_cycles(
        count,
        [
            (chance.randrange(count), chance.randrange(count), chance.randint(-2, 3),
             chance.randint(1, 5))
            for _ in range(chance.randint(1, 50))
        ],
    )  # fmt: skip
    found = levels(count, arcs)
    assert all(found[b] - found[a] >= length for a, b, length, _ in arcs)
    if not arcs:
        return
    cost = [0] * count
    left, right = [], []
    for a, b, length, weight in arcs:
        cost[b] += weight
        cost[a] -= weight
        row = [0] * count
        row[a], row[b] = row[a] + 1, row[b] - 1
        left.append(row)
        right.append(-length)
    best = linprog(cost, A_ub=left, b_ub=right, bounds=[(0, 1000)] * count).fun
    assert sum(w * (found[b] - found[a]) for a, b, _, w in arcs) == pytest.approx(best)


def test_levels_refuse_a_cycle() -> None:
    with pytest.raises(ValueError, match="cycle"):
        levels(2, [(0, 1, 1, 1), (1, 0, 1, 1)])


def channel_crossings(nets: list[Net]) -> int:
    """Count crossings of the routed lines themselves, upright by level."""
    lines = []
    for net in nets:
        ends = [(x, 0.0) for x in net.upper] + [(x, 1000.0) for x in net.lower]
        lines.append([(ends[0][0], ends[0][1], net.y), (ends[1][0], ends[1][1], net.y), net])
    found = 0
    for one in lines:
        for other in lines:
            if one is other:
                continue
            low, high = sorted((one[0][0], one[1][0]))
            for x, edge, level in other[:2]:
                if low < x < high and min(edge, level) < one[2].y < max(edge, level):
                    found += 1
    return found


@pytest.mark.parametrize("seed", range(60))
def test_wires_in_a_channel_cross_only_when_their_ends_alternate(seed: int) -> None:
    """Two wires whose ends alternate around the rim must cross once; no others need to (the
    Jordan curve theorem)."""
    chance = random.Random(seed)
    count = chance.randint(2, 9)
    upper = chance.sample(range(0, 40), count)
    lower = chance.sample(range(40, 80), count)
    nets = [
        Net(index, (a * GRID_MM * 2,), (b * GRID_MM * 2 - 79 * GRID_MM,))
        for index, (a, b) in enumerate(zip(upper, lower, strict=True))
    ]  # the two rows never share a column, so that no wire has to be cut
    must = sum(
        (one.upper[0] < other.upper[0]) != (one.lower[0] < other.lower[0])
        for index, one in enumerate(nets)
        for other in nets[index + 1 :]
    )
    columns = [x for net in nets for x in (*net.upper, *net.lower)]
    order = order_tracks(nets, columns)
    set_levels(order, [], [], 2.0)
    assert len(order) == count
    assert channel_crossings(order) == must


def test_two_wires_that_change_places_get_a_jog() -> None:
    first, second = Net(0, (0.0,), (10.0,)), Net(1, (10.0,), (0.0,))
    order = order_tracks([first, second], [0.0, 10.0])
    set_levels(order, [], [], 2.0)
    assert len(order) == 3
    for goes_down in order:
        for comes_down in order:
            if goes_down.thread == comes_down.thread:
                continue
            # in a column that both use, one must have ended before the other begins
            if set(goes_down.lower) & set(comes_down.upper):
                assert comes_down.y < goes_down.y


def test_tracks_keep_clear_of_what_hangs_above_and_stands_below() -> None:
    net = Net(0, (0.0,), (50.0,))
    hanging = Column(20.0, 3.0, 3.0, 12.0)
    standing = Column(30.0, 3.0, 3.0, 9.0)
    height = set_levels([net], [hanging], [standing], 2.0)
    assert net.y > 12.0
    assert height - 9.0 > net.y


# ---- what is drawn where ------------------------------------------------------------------------


def test_strands_hold_every_wire_once() -> None:
    for seed in range(20):
        vehicle = wild_vehicle(seed)
        strung = [w.name for s in string_wires(vehicle).strands for w in s.wires]
        assert sorted(strung) == sorted(vehicle.wires)


def test_a_loop_through_plugs_alone_is_a_strand_too() -> None:
    vehicle = load_string(
        "connector X1 2 way\nconnector X2 2 way\n"
        "wire X1.b.1 -> X2.a.1 1 mm2 RD\nwire X2.b.1 -> X1.a.1 1 mm2 RD\n"
    ).vehicle
    (strand,) = string_wires(vehicle).strands
    assert len(strand.wires) == 2
    assert not faults(judge(vehicle))


def test_supply_lines_of_a_car() -> None:
    """Line 30 is the battery's, 15 and 75 are the ignition switch's (DIN 72552)."""
    vehicle = load(DEMO).vehicle
    lines = {line.name: line for line in find_supply_lines(build_topology(vehicle))}
    assert {"30", "15", "75"} <= set(lines)
    assert lines["30"].feeders == ("G1.+",)
    assert lines["15"].feeders == ("S1.15",)
    every = [node for line in lines.values() for node in line.nodes]
    assert len(every) == len(set(every))


def test_line_30_of_a_positive_earth_vehicle_is_the_minus_pole() -> None:
    vehicle = load(ROOT / "examples" / "motorcycle.harness").vehicle
    lines = find_supply_lines(build_topology(vehicle))
    assert lines[0].name == "30"
    assert lines[0].feeders == ("G1.-",)


TWO_CIRCUITS = FUSE_AND_LAMP + """
relay K1 "Horn relay"
horn H1 "Horn"
wire F1.2 -> K1.86 1 mm2 GN measured
wire K1.85 -> EP1 1 mm2 BN measured
wire K1.87 -> H1.1 1 mm2 BK measured
wire H1.2 -> EP1 1 mm2 BN measured
wire F1.2 -> K1.30 1 mm2 RD measured
circuit one "One" { G1 F1 E1 }
circuit two "Two" { K1 H1 }
"""


def test_a_wire_between_two_circuits_is_drawn_once_with_references_on_both() -> None:
    vehicle = load_string(TWO_CIRCUITS).vehicle
    assert not faults(judge(vehicle))
    plan = plan_sheets(read_wiring(vehicle))
    first, second = plan.sheets
    assert {hint.node for hint in first.hints if hint.sheets} == {"F1.2"}
    ends = [end for placed in second.strands for end in (placed.a, placed.b)]
    assert all(end.role is Role.JUNCTION for end in ends if end.node == "F1.2")


def test_references_name_the_sheet_and_the_track_where_the_node_is() -> None:
    """Each reference's numbers against the track strip and the terminals as drawn."""
    pages = draw_schematics(load(DEMO).vehicle)
    places: dict[str, set[str]] = {}
    for number, page in enumerate(pages, 1):
        spans = []
        for strip in groups(page, "tracks"):
            for shape in strip.shapes:
                if isinstance(shape, Text):
                    spans.append((int(shape.text), shape.x, shape.y))
        for group in groups(page, "terminal"):
            node = group.data["node"]
            (x, y) = _centre(page, group)
            below = sorted({at for _, _, at in spans if at > y})
            if not below:
                continue
            track = min((abs(at - x), n) for n, at, row in spans if row == below[0])[1]
            places.setdefault(node, set()).update(
                f"{number}/{near}" for near in (track - 1, track, track + 1)
            )
    checked = 0
    for page in pages:
        for group in groups(page, "reference"):
            said = [t for text in texts(group) for t in re.findall(r"\d+/\d+", text)]
            for place in said:
                assert place in places[group.data["node"]], (page.name, group.data, place)
                checked += 1
    assert checked > 50


def _centre(page: Page, wanted: Group) -> tuple[float, float]:
    """Return where a terminal's mark is on the page, shifts included."""
    found: list[tuple[float, float]] = []

    def visit(shape: Shape, x: float, y: float) -> None:
        if isinstance(shape, Group):
            if shape is wanted:
                circle = shape.shapes[0]
                found.append(
                    (x + shape.shift[0] + circle.x, y + shape.shift[1] + circle.y)  # type: ignore[union-attr]
                )
            for inner in shape.shapes:
                visit(inner, x + shape.shift[0], y + shape.shift[1])

    for shape in page.shapes:
        visit(shape, 0.0, 0.0)
    return found[0]


def test_tracks_are_numbered_on_through_all_sheets() -> None:
    numbers: list[int] = []
    for page in draw_schematics(load(DEMO).vehicle):
        for strip in groups(page, "tracks"):
            numbers.extend(int(text) for text in texts(strip))
    assert numbers == list(range(1, len(numbers) + 1))


def test_wires_in_no_circuit_go_to_a_last_sheet() -> None:
    vehicle = load_string(FUSE_AND_LAMP + 'circuit one "One" { G1 F1 }\n').vehicle
    pages = draw_schematics(vehicle)
    assert [page.title for page in pages] == ["One", "Not yet assigned to a circuit"]
    assert not faults(judge(vehicle, pages))


def test_a_vehicle_without_circuits_is_one_drawing_under_its_name() -> None:
    pages = draw_schematics(load_string(FUSE_AND_LAMP).vehicle)
    assert [page.title for page in pages] == ["Small"]


def test_unverified_wires_are_dashed_and_the_legend_says_so() -> None:
    (page,) = draw_schematics(load_string(FUSE_AND_LAMP).vehicle)
    sheet = sheet_of(page)
    dashed = {}
    for group in sheet.with_class("wire"):
        outlines = [s for s in sheet.shapes_in(group.index) if s.stroked]
        widest = max(shape.stroke_mm for shape in outlines)
        dashed[group.data["wire"]] = any(s.dashed and s.stroke_mm == widest for s in outlines)
    assert dashed["F1.2-E1.1"]
    assert not dashed["G1.+-F1.1"]
    assert any("verified" in text for text in texts(groups(page, "legend")[0]))


def test_connectors_are_in_line_with_their_cavities() -> None:
    vehicle = load_string(
        "lamp E1\nlamp E2\nconnector X5 4 way { half a male; half b female }\n"
        "wire E1.2 -> X5.3 -> E2.1 1 mm2 RD/WH\n"
    ).vehicle
    (page,) = draw_schematics(vehicle)
    (plug,) = groups(page, "plug")
    assert plug.data == {"part": "X5", "cavity": "3"}
    assert texts(plug) == ["X5/3"]
    assert not faults(judge(vehicle, [page]))


def test_splice_and_earth_are_marked_with_their_names() -> None:
    vehicle = load_string(
        FUSE_AND_LAMP + "splice J1\nlamp E2\nwire F1.2 -> J1 1 mm2 RD\nwire J1 -> E2.1 1 mm2 RD\n"
        "wire E2.2 -> EP1 1 mm2 BN\nlamp E3\nwire J1 -> E3.1 1 mm2 RD\n"
    ).vehicle
    (page,) = draw_schematics(vehicle)
    assert [group.data["node"] for group in groups(page, "splice")] == ["J1"]
    # each wire to the earth point has it to itself: locally, or at the line
    assert [group.data["node"] for group in groups(page, "earth")] == ["EP1"] * 3


def test_a_relay_in_two_circuits_is_drawn_in_halves_that_name_each_other() -> None:
    vehicle = load_string(
        TWO_CIRCUITS.replace('circuit one "One" { G1 F1 E1 }', 'circuit one "One" { G1 F1 E1 K1 }')
    ).vehicle
    pages = draw_schematics(vehicle)
    assert not faults(judge(vehicle, pages))
    notes = [
        text
        for page in pages
        for group in groups(page, "label")
        if group.data["of"] == "K1"
        for text in texts(group)
        if text.startswith("also ")
    ]
    assert {note.split()[1].split("/")[0] for note in notes} == {"1", "2"}


def test_annotations_are_written_and_shown() -> None:
    vehicle = load_string(FUSE_AND_LAMP).vehicle
    added = Annotations(
        wires={"F1.2-E1.1": Annotation("1.7 A", "live"), "E1.2-EP1": Annotation("", "dead")},
        parts={"E1": Annotation("20.4 W", "live")},
        nodes={"E1.1": Annotation("12.1 V")},
    )
    pages = draw_schematics(vehicle, annotations=added)
    assert not faults(judge(vehicle, pages))
    said = [text for page in pages for shape in page.shapes for text in texts(shape)]
    assert any("1.7 A" in text for text in said)
    assert "12.1 V" in said
    assert "20.4 W" in said
    states = {g.data["wire"]: g.data.get("state") for g in groups(pages[0], "wire")}
    assert states["F1.2-E1.1"] == "live"
    assert states["E1.2-EP1"] == "dead"


def test_wires_of_a_cable_name_it() -> None:
    vehicle = load_string(
        'lamp E2\nlamp E1\nwire W1 E2.1 -> E1.1 0.5 mm2 WH\n'
        'cable CB1 "Speed" screened twisted { W1 }\n'
    ).vehicle
    labels = [
        text
        for page in draw_schematics(vehicle)
        for group in groups(page, "wire-label")
        for text in texts(group)
    ]
    assert labels == ["0.5 WH CB1"]


def test_the_demo_keeps_its_zeros_with_a_state_written_on_everything() -> None:
    vehicle = load(DEMO).vehicle
    states = ("live", "dead", "earthed", "fault")
    added = Annotations(
        wires={
            name: Annotation(f"{number % 37}.{number % 10} A", states[number % 4])
            for number, name in enumerate(vehicle.wires)
        },
        parts={name: Annotation("21.4 W, 12.9 V", "live") for name in vehicle.parts},
        nodes={
            wire.b.node: Annotation("12.9 V")
            for number, wire in enumerate(vehicle.wires.values())
            if number % 3 == 0
        },
    )
    pages = draw_schematics(vehicle, annotations=added)
    assert faults(judge(vehicle, pages)) == []


# ---- any vehicle --------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(40))
def test_wild_vehicles(seed: int) -> None:
    assert faults(judge(wild_vehicle(seed))) == []


@pytest.mark.parametrize("seed", range(100, 104))
def test_larger_wild_vehicles(seed: int) -> None:
    report = judge(wild_vehicle(seed, parts=30, wires=50))
    assert faults(report) == []


ODD = {
    "nothing": "",
    "one part": "lamp E1\n",
    "one part that floats": "battery G1 60 Ah\n",
    "an empty circuit": 'lamp E1\ncircuit none "Nothing in it" { }\ncircuit a "A" { E1 }\n',
    "a circuit of points alone": "splice J1\nearth EP1\nconnector X1 2 way\n"
    'circuit a "A" { J1 EP1 X1 }\n',
    "a wire from a terminal to itself": "lamp E1\nwire E1.1 -> E1.1 1 mm2 RD\n",
    "a wire around a part": "lamp E1\nwire E1.1 -> E1.2 1 mm2 RD\n",
    "splices joined to splices": "splice J1\nsplice J2\nsplice J3\n"
    "wire J1 -> J2 1 mm2 RD\nwire J2 -> J3 1 mm2 RD\nwire J3 -> J1 1 mm2 RD\n",
    "a wire from metal to metal": "earth EP1\nearth EP2 on engine\nwire EP1 -> EP2 16 mm2 BK\n",
    "a splice with one leg": "lamp E1\nsplice J1\nwire E1.1 -> J1 1 mm2 RD\n",
    "a wire that ends in a plug": "lamp E1\nconnector X1 2 way\nwire E1.1 -> X1.1 1 mm2 RD\n",
    "a motor between two changeover switches": "motor-reversing M1\nchangeover-relay K1\n"
    "changeover-relay K2\nearth EP1\nblade-fuse F1 20 A\nbattery G1 60 Ah\n"
    "wire G1.+ -> F1.1 4 mm2 RD\nwire F1.2 -> K1.87 4 mm2 RD\nwire F1.2 -> K2.87 4 mm2 RD\n"
    "wire K1.87a -> EP1 4 mm2 BN\nwire K2.87a -> EP1 4 mm2 BN\nwire K1.30 -> M1.1 4 mm2 GN\n"
    "wire K2.30 -> M1.2 4 mm2 YE\nwire G1.- -> EP1 16 mm2 BK\n",
    "loops of lamps": "\n".join(
        [*(f"lamp E{n}" for n in range(8)),
         *(f"wire E{n}.2 -> E{(n + 1) % 8}.1 1 mm2 RD" for n in range(8)),
         *(f"wire E{n}.1 -> E{(n + 3) % 8}.2 1 mm2 BU" for n in range(8))]) + "\n",
    "forty fuses in a row": "\n".join(
        [*(f"blade-fuse F{n} 5 A" for n in range(40)),
         *(f"wire F{n}.2 -> F{n + 1}.1 1 mm2 RD" for n in range(39))]) + "\n",
    "sixty lamps on one splice": "splice J1\nearth EP1\n" + "\n".join(
        [*(f"lamp E{n}" for n in range(60)),
         *(f"wire J1 -> E{n}.1 1 mm2 RD\nwire E{n}.2 -> EP1 1 mm2 BN" for n in range(60))])
    + "\n",
    "a module with many pins": "module A1 {\n" + "\n".join(
        f'    pin {n} {role} "pin {n}"'
        for n, role in enumerate(["supply", "earth", *["low-side", "input", "signal"] * 40], 1))
    + "\n}\nearth EP1\n" + "\n".join(
        f"lamp E{n}\nwire A1.{n} -> E{n}.1 1 mm2 RD\nwire E{n}.2 -> EP1 1 mm2 BN"
        for n in range(3, 100, 3)) + "\n",
    "long names": "lamp a-lamp-with-a-name-of-quite-some-length-that-goes-on\n"
    "splice a-splice-with-a-name-of-quite-some-length-that-goes-on\n"
    "earth an-earth-point-with-a-name-of-quite-some-length-that-goes-on\n"
    "connector a-connector-with-a-name-of-quite-some-length-that-goes-on 2 way\n"
    "wire a-lamp-with-a-name-of-quite-some-length-that-goes-on.1 -> "
    "a-splice-with-a-name-of-quite-some-length-that-goes-on 1 mm2 RD\n"
    "wire a-lamp-with-a-name-of-quite-some-length-that-goes-on.2 -> "
    "a-connector-with-a-name-of-quite-some-length-that-goes-on.1 -> "
    "an-earth-point-with-a-name-of-quite-some-length-that-goes-on 1 mm2 RD\n",
    "two wires in one cavity": "lamp E1\nlamp E2\nlamp E3\nconnector X1 1 way\n"
    "wire E1.1 -> X1.a.1 1 mm2 RD\nwire E2.1 -> X1.a.1 1 mm2 RD\nwire X1.b.1 -> E3.1 1 mm2 RD\n",
    "supply and earth on one wire": "battery G1 60 Ah\nearth EP1\nwire G1.+ -> EP1 16 mm2 RD\n"
    "wire G1.- -> EP1 16 mm2 BK\n",
}  # fmt: skip


@pytest.mark.parametrize("text", ODD.values(), ids=ODD.keys())
def test_odd_vehicles(text: str) -> None:
    vehicle = load_string(text).vehicle
    pages = draw_schematics(vehicle)
    assert pages
    assert faults(judge(vehicle, pages)) == []


@pytest.mark.parametrize("size", ["A4", "A3"])
def test_one_paper_size_is_enough(size: str) -> None:
    vehicle = load(DEMO).vehicle
    pages = draw_schematics(vehicle, SchematicOptions(sizes=(size,)))
    assert {(page.width_mm, page.height_mm) for page in pages} <= {
        "A4": {(297.0, 210.0), (210.0, 297.0)},
        "A3": {(420.0, 297.0), (297.0, 420.0)},
    }[size]
    assert faults(judge(vehicle, pages)) == []


def test_the_demo_is_drawn_with_few_crossings_and_bends() -> None:
    vehicle = load(DEMO).vehicle
    report = judge(vehicle)
    assert faults(report) == []
    assert report.crossings_per_wire <= 0.15
    assert report.bends_per_wire <= 1.1
    assert report.smallest_capital_mm >= 1.8


@pytest.mark.parametrize("seed", [*range(12), -1])
def test_every_wired_terminal_that_is_drawn_has_a_wire_or_a_mark(seed: int) -> None:
    vehicle = load(DEMO).vehicle if seed < 0 else wild_vehicle(seed)
    plan = plan_sheets(read_wiring(vehicle))
    symbols: BlockCache = {}
    wired = {end.node for wire in vehicle.wires.values() for end in (wire.a, wire.b)}
    for sheet in plan.sheets:
        blocks = symbols_of(plan, sheet, symbols)
        for element in build_graph(plan, sheet, blocks, Annotations()).elements:
            for port in element.ports:
                if element.block is not None and port.node in wired:
                    assert port.pins, (sheet.title, port.node)


# ---- the same every time ------------------------------------------------------------------------

_SCRIPT = """
import hashlib, sys
from pathlib import Path
from harnessdsl.drawing.schematic import draw_schematics
from harnessdsl.drawing.svg import render_svg
from harnessdsl.pipeline import load_string
for name in sys.argv[1:]:
    for page in draw_schematics(load_string(Path(name).read_text()).vehicle):
        print(page.name, hashlib.sha256(render_svg(page).encode()).hexdigest())
"""


def test_the_same_vehicle_gives_the_same_bytes_whatever_the_hash_seed(tmp_path: Path) -> None:
    names = []
    for seed in (3, 11, 102):
        path = tmp_path / f"{seed}.harness"
        path.write_text(wild_text(seed, parts=25, wires=40), encoding="utf-8")
        names.append(str(path))
    outputs = {
        subprocess.run(
            [sys.executable, "-c", _SCRIPT, *names],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("0", "1", "4242")
    }
    assert len(outputs) == 1
    assert outputs.pop().count("\n") >= 3
