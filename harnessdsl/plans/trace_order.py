"""What to trace next: the continuity checks that verify most for the least crawling about.

A check lays the meter between two points that permanent joints (wires, plugs, splices) connect; a
good reading verifies every wire on the only way between them. Wires that lie in a loop can't be
told apart by one reading and are checked one at a time. The cost of a check is a minute at the
meter, plus the minutes to open each place that is not open yet. The order is greedy in what a set
of places yields for its minutes, so that a place is opened once and used up.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from harnessdsl.model.topology import Edge, Topology, build_topology
from harnessdsl.model.vehicle import Vehicle

CHECK_MINUTES = 1.0
"""One reading, probes in hand (common practice, no source)."""
UNKNOWN_REACH_MINUTES = 3.0
"""For a place that does not say how long it takes to reach."""
GOOD_OHM_MARGIN = 0.5
"""Leads and probe contact on top of the wire itself, in ohms (common practice, no source)."""
COPPER_OHM_MM2_PER_M = 0.0185
"""Vehicle cable (Bosch Automotive Handbook, from memory)."""
JOINTS = frozenset({"wire", "plug", "joint"})


@dataclass(frozen=True, slots=True)
class Check:
    """One continuity check between two points."""

    a: str
    b: str
    places: tuple[str, ...]
    wires: tuple[str, ...]
    """All wires on the way, verified or not."""
    expected_ohm: float
    """The reading that a sound way gives, leads included."""
    over: tuple[str, ...]
    """Parts passed on the way: plugs and splices."""


@dataclass(frozen=True, slots=True)
class Step:
    """A check in its turn: which places must be opened for it and what it verifies."""

    check: Check
    opens: tuple[str, ...]
    minutes: float
    gains: tuple[str, ...]


def reach_minutes(vehicle: Vehicle, place: str) -> float:
    """Return the minutes to get at a place, those of the places around it included."""
    minutes = 0.0
    seen: set[str] = set()
    stated = False
    while place in vehicle.places and place not in seen:
        seen.add(place)
        steps = vehicle.places[place].reach
        stated = stated or bool(steps)
        minutes += sum(step.minutes for step in steps)
        place = vehicle.places[place].inside
    return minutes if stated else UNKNOWN_REACH_MINUTES


def unverified_wires(vehicle: Vehicle) -> list[str]:
    """Return the wires that nobody has measured or traced on this car, in file order."""
    return [wire.name for wire in vehicle.wires.values() if not wire.evidence.verified]


class TracePlanner:
    """Finds the possible checks of a vehicle and puts them in order."""

    def __init__(self, vehicle: Vehicle, topology: Topology | None = None) -> None:
        self.vehicle = vehicle
        self.topology = topology or build_topology(vehicle)
        self.open_wires = set(unverified_wires(vehicle))
        self.checks = self._all_checks()

    # the possible checks

    def _joined(self, node: str) -> list[Edge]:
        return [edge for edge in self.topology.edges_at.get(node, ())
                if edge.type in JOINTS and edge.a != edge.b]

    def _all_checks(self) -> list[Check]:
        checks: list[Check] = []
        seen: set[str] = set()
        for start in self.topology.nodes:
            if start in seen or not self._joined(start):
                continue
            nodes = list(self.topology.reach(start, lambda edge: edge.type in JOINTS))
            seen.update(nodes)
            edges = {id(edge): edge for node in nodes for edge in self._joined(node)}
            if not any(edge.wire is not None and edge.wire.name in self.open_wires
                       for edge in edges.values()):
                continue
            if len(edges) < len(nodes):
                checks += self._tree_checks(nodes)
            else:
                checks += self._single_checks(list(edges.values()))
        return checks

    def _tree_checks(self, nodes: Sequence[str]) -> list[Check]:
        """Checks between all points where a wire ends and a probe fits."""
        probes = [node for node in nodes
                  if any(edge.type == "wire" for edge in self._joined(node))]
        checks = []
        for index, start in enumerate(probes):
            ways = self._ways(start)
            for end in probes[index + 1 :]:
                check = self._check(start, end, ways[end])
                if check is not None:
                    checks.append(check)
        return checks

    def _ways(self, start: str) -> dict[str, list[Edge]]:
        ways: dict[str, list[Edge]] = {start: []}
        queue = deque([start])
        while queue:
            node = queue.popleft()
            for edge in self._joined(node):
                far = edge.other(node)
                if far not in ways:
                    ways[far] = [*ways[node], edge]
                    queue.append(far)
        return ways

    def _single_checks(self, edges: Iterable[Edge]) -> list[Check]:
        checks = []
        for edge in edges:
            if edge.wire is not None:
                check = self._check(edge.a, edge.b, [edge])
                if check is not None:
                    checks.append(check)
        return checks

    def _check(self, a: str, b: str, way: Sequence[Edge]) -> Check | None:
        wires = [edge.wire for edge in way if edge.wire is not None]
        if not any(wire.name in self.open_wires for wire in wires):
            return None
        ohm = GOOD_OHM_MARGIN + sum(
            COPPER_OHM_MM2_PER_M * (wire.length_m or 1.0) / (wire.area_mm2 or 0.5)
            for wire in wires)
        places = tuple(sorted({self._place(a), self._place(b)} - {""}))
        over = tuple(dict.fromkeys(
            [edge.part for edge in way if edge.part]
            + [self.topology.part_of[edge.b] for edge in way[:-1] if self._is_joint(edge.b)]))
        return Check(a, b, places, tuple(wire.name for wire in wires), ohm, over)

    def _is_joint(self, node: str) -> bool:
        part = self.vehicle.parts.get(self.topology.part_of[node])
        return part is not None and part.family in ("splice", "earth")

    def _place(self, node: str) -> str:
        part = self.vehicle.parts.get(self.topology.part_of.get(node, ""))
        return part.place if part is not None else ""

    # their order

    def minutes_to_open(self, places: Iterable[str], opened: set[str]) -> float:
        """Return the minutes to open places, those around them counted once."""
        minutes = 0.0
        fresh: set[str] = set()
        for place in places:
            chain = []
            while place in self.vehicle.places and place not in chain:
                chain.append(place)
                place = self.vehicle.places[place].inside
            stated = any(self.vehicle.places[name].reach for name in chain)
            for name in chain:
                if name not in opened and name not in fresh:
                    fresh.add(name)
                    steps = self.vehicle.places[name].reach
                    minutes += sum(step.minutes for step in steps)
            if not stated and chain and chain[0] in fresh:
                minutes += UNKNOWN_REACH_MINUTES
        return minutes

    def order(self) -> list[Step]:
        """Return checks in order until every wire that a check can verify is verified."""
        left = set(self.open_wires)
        opened: set[str] = set()
        steps: list[Step] = []
        pending = list(self.checks)
        while left:
            pending = [check for check in pending if left.intersection(check.wires)]
            if not pending:
                break
            steps += self._use_up(pending, opened, left)
            pending = [check for check in pending if left.intersection(check.wires)]
            if not pending:
                break
            best = self._best_places(pending, opened, left)
            opened |= best  # their minutes are charged to the first check that needs them
            first = self._best_check(pending, opened, left)
            assert first is not None
            minutes = self.minutes_to_open(sorted(best), opened - best) + CHECK_MINUTES
            steps.append(self._take(first, tuple(sorted(best)), minutes, left))
            opened |= self._around(best)
        return steps

    def _around(self, places: Iterable[str]) -> set[str]:
        found: set[str] = set()
        for place in places:
            while place in self.vehicle.places and place not in found:
                found.add(place)
                place = self.vehicle.places[place].inside
        return found

    def _take(self, check: Check, opens: tuple[str, ...], minutes: float, left: set[str]) -> Step:
        gains = tuple(wire for wire in check.wires if wire in left)
        left.difference_update(gains)
        return Step(check, opens, minutes, gains)

    def _best_check(self, pending: Iterable[Check], opened: set[str], left: set[str]
                    ) -> Check | None:
        """The check among the open places that verifies most; the first in file order of those."""
        best: Check | None = None
        gain = 0
        for check in pending:
            found = len(left.intersection(check.wires))
            if found > gain and opened.issuperset(check.places):
                best, gain = check, found
        return best

    def _use_up(self, pending: Sequence[Check], opened: set[str], left: set[str]) -> list[Step]:
        steps = []
        while (check := self._best_check(pending, opened, left)) is not None:
            steps.append(self._take(check, (), CHECK_MINUTES, left))
        return steps

    def _best_places(self, pending: Sequence[Check], opened: set[str], left: set[str]
                     ) -> set[str]:
        """The one or two places whose opening yields most verified wires a minute."""
        wanted: dict[tuple[str, ...], None] = {}
        for check in pending:
            wanted[tuple(place for place in check.places if place not in opened)] = None
        best: tuple[float, tuple[str, ...]] | None = None
        for places in wanted:
            now_open = opened | set(places)
            gained: set[str] = set()
            count = 0
            usable = sorted((check for check in pending if now_open.issuperset(check.places)),
                            key=lambda check: -len(left.intersection(check.wires)))
            for check in usable:
                fresh = left.intersection(check.wires) - gained
                if fresh:
                    gained |= fresh
                    count += 1
            minutes = self.minutes_to_open(places, opened) + count * CHECK_MINUTES
            score = len(gained) / max(minutes, 0.1)
            if best is None or score > best[0]:
                best = (score, places)
        assert best is not None
        return set(best[1])


def run_in_order(planner: TracePlanner, checks: Iterable[Check]) -> list[tuple[float, int]]:
    """Return (minutes so far, wires verified so far) after each check of any given order, places
    staying open once opened: the yardstick for comparing orders."""
    left = set(planner.open_wires)
    opened: set[str] = set()
    minutes = 0.0
    story = []
    for check in checks:
        fresh = left.intersection(check.wires)
        if not fresh:
            continue
        minutes += planner.minutes_to_open(check.places, opened) + CHECK_MINUTES
        opened |= planner._around(check.places)
        left -= fresh
        story.append((minutes, len(planner.open_wires) - len(left)))
    return story
