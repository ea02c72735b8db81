"""What a competent person with a meter and the diagram needs, without the program: half-splitting.

The rule of the text books: measure at the load, on the supply's side and on the earth's; where one
is wrong, in the middle of its path, then in the middle of the half that must hold the fault, until
two neighbouring points are left, one right, one wrong. What lies between is accused; where that
is a relay's contact, the same is done along its coil. A blown fuse is replaced once; when it blows
again, the branch is halved by pulling plugs, as is whatever else leaves many causes. A load that
stays on has no path to split: what may cause it is looked at thing by thing.

What lies on the path up to a point that reads right is cleared. The person is given more than a
person has: a list of everything that may explain the complaint, which causes look alike, and which
fail most often. It ends when a look shows the fault, or when only one cause is left, which need not
be looked at: the method has no other measure of how sure it is. Opening what the search accuses in
the end is not a step there either.

`told` gives the person the program's knowledge too: of every cause whether each point would read
right, so that a reading clears whatever it speaks against, on the path or off it.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from harnessdsl.faults.alike import classes_of
from harnessdsl.faults.behind_diodes import meter_shows
from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.effort import (
    LOOK_MIN,
    NEW_FUSE_MIN,
    PROBE_MIN,
    UNPLUG_MIN,
    Effort,
    places_of_node,
)
from harnessdsl.faults.predictions import Candidate, Predictor, State

RIGHT_V, RIGHT_SHARE = 0.6, 0.08
"""A reading as near to the sound car's as this is right."""
INSPECT_MIN = 1.0
MOST_GROUPED = 80
MOST_ONE_BY_ONE = 8
"""Causes left that are looked at one by one; more are halved by pulling plugs and fuses."""


class Person:
    """One search by half-splitting on a car with one known fault."""

    def __init__(self, predictor: Predictor, truth: int, first: Observation,
                 left: list[Candidate], told: bool = False) -> None:
        self.predictor = predictor
        self.bench = predictor.bench
        self.vehicle = self.bench.vehicle
        self.truth: Candidate = (truth,)
        self.first = first
        self.effort = Effort.of(self.vehicle, Case(observations=(first,)))
        self.left = left
        self.steps, self.minutes = 0, 0.0
        volts, ohms = predictor.nodes(State(first.condition), [*left, ()])
        shown = meter_shows(volts, ohms)
        usual = shown[-1]
        self.well = np.abs(shown[:-1] - usual) <= np.maximum(
            RIGHT_V, RIGHT_SHARE * np.abs(usual))
        self.told = told
        self.alive = np.ones(len(left), dtype=bool)
        self.cleared: set[str] = set()
        self.known: dict[str, bool] = {}

    def visit(self, name: str, extra: float) -> None:
        places = places_of_node(self.vehicle, name)
        self.minutes += self.effort.reach(places) + extra
        for place in places:
            while place:
                self.effort.opened.add(place)
                place = (self.vehicle.places[place].inside if place in self.vehicle.places else "")
        self.steps += 1

    def good(self, node: str) -> bool:
        """Measure: is it as in the sound car?"""
        if node not in self.known:
            self.visit(node, PROBE_MIN)
            self.minutes += self.effort.condition(self.first.condition)
            self.effort.now = self.first.condition
            column = self.well[:, self.predictor.node_index[node]]
            self.known[node] = bool(column[self.left.index(self.truth)])
            if self.told:
                self.alive &= column == self.known[node]
        return self.known[node]

    def split(self, ways: Paths, port: int) -> tuple[str, str] | None:
        """Return the neighbours with the fault between them; None where both sides are right."""
        side: list[str] = []
        for path in ways.sides(port):
            if path and not self.good(path[-1]):
                side = path
                break
            self.clear(ways, path)
        if not side:
            return None
        low, high = -1, len(side) - 1
        while high - low > 1:
            middle = (low + high) // 2
            if self.good(side[middle]):
                low = middle
            else:
                high = middle
        self.clear(ways, side[:low + 1])
        return (side[low] if low >= 0 else "", side[high])

    def clear(self, ways: Paths, path: list[str]) -> None:
        """Take what lies between the points of a path that reads right for sound."""
        for one, other in pairwise(path):
            self.cleared.update(ways.name(p) for p in ways.joining(one, other))

    def search(self) -> tuple[int, float]:
        """Return the steps and minutes that it takes."""
        accused: list[str] = []
        ways = Paths(self.predictor, self.first.condition)
        ports = ways.loads(self.first.subject)
        known: set[int] = set()
        while ports:
            port = ports.pop(0)
            known.add(port)
            between = self.split(ways, port)
            if between is None:
                accused.append(ways.part(port))
                break
            found = ways.joining(*between)
            accused += [ways.name(p) for p in found]
            ports = [coil for p in found for coil in ways.coils(p) if coil not in known][:1]
        return self._inspect(accused)

    def _inspect(self, accused: list[str]) -> tuple[int, float]:
        """Look at what is accused, then at what is left, the likeliest first."""
        faults = self.bench.faults
        left = [c for c, yes in zip(self.left, self.alive.tolist(), strict=True) if yes]
        left.sort(key=lambda c: (faults[c[0]].subject not in accused,
                                 faults[c[0]].subject in self.cleared, -faults[c[0]].likelihood))
        if self.truth not in left[:MOST_GROUPED]:
            left.insert(MOST_GROUPED - 1, self.truth)
        groups = [[left[i] for i in g] for g in classes_of(
            self.predictor, [self.first], left[:MOST_GROUPED])]
        fuse = next((p for p in accused if p in self.predictor.fuse_ids), "")
        shorted = [g for g in groups if fuse and any(
            self.predictor.fuse_blown(c, fuse) and faults[c[0]].part != fuse for c in g)]
        if len(shorted) > 1:
            self.visit(fuse, NEW_FUSE_MIN)  # does it blow again?
            if not any(self.truth in g for g in shorted):
                groups = [g for g in groups if g not in shorted]
            else:
                self._halve(shorted)
                return self.steps, self.minutes
        near = [g for g in groups if faults[g[0][0]].subject in accused]
        rest = [g for g in groups if g not in near]
        if not self._one_by_one(near, not rest) and rest:
            if len(rest) > MOST_ONE_BY_ONE:
                self._halve(rest)
            else:
                self._one_by_one(rest, True)
        return self.steps, self.minutes

    def _one_by_one(self, groups: list[list[Candidate]], all_there_is: bool) -> bool:
        """Look at each; return whether the fault is among them. The last one of all need not be
        looked at: it is proven by what the others are not."""
        for number, group in enumerate(groups, 1):
            if all_there_is and number == len(groups):
                return True
            self.visit(self.bench.faults[group[0][0]].subject, INSPECT_MIN)
            if self.truth in group:
                return True
        return False

    def _halve(self, groups: list[list[Candidate]]) -> None:
        """Pull plugs, each time leaving half of what may touch metal."""
        rest = sorted(groups)
        while len(rest) > 1:
            half = rest[:len(rest) // 2]
            self.visit(self.bench.faults[half[-1][0][0]].subject, UNPLUG_MIN + LOOK_MIN)
            inside = any(self.truth in g for g in half)
            rest = half if inside else rest[len(rest) // 2:]


class Paths:
    """Where the current of the sound car runs in one condition."""

    def __init__(self, predictor: Predictor, condition: str) -> None:
        self.predictor = predictor
        self.bench = predictor.bench
        self.circuit = self.bench.assembled.circuit
        self.point = self.bench.points[predictor.numbers[condition]]
        self.into: dict[str, list[tuple[str, float]]] = {}
        self.out: dict[str, list[tuple[str, float]]] = {}
        self.between: dict[frozenset[str], list[int]] = {}
        for index, element in enumerate(self.circuit.elements):
            self.between.setdefault(frozenset((element.a, element.b)), []).append(index)
            current = float(self.point.currents[index])
            if abs(current) > 1e-6:
                a, b = (element.a, element.b) if current > 0 else (element.b, element.a)
                self.into.setdefault(b, []).append((a, abs(current)))
                self.out.setdefault(a, []).append((b, abs(current)))

    def part(self, port: int) -> str:
        return self.circuit.elements[port].part

    def name(self, port: int) -> str:
        """Return the part or wire that an element belongs to."""
        element = self.circuit.elements[port]
        return element.part or element.id

    def loads(self, part: str) -> list[int]:
        """Return the load of a part that takes the most current."""
        ports = [self.bench.ports.loads[n] for n in self.predictor.load_numbers.get(part, [])]
        return sorted(ports, key=lambda p: -abs(float(self.point.currents[p])))[:1]

    def sides(self, port: int) -> tuple[list[str], list[str]]:
        """Return the points from the supply to an element and from the earth to it; none where no
        current runs."""
        element = self.circuit.elements[port]
        if abs(float(self.point.currents[port])) <= 1e-6:
            return [], []
        top, bottom = element.a, element.b
        if self.point.voltage_v(top) < self.point.voltage_v(bottom):
            top, bottom = bottom, top
        return _walk(self.into.get, top)[::-1], _walk(self.out.get, bottom)[::-1]

    def joining(self, one: str, other: str) -> list[int]:
        """Return the elements between two points; before the first point there is none."""
        return self.between.get(frozenset((one, other)), []) if one else []

    def coils(self, port: int) -> list[int]:
        """Return the coils that move a contact."""
        index = self.circuit.element_index
        return [index[t.coil] for t in self.circuit.elements[port].gate or ()]


def _walk(sources: Callable[[str], list[tuple[str, float]] | None], node: str) -> list[str]:
    """Follow the largest current from a node until it ends at the battery or at metal."""
    found = [node]
    known = {node}
    while near := sources(node):
        node = max(near, key=lambda s: (s[1], s[0]))[0]
        if node in known or node.startswith("@"):
            break
        known.add(node)
        found.append(node)
    return found


def half_splitting(predictor: Predictor, truth: int, first: Observation, left: list[Candidate],
                   told: bool = False) -> tuple[int, float]:
    """Return steps and minutes; `left` is what may explain the complaint, the truth among it."""
    return Person(predictor, truth, first, left, told).search()
