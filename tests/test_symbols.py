"""Symbols: every terminal once and on the grid, nothing on anything else, for any kind at all."""

from __future__ import annotations

import itertools
import math
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path as FilePath

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harnessdsl.drawing.block import GRID_MM, PORT_PITCH_MM, Block
from harnessdsl.drawing.compose.channel import is_clear, route
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Circle, Group, Polyline, Rect, Shape, Text
from harnessdsl.drawing.symbols import blocks_for, families
from harnessdsl.drawing.text_metrics import Box, text_box
from harnessdsl.model.kind import Actuator, Clause, Kind, Primitive, Side, Terminal
from harnessdsl.model.vehicle import Part
from harnessdsl.pipeline import load
from harnessdsl.quantity import Quantity
from harnessdsl.resources import data_folder

SLACK_MM = 0.05


# ---- reading a block back from its shapes


def flat(
    shapes: Sequence[Shape], dx: float = 0.0, dy: float = 0.0
) -> Iterator[tuple[Shape, float, float]]:
    for shape in shapes:
        if isinstance(shape, Group):
            yield from flat(shape.shapes, dx + shape.shift[0], dy + shape.shift[1])
        else:
            yield shape, dx, dy


def texts_of(block: Block) -> list[tuple[str, Box]]:
    found = []
    for shape, dx, dy in flat(block.shapes):
        if isinstance(shape, Text):
            x0, y0, x1, y1 = text_box(shape)
            found.append((shape.text, (x0 + dx, y0 + dy, x1 + dx, y1 + dy)))
    return found


Segment = tuple[float, float, float, float]


def outline_of(shape: Shape, dx: float, dy: float) -> tuple[list[tuple[float, float]], bool]:
    """Return a shape's points and whether it is closed."""
    if isinstance(shape, Polyline):
        return [(x + dx, y + dy) for x, y in shape.points], shape.closed
    if isinstance(shape, Rect):
        x, y, w, h = shape.x + dx, shape.y + dy, shape.width, shape.height
        return [(x, y), (x + w, y), (x + w, y + h), (x, y + h)], True
    if isinstance(shape, Circle):
        turns = [math.tau * i / 24 for i in range(24)]
        return [
            (shape.x + dx + shape.radius * math.cos(t), shape.y + dy + shape.radius * math.sin(t))
            for t in turns
        ], True
    return [], False


def segments_of(block: Block) -> list[Segment]:
    found: list[Segment] = []
    for shape, dx, dy in flat(block.shapes):
        points, closed = outline_of(shape, dx, dy)
        if closed:
            points = [*points, points[0]]
        found += [(*a, *b) for a, b in itertools.pairwise(points)]
    return found


def meets(segment: Segment, box: Box) -> bool:
    """Whether a segment runs through a box (Liang and Barsky's clipping)."""
    x0, y0, x1, y1 = segment
    low, high = 0.0, 1.0
    for step, start, least, most in ((x1 - x0, x0, box[0], box[2]), (y1 - y0, y0, box[1], box[3])):
        if abs(step) < 1e-12:
            if not least < start < most:
                return False
            continue
        a, b = sorted(((least - start) / step, (most - start) / step))
        low, high = max(low, a), min(high, b)
    return low < high


def overlap(a: Box, b: Box) -> bool:
    return (
        min(a[2], b[2]) - max(a[0], b[0]) > SLACK_MM
        and min(a[3], b[3]) - max(a[1], b[1]) > SLACK_MM
    )


def shrunk(box: Box) -> Box:
    return (box[0] + SLACK_MM, box[1] + SLACK_MM, box[2] - SLACK_MM, box[3] - SLACK_MM)


def faults(block: Block) -> list[str]:
    """Return what is wrong in the drawing of one block."""
    found = []
    texts = texts_of(block)
    for (one, a), (two, b) in itertools.combinations(texts, 2):
        if overlap(a, b):
            found.append(f"texts {one!r} and {two!r} overlap")
    segments = segments_of(block)
    for text, box in texts:
        if any(meets(segment, shrunk(box)) for segment in segments):
            found.append(f"a line runs through {text!r}")
        if not (
            block.x0 - SLACK_MM <= box[0]
            and block.y0 - SLACK_MM <= box[1]
            and box[2] <= block.x1 + SLACK_MM
            and box[3] <= block.y1 + SLACK_MM
        ):
            found.append(f"{text!r} sticks out of the block")
    for x0, y0, x1, y1 in segments:
        for x, y in ((x0, y0), (x1, y1)):
            # the ring of a terminal stands half out of the edge
            across = block.x0 - 0.1 <= x <= block.x1 + 0.1
            if not (across and block.y0 - 0.5 <= y <= block.y1 + 0.5):
                found.append(f"a line goes out of the block at {x:.2f}, {y:.2f}")
    for port in block.ports:
        if abs(port.x / GRID_MM - round(port.x / GRID_MM)) > 1e-9:
            found.append(f"port {port.terminal} is off the grid")
        if port.y != (block.y0 if port.side == "top" else block.y1):
            found.append(f"port {port.terminal} is not on the edge")
    for side in ("top", "bottom"):
        xs = sorted(port.x for port in block.ports if port.side == side)
        if any(b - a < PORT_PITCH_MM for a, b in itertools.pairwise(xs)):
            found.append(f"{side} ports stand too close")
    return found


# ---- the standard kinds


def standard_parts(folder: FilePath) -> dict[str, Part]:
    """Return a part of every standard kind that can stand alone, some on metal."""
    lines = ['vehicle "Test" { supply 12 V negative-earth }', 'place bay "Bay" at 1, 1, 1 mm']
    names = []
    for path in sorted(data_folder("kinds").glob("*.harness")):
        for line in path.read_text(encoding="utf-8").splitlines():
            if line.startswith("kind "):
                names.append(line.split()[1])
    for name in names:
        if name not in ("connector", "splice", "earth"):
            lines.append(f'{name} P-{name} "{name.replace("-", " ")}" in bay on engine')
    file = folder / "all.harness"
    file.write_text("\n".join(lines), encoding="utf-8")
    vehicle = load(file).vehicle
    assert vehicle is not None
    return dict(vehicle.parts)


@pytest.fixture(scope="module")
def parts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Part]:
    return standard_parts(tmp_path_factory.mktemp("kinds"))


def outer_terminals(part: Part) -> list[str]:
    return [n for n, t in part.kind.terminals.items() if t.role != "inner"]


def test_every_standard_kind_is_drawn_clean(parts: dict[str, Part]) -> None:
    assert len(parts) > 100
    wrong = {
        name: found
        for name, part in parts.items()
        if (found := [f for block in blocks_for(part) for f in faults(block)])
    }
    assert wrong == {}


def test_every_terminal_has_one_port_and_its_name_beside_it(parts: dict[str, Part]) -> None:
    for part in parts.values():
        for split in (False, True):
            blocks = blocks_for(part, split=split)
            ports = [port for block in blocks for port in block.ports]
            assert sorted(p.terminal for p in ports) == sorted(outer_terminals(part)), part.name
            assert all(p.node == f"{part.name}.{p.terminal}" for p in ports)
            shown = [text for block in blocks for text, _ in texts_of(block)]
            assert set(outer_terminals(part)) <= set(shown), part.name
            assert [f for block in blocks for f in faults(block)] == [], part.name
            for name, terminal in part.kind.terminals.items():
                side = {"upper": "top", "lower": "bottom"}.get(terminal.side.value)
                if side and terminal.role != "inner" and not terminal.case:
                    assert next(p.side for p in ports if p.terminal == name) == side


def test_a_part_drawn_in_portions_shows_each_terminal_on_one_of_them(
    parts: dict[str, Part],
) -> None:
    for part in parts.values():
        names = outer_terminals(part)
        for wanted in ({n} for n in names) if len(names) < 14 else [set(names[:5])]:
            blocks = blocks_for(part, frozenset(wanted))
            assert {p.terminal for b in blocks for p in b.ports} == wanted, part.name
            assert [f for block in blocks for f in faults(block)] == [], (part.name, wanted)


def test_a_terminal_that_the_kind_does_not_know_is_drawn(parts: dict[str, Part]) -> None:
    (block,) = blocks_for(parts["P-relay"], frozenset({"30", "99"}))
    assert {p.terminal for p in block.ports} == {"30", "99"}
    assert faults(block) == []


def test_a_case_on_metal_has_a_port_only_for_a_wire(parts: dict[str, Part]) -> None:
    part = parts["P-starter"]
    assert part.conductor == "engine"
    for wired, ports in (({"30", "50"}, {"30", "50"}), ({"30", "31"}, {"30", "50", "31"})):
        (block,) = blocks_for(part, wired=frozenset(wired))
        assert {p.terminal for p in block.ports} == ports
        shown = {word for text, _ in texts_of(block) for word in text.split()}
        assert {"30", "50", "31", "engine"} <= shown
        assert faults(block) == []


def test_battery_is_turned_where_plus_is_earth(parts: dict[str, Part]) -> None:
    for positive_earth, upper in ((False, "+"), (True, "-")):
        (block,) = blocks_for(parts["P-battery"], positive_earth=positive_earth)
        assert {p.terminal: p.side for p in block.ports}[upper] == "top"
        assert len({p.side for p in block.ports}) == 2
        assert faults(block) == []
    (lamp,) = blocks_for(parts["P-lamp"], positive_earth=True)
    assert {p.terminal: p.side for p in lamp.ports} == {"1": "top", "2": "bottom"}


def test_relay_is_parted_into_coil_and_contact(parts: dict[str, Part]) -> None:
    blocks = blocks_for(parts["P-relay-diode"], split=True)
    assert sorted(sorted(p.terminal for p in b.ports) for b in blocks) == [
        ["30", "87"],
        ["85", "86"],
    ]
    assert len({b.name for b in blocks}) == 2


def elements_of(part: Part, wanted: frozenset[str] | None = None) -> list[str]:
    pool = Pool(part, wanted)
    return [element.name.split(" ")[0] for _, take in families() for element in take(pool)]


@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("blade-fuse", ["fuse"]),
        ("fusible-link", ["link"]),
        ("changeover-relay", ["changeover", "coil", "resistor"]),
        ("two-speed-motor", ["motor"]),
        ("headlamp-bulb", ["filament", "filament"]),
        ("ignition-coil", ["transformer"]),
        ("spark-plug", ["spark", "case"]),
        ("battery", ["source"]),
        ("alternator", ["generator", "winding", "contact", "case"]),
        ("unknown", ["box"]),
        ("gauge", ["dial"]),
        ("horn", ["speaker"]),
        ("wiper-motor", ["motor", "contact", "contact"]),
    ],
)
def test_families_recognise_what_a_kind_is_made_of(
    parts: dict[str, Part], kind: str, expected: list[str]
) -> None:
    assert sorted(elements_of(parts[f"P-{kind}"])) == sorted(expected)


def test_the_name_of_a_kind_decides_nothing(parts: dict[str, Part]) -> None:
    from dataclasses import replace

    for part in parts.values():
        other = replace(part, kind=replace(part.kind, name="something-else"))
        first, second = blocks_for(part), blocks_for(other)
        assert [b.ports for b in first] == [b.ports for b in second]
        assert [s for b in first for s in segments_of(b)] == [
            s for b in second for s in segments_of(b)
        ]


def test_contacts_stand_at_rest(parts: dict[str, Part]) -> None:
    """IEC 61082-1: contacts are shown in the position without action, relays de-energised
    (from memory)."""
    from harnessdsl.drawing.symbols.contact import closed_at_rest

    def rest(kind: str) -> dict[str, bool]:
        pool = Pool(parts[f"P-{kind}"], None)
        return {
            f"{p.a}-{p.b}": closed_at_rest(pool, p)
            for p in pool.primitives
            if p.type == "contact"
        }

    assert rest("changeover-relay") == {"30-87": False, "30-87a": True}
    assert rest("dip-switch") == {"56-56b": True, "56-56a": False}
    assert rest("ignition-lock") == {"30-15": False, "30-75": False, "30-50": False}
    assert rest("thermo-switch-break") == {"1-2": True}
    assert rest("thermo-switch") == {"1-2": False}
    assert rest("oil-pressure-switch") == {"1-31": True}
    assert rest("inertia-switch") == {"1-2": True}
    assert rest("door-switch") == {"1-31": False}


# ---- channels against an independent graph

Nets = dict[str, tuple[frozenset[float], frozenset[float]]]


@st.composite
def channels(draw: st.DrawFn) -> Nets:
    """Random nets with ends above and below a channel, no two ends at one place of one side."""
    names = [f"n{i}" for i in range(draw(st.integers(1, 6)))]
    places = list(range(0, 60, 5))
    above = draw(st.lists(st.sampled_from(names), min_size=1, max_size=10))
    below = draw(st.lists(st.sampled_from(names), min_size=1, max_size=10))
    ups = draw(st.permutations(places))[: len(above)]
    downs = draw(st.permutations(places))[: len(below)]
    nets: dict[str, tuple[set[float], set[float]]] = {}
    for name, x in zip(above, ups, strict=True):
        nets.setdefault(name, (set(), set()))[0].add(float(x))
    for name, x in zip(below, downs, strict=True):
        nets.setdefault(name, (set(), set()))[1].add(float(x))
    return {name: (frozenset(a), frozenset(b)) for name, (a, b) in nets.items()}


@settings(max_examples=150, deadline=None, derandomize=True)
@given(channels())
def test_a_channel_joins_what_belongs_together_and_nothing_else(nets: Nets) -> None:
    """Read the drawn lines back as a graph (networkx): ends that touch are joined, lines that
    cross are joined only where there is a dot."""
    if not is_clear(nets):
        return
    top, bottom = 0.0, 20.0
    shapes = route(nets).shapes(top, bottom)
    lines = [s.points for s in shapes if isinstance(s, Polyline)]
    dots = {(s.x, s.y) for s in shapes if isinstance(s, Circle)}
    graph: networkx.Graph[object] = networkx.Graph()
    for index, line in enumerate(lines):
        graph.add_node(("line", index))
        for end in (line[0], line[-1]):
            graph.add_edge(("line", index), ("at", end))
    for (i, a), (j, b) in itertools.combinations(enumerate(lines), 2):
        if a == b or _run_together(a, b):
            pytest.fail(f"{a} and {b} lie on each other")
        for end, line in ((e, o) for one, o in ((a, b), (b, a)) for e in (one[0], one[-1])):
            if _inside(end, line):
                assert end in dots, f"{end} ends on {line} without a dot"
                graph.add_edge(("line", i), ("line", j))
    expected = {name: {("at", (x, top)) for x in ups} | {("at", (x, bottom)) for x in downs}
                for name, (ups, downs) in nets.items()}  # fmt: skip
    for name, ends in expected.items():
        if len(ends) < 2:
            continue
        part = networkx.node_connected_component(graph, min(ends))
        assert ends <= part, name
        for other, foreign in expected.items():
            assert other == name or not foreign & part, (name, other)


def _inside(point: tuple[float, float], line: Sequence[tuple[float, float]]) -> bool:
    (x0, y0), (x1, y1) = sorted((line[0], line[-1]))
    x, y = point
    if abs(x0 - x1) < 1e-9:
        return abs(x - x0) < 1e-9 and min(y0, y1) + 1e-9 < y < max(y0, y1) - 1e-9
    return abs(y - y0) < 1e-9 and x0 + 1e-9 < x < x1 - 1e-9


def _run_together(a: Sequence[tuple[float, float]], b: Sequence[tuple[float, float]]) -> bool:
    for axis in (0, 1):
        flat_a = abs(a[0][axis] - a[-1][axis]) < 1e-9
        flat_b = abs(b[0][axis] - b[-1][axis]) < 1e-9
        if flat_a and flat_b and abs(a[0][axis] - b[0][axis]) < 1e-9:
            low_a, high_a = sorted((a[0][1 - axis], a[-1][1 - axis]))
            low_b, high_b = sorted((b[0][1 - axis], b[-1][1 - axis]))
            if min(high_a, high_b) - max(low_a, low_b) > 1e-9:
                return True
    return False


# ---- random kinds

TYPES = (
    "contact", "coil", "resistor", "filament", "heater", "motor", "solenoid", "load", "led",
    "diode", "capacitor", "speaker", "inductor", "winding", "fuse", "breaker", "link", "source",
    "alternator", "thermistor", "joint",
)  # fmt: skip
FAMILIES = ("relay", "switch", "lamp", "motor", "load", "module", "gauge", "sender", "ignition",
            "antenna", "unknown", "battery")  # fmt: skip
NAMES = ("30", "87a", "B+", "up-left", "58L", "W", "31", "5", "pump relay", "Ω<&>")


@st.composite
def random_parts(draw: st.DrawFn) -> Part:
    terminals: dict[str, Terminal] = {}
    for name in NAMES[: draw(st.integers(0, len(NAMES)))]:
        role = draw(st.sampled_from(("", "", "", "", "inner", "low-side")))
        terminals[name] = Terminal(
            name,
            draw(st.sampled_from(list(Side))),
            label=draw(st.sampled_from(("", "", "from the left door"))),
            role=role,
            case=draw(st.booleans()) and not role,
        )
    actuators = {
        "main": Actuator("main", ("off", "on"), "off"),
        "turn": Actuator("turn", ("left", "amidships", "right"), "amidships", ("left",)),
    }
    clauses = st.sampled_from(
        (
            Clause("main", ("on",)),
            Clause("main", ("off",)),
            Clause("turn", ("left", "right")),
            Clause("turn", ("amidships",)),
            Clause("coil", ("energised",)),
            Clause("coil", ("released",)),
            Clause("heat", ("hot",)),
            Clause("motion", ("running",)),
            Clause("nobody", ("there",)),
        )
    )
    primitives: list[Primitive] = []
    if terminals:
        for index in range(draw(st.integers(0, 9))):
            kind = draw(st.sampled_from(TYPES))
            primitives.append(
                Primitive(
                    kind,
                    draw(st.sampled_from(list(terminals))),
                    draw(st.sampled_from(list(terminals))),
                    name=draw(st.sampled_from(("", f"p{index}"))),
                    figures={("", "current"): Quantity.of(5, "A")},
                    clauses=tuple(draw(st.lists(clauses, max_size=2))) if kind == "contact" else (),
                )
            )
    return Part(
        "K1",
        "A thing of one's own",
        Kind(
            "own",
            family=draw(st.sampled_from(FAMILIES)),
            terminals=terminals,
            primitives=tuple(primitives),
            actuators=actuators,
        ),
        conductor=draw(st.sampled_from(("", "body", "engine"))),
    )


@settings(max_examples=250, deadline=None, derandomize=True)
@given(random_parts(), st.booleans(), st.booleans())
def test_any_kind_is_drawn_clean(part: Part, split: bool, some: bool) -> None:
    outer = outer_terminals(part)
    wanted = frozenset(outer[::2]) if some else None
    blocks = blocks_for(part, wanted, split)
    ports = sorted(port.terminal for block in blocks for port in block.ports)
    assert ports == sorted(outer if wanted is None else wanted)
    assert [fault for block in blocks for fault in faults(block)] == []
    assert [b.ports for b in blocks_for(part, wanted, split)] == [b.ports for b in blocks]


def test_same_drawing_whatever_the_hash_seed(tmp_path: FilePath) -> None:
    script = (
        "import sys, pathlib; sys.path.insert(0, 'tests')\n"
        "from test_symbols import standard_parts\n"
        "from harnessdsl.drawing.scene import Page\n"
        "from harnessdsl.drawing.svg import render_svg\n"
        "from harnessdsl.drawing.symbols import blocks_for\n"
        "parts = standard_parts(pathlib.Path(sys.argv[1]))\n"
        "shapes = tuple(s for p in parts.values() for b in blocks_for(p) for s in b.shapes)\n"
        "sys.stdout.write(render_svg(Page('all', 100, 100, shapes)))\n"
    )
    outputs = {
        subprocess.run(
            [sys.executable, "-c", script, str(tmp_path)],
            capture_output=True,
            check=True,
            cwd=FilePath(__file__).parent.parent,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": "."},
        ).stdout
        for seed in ("1", "77")
    }
    assert len(outputs) == 1
    assert len(outputs.pop()) > 100_000
