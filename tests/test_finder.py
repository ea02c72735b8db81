"""The finder's answers against an independent graph search with networkx.

The graph here is built from the wires and kinds alone, not from the product's topology.
"""

from __future__ import annotations

from pathlib import Path

import networkx
import pytest
from click.testing import CliRunner

from harnessdsl.book.answer import part_lines, wires_like
from harnessdsl.cli.main import main
from harnessdsl.model.feeds import Feeds
from harnessdsl.pipeline import load

DEMO = Path(__file__).parent.parent / "examples" / "tourer" / "tourer.harness"
VEHICLE = load(DEMO).vehicle
FEEDS = Feeds(VEHICLE)
LOADS = {"filament", "heater", "motor", "solenoid", "load", "led", "speaker", "winding", "coil"}
FUSES = {"fuse", "breaker", "link"}


def node(part: str, terminal: str) -> str:
    return f"{part}.{terminal}" if terminal else part


def joints() -> networkx.Graph:
    """Wires, plugs, bars, bonds to metal: what always conducts."""
    graph = networkx.Graph()
    for wire in VEHICLE.wires.values():
        ends = []
        for end in (wire.a, wire.b):
            ends.append(f"{end.part}.{end.half}.{end.terminal}" if end.half
                        else node(end.part, end.terminal))
        graph.add_edge(*ends)
    for part in VEHICLE.parts.values():
        if part.connector is not None and not part.connector.of:
            for cavity in part.connector.cavities:
                graph.add_edge(f"{part.name}.a.{cavity}", f"{part.name}.b.{cavity}")
            continue
        for terminal in part.kind.terminals.values():
            graph.add_node(node(part.name, terminal.name))
            if part.conductor and (terminal.case or part.family == "earth"):
                graph.add_edge(node(part.name, terminal.name), "metal " + part.conductor)
        for primitive in part.kind.primitives:
            if primitive.type == "joint":
                graph.add_edge(node(part.name, primitive.a), node(part.name, primitive.b))
    return graph


JOINTS = joints()
METAL = [n for n in JOINTS if n.startswith("metal ")]
EARTHED = set().union(*(networkx.node_connected_component(JOINTS, n) for n in METAL))


def conducting() -> networkx.Graph:
    """The joints, with every contact closed and every fuse whole."""
    graph = JOINTS.copy()
    for part in VEHICLE.parts.values():
        for primitive in part.kind.primitives:
            if primitive.type in FUSES | {"contact"}:
                graph.add_edge(node(part.name, primitive.a), node(part.name, primitive.b))
    return graph


def live_nodes() -> set[str]:
    return {node(part.name, p.a) for part in VEHICLE.parts.values()
            for p in part.kind.primitives if p.type in ("source", "alternator")}


CONDUCTING = conducting()
ABOVE = CONDUCTING.subgraph(set(CONDUCTING) - EARTHED)
LIVE_SIDE = set().union(*(networkx.node_connected_component(JOINTS, n) for n in live_nodes()))
BELOW = CONDUCTING.subgraph(set(CONDUCTING) - LIVE_SIDE)
DISTANCE = networkx.multi_source_dijkstra_path_length(ABOVE, live_nodes())
EARTH_DISTANCE = networkx.multi_source_dijkstra_path_length(BELOW, set(METAL))
TERMINALS = [node(p.name, t) for p in VEHICLE.parts.values() if p.connector is None
             for t in p.kind.terminals]


def test_every_terminal_has_the_shortest_feed_that_networkx_finds():
    for terminal in TERMINALS:
        route = FEEDS.feed(terminal)
        assert (route is not None) == (terminal in DISTANCE), terminal
        if route is not None:
            assert len(route.edges) == DISTANCE[terminal]
            for a, b in zip(route.nodes(), route.nodes()[1:], strict=False):
                assert ABOVE.has_edge(a, b)


def test_every_terminal_has_the_shortest_way_to_earth_that_networkx_finds():
    for terminal in TERMINALS:
        route = FEEDS.earth(terminal)
        assert (route is not None) == (terminal in EARTH_DISTANCE), terminal
        if route is not None:
            assert len(route.edges) == EARTH_DISTANCE[terminal]


def downstream(fuse: str) -> set[str]:
    """What a fuse feeds: a directed graph in which contacts and fuses lead away from the supply,
    and contacts also the way that their kind writes them."""
    arcs = networkx.DiGraph()
    for a, b in JOINTS.edges:
        arcs.add_edge(a, b)
        arcs.add_edge(b, a)
    starts = set()
    for part in VEHICLE.parts.values():
        for p in part.kind.primitives:
            if p.type not in FUSES | {"contact"}:
                continue
            a, b = node(part.name, p.a), node(part.name, p.b)
            if part.name == fuse and p.type in FUSES:
                far = max(a, b, key=lambda n: (DISTANCE.get(n, 1e9), n == b))
                starts.add(far)
                continue
            for x, y in ((a, b), (b, a)):
                written = p.type == "contact" and x == a
                if part.name != fuse and (written or DISTANCE.get(y, 0) > DISTANCE.get(x, 0)):
                    arcs.add_edge(x, y)
    allowed = arcs.subgraph((set(arcs) | starts) - EARTHED - LIVE_SIDE)
    found = set()
    for start in starts & set(allowed):
        found |= {start} | networkx.descendants(allowed, start)
    return found


FUSE_NAMES = [p.name for p in VEHICLE.parts.values()
              if any(x.type in FUSES for x in p.kind.primitives)]


@pytest.mark.parametrize("fuse", FUSE_NAMES)
def test_what_a_fuse_feeds_agrees(fuse: str):
    nodes = downstream(fuse)
    expected = [part.name for part in VEHICLE.parts.values()
                if part.name != fuse and any(
                    p.type in LOADS and {node(part.name, p.a), node(part.name, p.b)} & nodes
                    for p in part.kind.primitives)]
    assert FEEDS.fed_by(fuse) == expected


def test_shared_earth_points_agree():
    """Loads on an earth point: networkx's nearest earth point or case along the shortest way."""
    for part in VEHICLE.parts.values():
        for point in FEEDS.earth_points_of(part.name):
            target = "metal " + (point[1:] if point.startswith("@")
                                 else VEHICLE.parts[point].conductor)
            assert any(networkx.has_path(BELOW, node(part.name, t), target)
                       for t in part.kind.terminals if node(part.name, t) in BELOW) or (
                part.connector is not None)


def test_answer_names_every_wire_at_each_pin():
    for part in VEHICLE.parts.values():
        lines = part_lines(VEHICLE, part.name, FEEDS)
        text = "\n".join(lines)
        ends = [wire for wire in VEHICLE.wires.values() if part.name in (wire.a.part, wire.b.part)]
        start = lines.index("wires:") + 1
        wire_rows = [line for line in lines[start:] if line.startswith("  ") and "->" in line
                     and "(" in line]
        both = sum(wire.a.part == wire.b.part for wire in ends)
        assert len(wire_rows) >= len(ends), text
        assert len(wire_rows) == len(ends) + both or part.family in ("fuse", "link"), text


def test_wires_seen_in_the_car_are_found_by_colour_size_and_place():
    wire = next(w for w in VEHICLE.wires.values() if "/" in w.colour)
    found = wires_like(VEHICLE, wire.colour, wire.area_mm2, VEHICLE.parts[wire.a.part].place)
    assert wire in found
    for other in found:
        assert other.colour == wire.colour
        assert abs(other.area_mm2 - wire.area_mm2) <= 0.1 * wire.area_mm2


def test_command_answers_and_suggests():
    part = next(iter(VEHICLE.parts))
    result = CliRunner().invoke(main, ["find", str(DEMO), part])
    assert result.exit_code == 0 and result.output.startswith(part)
    wrong = CliRunner().invoke(main, ["find", str(DEMO), part + "x"])
    assert wrong.exit_code == 1 and "did you mean" in wrong.output
