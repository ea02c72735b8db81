"""The examples and the standard kinds: complete, readable, named as the standards name things."""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import networkx as nx
import pytest

from harnessdsl.diagnostics import Severity
from harnessdsl.model.kind import LOAD_TYPES, Kind
from harnessdsl.model.kind_shelf import shipped_kinds
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import Result, check_result, load, load_string
from harnessdsl.resources import data_folder

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"
TOURER = EXAMPLES / "tourer" / "tourer.harness"
ALONE = sorted(EXAMPLES.glob("*.harness"))


@cache
def loaded(path: Path) -> Result:
    return load(path)


@cache
def tourer() -> Vehicle:
    return loaded(TOURER).vehicle


@cache
def kinds() -> dict[str, Kind]:
    """Every shipped kind, by way of a text that uses each once."""
    names = [
        line.split()[1]
        for path in sorted(data_folder("kinds").glob("*.harness"))
        for line in path.read_text(encoding="utf-8").splitlines()
        if line.startswith("kind ")
    ]
    lines = ['vehicle "All kinds" { supply 12 V negative-earth }']
    for number, name in enumerate(names):
        ways = " 2 way" if name == "connector" else ""
        lines.append(f"{name} P{number}{ways}")
    result = load_string("\n".join(lines))
    assert result.diagnostics == []
    return {name: result.vehicle.parts[f"P{n}"].kind for n, name in enumerate(names)}


@pytest.mark.parametrize("path", [TOURER, *ALONE], ids=lambda path: path.stem)
def test_example_loads_without_a_message(path: Path) -> None:
    result = loaded(path)
    assert result.diagnostics == []
    assert result.vehicle.parts and result.vehicle.wires


def test_demo_is_a_whole_car() -> None:
    vehicle = tourer()
    families = Counter(part.family for part in vehicle.parts.values())
    assert len(vehicle.parts) - families["splice"] - families["earth"] >= 160
    assert len(vehicle.wires) >= 370
    assert families["connector"] >= 28
    assert families["earth"] >= 12
    boxes = [place for place in vehicle.places.values() if place.slots]
    assert len(boxes) >= 3
    assert len(vehicle.circuits) >= 22
    assert len(vehicle.conditions) >= 12
    assert any(cable.screened for cable in vehicle.cables.values())
    assert any(cable.twisted for cable in vehicle.cables.values())
    assert any(run.grommets for run in vehicle.runs.values())


def test_demo_has_the_systems_of_a_car_of_the_eighties() -> None:
    """Kinds that such a car cannot do without, each as often as it is fitted."""
    count = Counter(part.kind.name for part in tourer().parts.values())
    wanted = {
        "battery": 1, "alternator": 1, "starter": 1, "ignition-coil": 1, "module": 1,
        "injector": 4, "fuel-pump": 1, "inertia-switch": 1, "thermo-switch": 1, "fan-motor": 1,
        "resistor-pack": 1, "blower-motor": 1, "headlamp-bulb": 2, "side-lamp": 2, "tail-lamp": 2,
        "fog-lamp": 2, "rear-fog-lamp": 2, "reversing-lamp": 2, "stop-lamp": 2, "turn-lamp": 4,
        "hazard-switch": 1, "flasher": 1, "interior-lamp": 2, "door-switch": 5, "horn": 2,
        "wiper-motor": 1, "rear-wiper-motor": 1, "washer-pump": 2, "heated-window": 1,
        "window-motor": 4, "master-window-switch": 1, "door-window-switch": 3, "lock-control": 1,
        "mirror-drive-heated": 2, "radio": 1, "cigar-lighter": 1, "trailer-socket": 1,
    }
    assert {kind: count[kind] for kind in wanted} == wanted
    assert count["warning-lamp"] >= 8


def test_demo_boxes_hold_empty_and_unknown_slots() -> None:
    vehicle = tourer()
    taken = {(p.place, p.slot): p for p in vehicle.parts.values() if p.slot}
    empty = unknown = 0
    for place in vehicle.places.values():
        for slot in place.slots:
            part = taken.get((place.name, slot))
            empty += part is None
            unknown += part is not None and part.family == "unknown"
    assert empty >= 3
    assert unknown >= 2


def test_demo_says_everything_about_each_wire() -> None:
    vehicle = tourer()
    lacking = [w.name for w in vehicle.wires.values()
               if w.area_mm2 is None or not w.colour or w.length_m is None]
    assert lacking == []


def test_demo_evidence_is_about_half_verified() -> None:
    trusts = [wire.evidence for wire in tourer().wires.values()]
    assert all(evidence.stated for evidence in trusts)
    verified = sum(evidence.verified for evidence in trusts) / len(trusts)
    assert 0.4 <= verified <= 0.75
    assert {evidence.trust.word for evidence in trusts} == {
        "guessed", "copied", "traced", "measured"}


def test_demo_every_part_has_a_place_and_a_circuit() -> None:
    vehicle = tourer()
    listed = {name for circuit in vehicle.circuits.values() for name in circuit.parts}
    assert [name for name in vehicle.parts if name not in listed] == []
    assert [part.name for part in vehicle.parts.values() if not part.place] == []
    reached = [place.name for place in vehicle.places.values() if not place.reach]
    assert reached == []


@pytest.mark.parametrize("stem", ["motorcycle", "van-second-battery"])
def test_small_examples_are_read_in_a_minute(stem: str) -> None:
    """About 250 words a minute: common practice, no source."""
    lines = (EXAMPLES / f"{stem}.harness").read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 70


def test_motorcycle_has_plus_to_earth() -> None:
    vehicle = loaded(EXAMPLES / "motorcycle.harness").vehicle
    assert vehicle.positive_earth
    assert vehicle.nominal_v == 6.0


@pytest.mark.parametrize("stem", ["tourer/tourer", "motorcycle", "van-second-battery"])
def test_healthy_examples_have_no_finding(stem: str) -> None:
    result = check_result(loaded(EXAMPLES / f"{stem}.harness"))
    worse = [d for d in result.diagnostics
             if d.severity > Severity.NOTE and d.accepted is None]
    assert [(d.code, d.subject) for d in worse] == []


# What a mechanic would call each mistake, in the order of the file, and the finding for it.
PLANTED = (
    "fuse-exceeds-wire", "floating-earth", "wire-too-short", "unfused-load", "coil-unsuppressed",
    "relay-terminals", "mating-halves", "cavity-used-twice", "fuse-slot", "slot-taken-twice",
    "slot-missing", "backfeed", "always-fed", "splice-one-leg", "never-fed", "part-never-wired",
    "direct-short", "earth-path-missing",
)


def test_planted_mistakes_are_found_where_they_are() -> None:
    path = EXAMPLES / "planted-mistakes.harness"
    starts = [number for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
              if line.startswith("# ") and line[2:].split(".")[0].isdigit()]
    assert len(starts) == len(PLANTED)
    worse = [d for d in check_result(loaded(path)).diagnostics if d.severity > Severity.NOTE]
    found = {(sum(start <= d.span.line for start in starts), d.code) for d in worse}
    assert set(enumerate(PLANTED, 1)) <= found
    assert {number for number, _ in found} == set(range(1, len(PLANTED) + 1))


def _graph(vehicle: Vehicle) -> nx.MultiGraph:
    """An electrical graph made from the facts alone, apart from the project's own topology."""
    graph = nx.MultiGraph()
    for part in vehicle.parts.values():
        if part.connector is not None:
            for cavity in part.connector.cavities:
                graph.add_edge(f"{part.name}.a.{cavity}", f"{part.name}.b.{cavity}")
            continue
        for terminal in part.kind.terminals.values():
            node = f"{part.name}.{terminal.name}" if terminal.name else part.name
            if part.conductor and (terminal.case or part.family == "earth"):
                graph.add_edge(node, f"metal {part.conductor}")
        for primitive in part.kind.primitives:
            if primitive.type not in ("capacitor", "source", "alternator"):
                graph.add_edge(f"{part.name}.{primitive.a}", f"{part.name}.{primitive.b}",
                               primitive=primitive)
    for wire in vehicle.wires.values():
        graph.add_edge(wire.a.node, wire.b.node)
    return graph


@pytest.mark.parametrize("stem", ["tourer/tourer", "motorcycle", "van-second-battery"])
def test_every_load_lies_on_a_way_from_battery_to_battery(stem: str) -> None:
    """networkx finds, with every contact closed, a simple way through each load: plus and minus
    are joined by one more edge, and then the load must lie on a cycle (not be a bridge)."""
    vehicle = loaded(EXAMPLES / f"{stem}.harness").vehicle
    graph = _graph(vehicle)
    battery = next(p.name for p in vehicle.parts.values() if p.family == "battery")
    graph.add_edge(f"{battery}.+", f"{battery}.-")
    simple = nx.Graph(graph)
    home = nx.node_connected_component(simple, f"{battery}.+")
    bridges = {frozenset(edge) for edge in nx.bridges(simple)}
    lost = []
    for a, b, data in graph.edges(data=True):
        primitive = data.get("primitive")
        if primitive is None or primitive.type not in (*LOAD_TYPES, "coil"):
            continue
        part = vehicle.parts[a.split(".")[0]]
        if part.family in ("speaker",) or "high voltage" in str(primitive.name) or (
                primitive.name == "secondary"):
            continue  # no direct current flows in these
        if a not in home or frozenset((a, b)) in bridges:
            lost.append((part.name, primitive.type, primitive.name))
    assert lost == []


# ---- standard kinds ------------------------------------------------------------------------------

# DIN 72552-2, from memory, checked against published lists of it: terminal and what it is.
DIN_72552 = {
    "1": "ignition coil, low voltage", "4": "ignition coil, high voltage",
    "7": "ballast resistor to distributor",
    "15": "switched plus", "15a": "behind the ballast resistor", "17": "glow start",
    "19": "preheat", "30": "battery plus", "30a": "plus of the second battery",
    "31": "battery minus, earth", "31a": "minus of the second battery",
    "31b": "to minus by way of a switch", "32": "motor return", "33": "motor main",
    "33f": "motor, lower speed", "33L": "motor, anti-clockwise", "33R": "motor, clockwise",
    "45": "starter relay output", "49": "flasher input", "49a": "flasher output",
    "50": "starter control", "53": "wiper", "53a": "wiper, park", "53b": "wiper, shunt",
    "53c": "washer pump", "53e": "wiper, brake", "54": "stop lamps", "54g": "trailer valve",
    "55": "fog lamps", "56": "headlamp", "56a": "main beam", "56b": "dipped beam",
    "56d": "headlamp flash", "57": "parking lamp", "58": "side lamps", "58L": "left side lamps",
    "58R": "right side lamps", "58d": "dimmed instrument lamps", "61": "charge telltale",
    "71": "tone sequence, input", "75": "radio, lighter", "76": "loudspeaker",
    "82": "make switch, input", "82a": "make switch, output", "83": "multi-position, input",
    "83a": "first position", "83b": "second position", "85": "relay coil, end",
    "86": "relay coil, start", "87": "relay contact", "87a": "relay contact, break",
    "87b": "relay contact, second", "B+": "battery plus", "B-": "battery minus",
    "D+": "dynamo plus", "D-": "dynamo minus", "DF": "field", "W": "alternator phase",
    "L": "left turn lamps", "R": "right turn lamps", "C": "turn telltale",
}

# Which of these a kind must have: DIN 72552-2 as above; relays as on real relays (30 common,
# 87 make, 87a break), which ISO 7588-1 numbers 3, 5 and 4, from memory.
EXPECTED = {
    "relay": "30 85 86 87", "relay-diode": "30 85 86 87", "relay-resistor": "30 85 86 87",
    "relay-break": "30 85 86 87a", "changeover-relay": "30 85 86 87 87a",
    "two-output-relay": "30 85 86 87 87b", "twin-make-relay": "30 85 86 87 87b",
    "flasher": "31 49 49a", "flasher-pilot": "31 49 49a C", "ignition-lock": "15 30 50 75",
    "ignition-lock-diesel": "15 17 19 30 50", "dip-switch": "56 56a 56b",
    "turn-switch": "49a L R", "stalk": "30 49a 56 56a 56b L R", "changeover-switch": "83 83a 83b",
    "headlamp-bulb": "31 56a 56b", "stop-tail-lamp": "31 54 58", "fog-lamp": "31 55",
    "wiper-motor": "31 53 53a 53b 53e", "washer-pump": "31 53c", "starter": "30 31 50",
    "starter-solenoid": "30 31 45 50", "ignition-coil": "1 15 4", "ballast-resistor": "15 15a",
    "two-speed-motor": "31 33 33f", "window-motor": "33L 33R", "alternator": "B+ B- D+",
    "alternator-w": "B+ B- D+ W", "alternator-separate": "B+ D+ D- DF", "dynamo": "D+ D- DF",
    "dynamo-regulator": "B+ D+ D- DF", "dimmer": "58 58d", "cigar-lighter": "31 75",
}

# ISO 1724 (12 N socket), from memory.
ISO_1724 = {"1": "L", "2": "54g", "3": "31", "4": "R", "5": "58R", "6": "54", "7": "58L"}

# ISO 7588-1, from memory.
ISO_7588 = {"1": "86", "2": "85", "3": "30", "4": "87a", "5": "87"}

# Reference letters by DIN 40719-2, the older set that vehicle diagrams use, from memory.
LETTERS = {
    "battery": "G", "alternator": "G", "fuse": "F", "breaker": "F", "link": "F", "relay": "K",
    "motor": "M", "gauge": "P", "diode": "V", "connector": "X",
}


def test_there_are_enough_kinds() -> None:
    assert len(kinds()) >= 45
    assert len(shipped_kinds().names()) == len(kinds())


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_terminals_follow_din_72552(name: str) -> None:
    wanted = EXPECTED[name].split()
    assert set(wanted) <= DIN_72552.keys()
    own = [t.name for t in kinds()[name].terminals.values() if t.role != "inner"]
    assert sorted(own) == sorted(wanted)


def test_every_kind_has_what_a_drawing_needs() -> None:
    for name, kind in kinds().items():
        assert kind.label, name
        assert kind.letter.isalpha(), name
        assert kind.terminals or kind.any_terminals or kind.family in (
            "module", "connector", "splice", "earth"), name
        aliases = [a for t in kind.terminals.values() for a in t.aliases]
        assert len(aliases) == len(set(aliases)), name
        assert not set(aliases) & set(kind.terminals), name


def test_reference_letters_by_the_older_set() -> None:
    for name, kind in kinds().items():
        wanted = LETTERS.get(kind.family)
        if wanted is None or name in ("power-antenna", "accessory-socket"):
            continue
        assert kind.letter == wanted, name


def test_trailer_socket_is_numbered_by_iso_1724() -> None:
    socket = kinds()["trailer-socket"]
    found = {number: socket.terminal(number) for number in ISO_1724}
    assert {n: t.name for n, t in found.items() if t is not None} == ISO_1724


def test_relay_is_numbered_by_iso_7588() -> None:
    relay = kinds()["changeover-relay"]
    found = {number: relay.terminal(number) for number in ISO_7588}
    assert {n: t.name for n, t in found.items() if t is not None} == ISO_7588


def test_relay_diode_has_its_cathode_at_86() -> None:
    """Diode relays: 86 is strictly plus (relay catalogues, from memory)."""
    for name in ("relay-diode", "start-inhibit-relay", "pump-relay"):
        diode = next(p for p in kinds()[name].primitives if p.type == "diode")
        assert (diode.a, diode.b) == ("85", "86")


@pytest.mark.parametrize(
    ("name", "watt", "volt"),
    [
        # UN Regulation 37, nominal power and test voltage, from memory
        ("lamp", [21], 13.5), ("side-lamp", [5], 13.5), ("number-plate-lamp", [5], 13.5),
        ("stop-tail-lamp", [5, 21], 13.5), ("headlamp-bulb", [55, 60], 13.2),
        ("fog-lamp", [55], 13.2), ("driving-lamp", [55], 13.2),
    ],
)
def test_bulbs_by_un_regulation_37(name: str, watt: list[float], volt: float) -> None:
    filaments = [p for p in kinds()[name].primitives if p.type == "filament"]
    assert sorted(p.figure("power") or 0 for p in filaments) == watt
    assert {p.figure("voltage", "at") for p in filaments} == {volt}


def test_a_reversing_switch_never_joins_supply_and_earth() -> None:
    """In every position of every actuator no way leads from 30 to 31 inside the switch: a
    closed one would be a dead short. networkx does the search."""
    for name in ("window-switch", "master-window-switch", "mirror-switch", "hazard-switch"):
        kind = kinds()[name]
        for positions in _positions(kind):
            graph = nx.Graph()
            graph.add_nodes_from(kind.terminals)
            for contact in (p for p in kind.primitives if p.type == "contact"):
                if all(positions[c.actuator] in c.positions for c in contact.clauses):
                    graph.add_edge(contact.a, contact.b)
            supplies = [t for t in ("30", "15", "30F", "30R") if t in graph]
            for number, supply in enumerate(supplies):
                if "31" in graph:
                    assert not nx.has_path(graph, supply, "31"), (name, positions)
                for other in supplies[number + 1:]:
                    assert not nx.has_path(graph, supply, other), (name, positions)


def _positions(kind: Kind) -> list[dict[str, str]]:
    found: list[dict[str, str]] = [{}]
    for actuator in kind.actuators.values():
        found = [{**state, actuator.name: p} for state in found for p in actuator.positions]
    return found
