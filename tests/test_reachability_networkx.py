"""Reach of the supply and of earth, against networkx.

The graphs here are built from the vehicle's parts and wires alone, without the package's graph,
and paths are found by networkx. Both sides are asked the same question in many random states of the
switches, relays, thermal and pressure contacts: is this terminal joined to a live pole, to earth,
to a live pole without a fuse between?
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import networkx as nx
import pytest

from harnessdsl.model.kind import Primitive
from harnessdsl.model.vehicle import Part, Vehicle
from harnessdsl.pipeline import load
from harnessdsl.rules.analysis.states import UNFUSED
from harnessdsl.rules.context import RuleContext

EXAMPLES = Path(__file__).parent.parent / "examples"
FILES = ["tourer/tourer.harness", "motorcycle.harness", "van-second-battery.harness",
         "planted-mistakes.harness"]
STATES = 30
LOADS = {"coil", "filament", "heater", "motor", "solenoid", "load", "led", "speaker", "winding"}
State = dict[tuple[str, str], str]


@cache
def vehicle_of(name: str) -> Vehicle:
    return load(EXAMPLES / name).vehicle


def damaged(vehicle: Vehicle, seed: int) -> Vehicle:
    """Return the vehicle with some wires gone and some ending elsewhere."""
    rng = random.Random(seed)
    wires = dict(vehicle.wires)
    names = sorted(wires)
    for name in rng.sample(names, max(1, len(names) // 12)):
        del wires[name]
    left = sorted(wires)
    for name, other in zip(rng.sample(left, 8), rng.sample(left, 8), strict=True):
        wires[name] = replace(wires[name], b=wires[other].b)
    return replace(vehicle, wires=wires)


def node(part: str, terminal: str) -> tuple[str, ...]:
    return (part, terminal)


class Oracle:
    """The same vehicle as networkx graphs."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.solid = nx.Graph()
        for part in vehicle.parts.values():
            self._part(part)
        for wire in vehicle.wires.values():
            if not wire.fusible:
                self.solid.add_edge(self._end(wire.a), self._end(wire.b))
            else:
                self.solid.add_nodes_from([self._end(wire.a), self._end(wire.b)])
        self.net = {member: number for number, members in
                    enumerate(nx.connected_components(self.solid)) for member in members}
        self.metal = {self.net[n] for n in self.solid if n[0] == "metal" or (
            n[0] in vehicle.parts and vehicle.parts[n[0]].family == "earth")}
        self.live, back = self._poles()
        self.earth = self.metal | (back - self.live)

    @staticmethod
    def _end(end: object) -> tuple[str, ...]:
        half = getattr(end, "half", "")
        name, terminal = getattr(end, "part", ""), getattr(end, "terminal", "")
        return (name, half, terminal) if half else node(name, terminal)

    def _part(self, part: Part) -> None:
        if part.connector is not None:
            if not part.connector.of:
                for cavity in part.connector.cavities:
                    self.solid.add_edge((part.name, "a", cavity), (part.name, "b", cavity))
            return
        for terminal in part.kind.terminals.values():
            here = node(part.name, terminal.name)
            self.solid.add_node(here)
            if part.conductor and (terminal.case or part.family == "earth"):
                self.solid.add_edge(here, ("metal", part.conductor))
        for primitive in part.kind.primitives:
            ends = [node(part.name, end) for end in (primitive.a, primitive.b)]
            self.solid.add_nodes_from(ends)
            if primitive.type == "joint":
                self.solid.add_edge(*ends)

    def primitives(self) -> Iterator[tuple[Part, Primitive, int, int]]:
        for part in self.vehicle.parts.values():
            if part.connector is None:
                for p in part.kind.primitives:
                    yield (part, p, self.net[node(part.name, p.a)],
                           self.net[node(part.name, p.b)])

    def _poles(self) -> tuple[set[int], set[int]]:
        live: set[int] = set()
        back: set[int] = set()
        for _, p, a, b in self.primitives():
            if p.type not in ("source", "alternator"):
                continue
            plus_live = not self.vehicle.positive_earth
            if (a in self.metal) != (b in self.metal):
                plus_live = b in self.metal
            live.add(a if plus_live else b)
            back.add(b if plus_live else a)
        return live, back

    def graph(self, state: State | None, fuses: bool) -> nx.DiGraph:
        """Return which nets the live side can go on to from which, in a state; None closes every
        contact at once."""
        graph = nx.DiGraph()
        graph.add_nodes_from(self.net.values())
        across: dict[frozenset[int], set[str]] = {}
        for _, p, a, b in self.primitives():
            across.setdefault(frozenset((a, b)), set()).add(p.type)
        for part, p, a, b in self.primitives():
            beside = across[frozenset((a, b))]
            if p.type in ("fuse", "breaker", "link"):
                passes = fuses
            elif p.type == "contact":
                passes = (fuses or part.family != "alternator") and (state is None or all(
                    self._holds(part, clause, state) for clause in p.clauses))
            elif p.type == "resistor":
                ohm = p.figure("resistance")
                signal = ohm is not None and ohm >= 1000 and part.family != "resistor"
                passes = ("electronic" not in p.flags and not signal
                          and not beside & {"coil", "solenoid"})
            elif p.type == "diode":
                passes = not beside & LOADS
            elif p.type == "winding":
                passes = part.family == "alternator"
            else:
                passes = p.type in ("thermistor", "inductor")
            if not passes:
                continue
            if p.type != "diode" or not self.vehicle.positive_earth:
                graph.add_edge(a, b)
            if p.type != "diode" or self.vehicle.positive_earth:
                graph.add_edge(b, a)
        for wire in self.vehicle.wires.values():
            if wire.fusible and fuses:
                a, b = self.net[self._end(wire.a)], self.net[self._end(wire.b)]
                graph.add_edges_from([(a, b), (b, a)])
        return graph

    @staticmethod
    def _holds(part: Part, clause: object, state: State) -> bool:
        actuator = getattr(clause, "actuator", "")
        if actuator == "coil":
            coils = [p.name for p in part.kind.primitives if p.type == "coil"]
            of = getattr(clause, "of", "") or coils[0]
            actuator = f"coil {of}"
        return state[part.name, actuator] in getattr(clause, "positions", ())

    def random_state(self, rng: random.Random) -> State:
        state: State = {}
        for part in self.vehicle.parts.values():
            for actuator in part.kind.actuators.values():
                state[part.name, actuator.name] = rng.choice(actuator.positions)
            for word, positions in (("heat", ("hot", "cold")), ("motion", ("running", "stopped")),
                                    ("pressure", ("pressure", "no-pressure")),
                                    ("trip", ("intact", "tripped"))):
                state[part.name, word] = rng.choice(positions)
            for p in part.kind.primitives:
                if p.type == "coil":
                    state[part.name, f"coil {p.name}"] = rng.choice(("energised", "released"))
        return state

    @staticmethod
    def reach(graph: nx.DiGraph, starts: set[int], stops: set[int]) -> set[int]:
        """Return the nets joined with `starts`; a path ends where it meets one of `stops`."""
        cut = graph.copy()
        cut.remove_edges_from([(u, v) for u, v in graph.edges if u in stops and u not in starts])
        found = set(starts)
        for start in starts:
            found |= nx.descendants(cut, start)
        return found


def packed(context: RuleContext, state: State) -> int:
    """Return the state in the form that the package's analysis uses."""
    return sum(variable.bit(state[key]) for key, variable in context.states.variables.items())


def our_net(context: RuleContext, terminal: tuple[str, ...]) -> int:
    if terminal[0] == "metal":
        return context.nets.of[f"@{terminal[1]}"]
    return context.nets.of[".".join(word for word in terminal if word)]


CASES = [(name, seed) for name in FILES for seed in (0, 1, 2)] + [(FILES[0], s) for s in (3, 4, 5)]


@pytest.mark.parametrize(("name", "seed"), CASES)
def test_feeds_and_returns_agree_with_networkx_in_random_states(name: str, seed: int) -> None:
    vehicle = vehicle_of(name) if seed == 0 else damaged(vehicle_of(name), seed)
    context = RuleContext(vehicle)
    oracle = Oracle(context.vehicle)
    rng = random.Random(seed)
    terminals = sorted(oracle.net)
    nets = {terminal: our_net(context, terminal) for terminal in terminals}
    assert len(set(nets.values())) == len(set(oracle.net.values()))
    assert {oracle.net[t] for t in terminals if nets[t] in context.supply.live_nets} == oracle.live
    assert {oracle.net[t] for t in terminals if nets[t] in context.supply.earth_nets} == (
        oracle.earth)
    states = [oracle.random_state(rng) for _ in range(STATES)]
    for state in states:
        bits = packed(context, state)
        graph = oracle.graph(state, fuses=True)
        live = oracle.reach(graph, oracle.live, oracle.earth)
        earth = oracle.reach(graph.reverse(), oracle.earth, oracle.live)
        bare = oracle.reach(oracle.graph(state, fuses=False), oracle.live, oracle.earth)
        for terminal in terminals:
            here, net = nets[terminal], oracle.net[terminal]
            ways = [e for e in context.supply.live[here] if not bits & ~e.condition]
            assert bool(ways) == (net in live), (terminal, state)
            assert any(e.condition & UNFUSED for e in ways) == (net in bare), terminal
            back = any(not bits & ~e.condition for e in context.supply.earth[here])
            assert back == (net in earth), terminal


@pytest.mark.parametrize("name", FILES)
def test_states_played_through_agree_with_networkx(name: str) -> None:
    """The simulation floods a graph of its own. It knows a standing vehicle only, where no
    generator is live by itself."""
    context = RuleContext(vehicle_of(name))
    oracle = Oracle(context.vehicle)
    rng = random.Random(7)
    batteries = {net for part, p, a, b in oracle.primitives() if p.type == "source"
                 for net in (a, b) if net in oracle.live}
    assert batteries
    for _ in range(STATES):
        state = oracle.random_state(rng)
        settled = context.simulation.released(packed(context, state))
        graph = oracle.graph(state, fuses=True)
        live = oracle.reach(graph, batteries, oracle.earth)
        earth = oracle.reach(graph.reverse(), oracle.earth, oracle.live)
        for terminal, net in oracle.net.items():
            here = our_net(context, terminal)
            assert (here in settled.live) == (net in live), terminal
            assert (here in settled.earthed) == (net in earth), terminal


@pytest.mark.parametrize("name", FILES)
def test_what_is_fed_or_earthed_in_some_state_is_within_reach(name: str) -> None:
    """With every contact closed at once networkx reaches at least what some state does; contacts
    that exclude each other are all that may lie between."""
    context = RuleContext(vehicle_of(name))
    oracle = Oracle(context.vehicle)
    graph = oracle.graph(None, fuses=True)
    live = oracle.reach(graph, oracle.live, oracle.earth)
    earth = oracle.reach(graph.reverse(), oracle.earth, oracle.live)
    for terminal, net in oracle.net.items():
        here = our_net(context, terminal)
        assert net in live or not context.supply.live[here], terminal
        assert net in earth or not context.supply.earth[here], terminal
