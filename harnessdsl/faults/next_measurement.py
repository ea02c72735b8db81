"""The next thing to look at: the most information for a minute of trouble.

For every way of looking (a voltage at a point, a resistance with the battery off, a plug apart and
then measured, a fuse looked at, two alike relays swapped, a load watched in another condition) the
readings under all causes are spread over outcomes that a person can tell apart; the expected drop
of entropy, in bits, is divided by the minutes that it takes. Causes that look alike until opened
count as one: telling those apart is worth nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from harnessdsl.faults import effort as cost
from harnessdsl.faults.alike import busy_states, classes_of
from harnessdsl.faults.behind_diodes import meter_shows
from harnessdsl.faults.case import BATTERY_OFF, Case, Observation
from harnessdsl.faults.cautions import forbidden
from harnessdsl.faults.effort import Effort, part_of_node, places_of_node
from harnessdsl.faults.entries import Array
from harnessdsl.faults.information import ohm_scale, plain_bits, reading_bits, voltage_scale
from harnessdsl.faults.predictions import Candidate, Predictor, State
from harnessdsl.faults.ranking import ABSENT_SHARE, Weights
from harnessdsl.model.vehicle import Vehicle

MOST_CANDIDATES = 90
COVERED = 0.91
"""Share of the weight that the causes told apart hold: what is far behind rarely decides, and there
is much of it. With 0.995 searches took 5 % more steps and found no more."""
MOST_PLUGS, MOST_LIVE_PLUGS = 6, 1
PLUGS_BELOW = 0.5
"""Plugs are taken apart where nothing else tells so many bits."""
LEAST_BITS, LEAST_CHANGING_BITS = 0.35, 0.2
"""A step that tells less is not worth proposing: with 0.03 searches took 5 % more steps and found
no more (bench/fault_search.py). Of what comes and goes every step tells less."""
OVERHEAD_MIN = 5.5
"""What a step counts besides its minutes: the instrument, the thinking, the writing down, and the
next mistake. More of it makes fewer, dearer steps; bench/fault_search.py shows the trade."""
ALTERNATIVES = 3
"""Points kept of those that tell the same."""
TELLS = 2.0
"""A point is considered where its readings differ by so many standard deviations."""


@dataclass(frozen=True, slots=True)
class Action:
    """One way of looking, and what it is worth."""

    observation: Observation
    """What to look at, its result still open."""
    bits: float
    minutes: float

    @property
    def score(self) -> float:
        return self.bits / (self.minutes + OVERHEAD_MIN)


class Chooser:
    """Finds the next action for a case."""

    def __init__(self, weights: Weights, case: Case) -> None:
        self.weights = weights
        self.predictor: Predictor = weights.predictor
        self.bench = self.predictor.bench
        self.vehicle: Vehicle = self.bench.vehicle
        self.case = case
        self.effort = Effort.of(self.vehicle, case)
        normal = weights.normal()
        order = np.argsort(-normal, kind="stable")[:MOST_CANDIDATES]
        covered = np.cumsum(normal[order])
        order = order[:int(np.searchsorted(covered, COVERED * covered[-1])) + 1]
        likely: list[Candidate] = [weights.candidates[i] for i in order]
        groups = classes_of(self.predictor, weights.seen, likely)
        self.candidates = [likely[group[0]] for group in groups]
        """The likeliest of each class stands for it."""
        chosen = np.asarray([normal[order[list(group)]].sum() for group in groups])
        self.share: Array = chosen / chosen.sum()
        self.refused = {r.subject for r in case.refusals}
        changing = weights.changing_share()
        self.absent = ABSENT_SHARE * changing if changing > 0.1 else 0.0
        self.least_bits = LEAST_CHANGING_BITS if self.absent else LEAST_BITS
        counts: dict[tuple[object, ...], int] = {}
        for seen in case.observations:
            counts[_key(seen)] = counts.get(_key(seen), 0) + 1
        # what comes and goes is worth a second look
        self.done = {key for key, count in counts.items() if count >= (3 if self.absent else 1)}
        self.circuit = self.bench.assembled.circuit
        self._points = self._reachable_points()
        self._at = np.asarray([self.predictor.node_index[node] for node, _ in self._points],
                              dtype=np.intp)

    # --- what may be looked at

    def _reachable_points(self) -> list[tuple[str, float]]:
        """Every node at which a probe can be put, with the minutes to get there."""
        found = []
        minutes: dict[str, float] = {}
        for node, place, names in _probe_points(self.predictor):
            if self.refused and not self.refused.isdisjoint(names):
                continue
            if place not in minutes:
                minutes[place] = self.effort.reach((place,))
            found.append((node, minutes[place]))
        return found

    def is_refused(self, node: str) -> bool:
        """Return whether the person can't get at a node, its part or its place."""
        return bool(self.refused) and not self.refused.isdisjoint(_names_at(self.vehicle, node))

    def conditions(self) -> list[State]:
        """Return the conditions worth measuring in: those seen, and the ones that differ most."""
        found = [State(o.condition) for o in self.case.observations
                 if o.condition and o.condition != BATTERY_OFF]
        return list(dict.fromkeys([*found[-2:], *busy_states(
            self.predictor, self.candidates[:40], 2), *found]))[:4]

    # --- actions

    def actions(self) -> list[Action]:
        """Return every action worth its trouble, the best first."""
        if len(self.candidates) < 2:
            return []
        found = [*self._looks(), *self._fuses(), *self._swaps()]
        states = self.conditions()
        for state in states:
            found += self._voltages(state)
        found += self._resistances(State(BATTERY_OFF))
        if max((a.bits for a in found), default=0.0) < PLUGS_BELOW:
            plugs = self._plugs()
            for plug in plugs:
                found += self._resistances(State(BATTERY_OFF, (plug,)))
            for plug in plugs[:MOST_LIVE_PLUGS] if states else ():
                found += self._voltages(replace(states[0], unplugged=(plug,)))
        found = [a for a in found if a.bits >= self.least_bits]
        return sorted(found, key=lambda a: (-a.score, _key(a.observation)))

    def _looks(self) -> list[Action]:
        """Watching loads and relays: nothing but a condition is needed."""
        found = []
        predictor = self.predictor
        watched = predictor.watched
        for condition in self.bench.conditions:
            looks = predictor.looks_of(State(condition.name), self.candidates, rough=True)
            minutes = self.effort.condition(condition.name) + cost.LOOK_MIN
            touched = (looks.states != looks.states[0]).any(axis=0)
            parts = [part for part, numbers in watched.items() if touched[numbers].any()]
            if parts:
                bits = plain_bits(np.stack([looks.part(watched[p]) for p in parts], axis=1),
                                  self.share, absent=self.absent)
                found += [Action(Observation("load", part, condition=condition.name), gain, minutes)
                          for part, gain in zip(parts, bits.tolist(), strict=True)]
            moved = (looks.coils != looks.coils[0]).any(axis=0)
            for part, numbers in predictor.coil_numbers.items():
                if not moved[numbers].any() or self.is_refused(part):
                    continue
                gain = float(plain_bits(looks.relay(numbers)[:, None], self.share,
                                        absent=self.absent)[0])
                found.append(Action(Observation("relay", part, condition=condition.name), gain,
                                    minutes + 0.3 * self.effort.reach(
                                        places_of_node(self.vehicle, part))))
        return [a for a in found if _key(a.observation) not in self.done]

    def _fuses(self) -> list[Action]:
        found = []
        predictor = self.predictor
        gone = [predictor.fuses_gone(c) for c in self.candidates]
        for part in sorted(set().union(*gone)):
            if self.is_refused(part) or part not in self.vehicle.parts:
                continue
            minutes = self.effort.reach(places_of_node(self.vehicle, part))
            blown = np.asarray([part in one for one in gone])
            seen = Observation("fuse", part)
            if _key(seen) not in self.done:
                found.append(Action(seen, self._gain(blown, 0.02), minutes + cost.LOOK_MIN))
            if blown @ self.share < 0.5:
                continue
            for condition in self.bench.conditions:
                one = Observation("fuse", part, condition=condition.name)
                if _key(one) not in self.done:
                    again = predictor.blows_again(condition.name, self.candidates, part)
                    found.append(Action(
                        one, self._gain(np.asarray(again), 0.02),
                        minutes + cost.NEW_FUSE_MIN + self.effort.condition(condition.name)))
        return found

    def _gain(self, outcomes: np.ndarray, noise: float) -> float:
        return float(plain_bits(outcomes.astype(np.int8)[:, None], self.share, noise)[0])

    def _swaps(self) -> list[Action]:
        found = []
        relays = [name for name in self.predictor.coil_numbers if name in self.vehicle.parts]
        accused = {self.bench.faults[i].part for c in self.candidates for i in c}
        last = next((o.condition for o in self.case.observations if o.kind == "load"
                     and o.condition), "")
        for name in relays:
            if name not in accused or not last:
                continue
            kind = self.vehicle.parts[name].kind.name
            twin = next((other for other in relays if other != name
                         and self.vehicle.parts[other].kind.name == kind), None)
            if twin is None or self.is_refused(name) or self.is_refused(twin):
                continue
            seen = Observation("swap", name, against=twin, condition=last)
            if _key(seen) in self.done:
                continue
            helps = np.asarray([self.predictor.swap_helps(c, name) for c in self.candidates])
            minutes = cost.SWAP_MIN + self.effort.condition(last) + self.effort.reach(
                [*places_of_node(self.vehicle, name), *places_of_node(self.vehicle, twin)])
            found.append(Action(seen, self._gain(helps, 0.05), minutes))
        return found

    def _voltages(self, state: State) -> list[Action]:
        volts, ohms = self.predictor.nodes(state, [*self.candidates, ()])
        volts, ohms = volts[:, self._at], ohms[:, self._at]
        shown = meter_shows(volts, ohms)
        return self._by_node(state, "volts", shown.astype(float), voltage_scale)

    def _resistances(self, state: State) -> list[Action]:
        _, ohms = self.predictor.nodes(state, [*self.candidates, ()])
        return self._by_node(state, "ohms", ohms[:, self._at].astype(float), ohm_scale)

    def _by_node(self, state: State, kind: str, shown: Array, scale: Callable[[Array], Array]
                 ) -> list[Action]:
        if not shown.shape[1]:
            return []
        scaled = scale(shown)
        wide = np.flatnonzero(np.ptp(scaled[:-1], axis=0) > TELLS)
        if not len(wide):
            return []
        bits = reading_bits(scaled[:, wide], self.share, self.absent)
        extra = self.effort.state(state) + cost.PROBE_MIN
        near = places_of_node(self.vehicle, state.unplugged[0]) if state.unplugged else None
        found = []
        kept: dict[float, list[float]] = {}
        for column, gain in zip(wide.tolist(), bits.tolist(), strict=True):
            if gain < self.least_bits:
                continue
            node, minutes = self._points[column]
            if near is not None and places_of_node(self.vehicle, node) == near:
                minutes = 0.0
            others = kept.setdefault(gain, [])
            if sum(m <= minutes for m in others) >= ALTERNATIVES:
                continue
            seen = Observation(kind, node, condition=state.condition, unplugged=state.unplugged)
            if _key(seen) in self.done:
                continue
            others.append(minutes)
            found.append(Action(seen, gain, minutes + extra))
        return found

    def _plugs(self) -> list[str]:
        """Return the plugs nearest to the candidates, the cheapest to open first."""
        counts: dict[str, float] = {}
        for candidate, share in zip(self.candidates, self.share.tolist(), strict=True):
            for i in candidate:
                fault = self.bench.faults[i]
                names = [fault.part]
                wire = self.vehicle.wires.get(fault.wire)
                if wire is not None:
                    names += [wire.a.part, wire.b.part]
                for name in dict.fromkeys(names):
                    part = self.vehicle.parts.get(name)
                    if part is not None and part.connector is not None and not part.connector.of:
                        counts[name] = counts.get(name, 0.0) + share
        chosen = [n for n in counts if not self.is_refused(n) and not forbidden(self.vehicle, n)]
        return sorted(chosen, key=lambda n: (
            -counts[n] / (1 + self.effort.reach(places_of_node(self.vehicle, n))), n))[:MOST_PLUGS]



def _names_at(vehicle: Vehicle, node: str) -> frozenset[str]:
    """Return all names by which a person may refuse a node: its own, its part's, its places'."""
    part = part_of_node(vehicle, node)
    names = {node, part.name if part is not None else ""}
    for place in places_of_node(vehicle, node):
        while place and place in vehicle.places and place not in names:
            names.add(place)
            place = vehicle.places[place].inside
    return frozenset(names)


def _probe_points(predictor: Predictor) -> list[tuple[str, str, frozenset[str]]]:
    """Return every node that may be probed: (node, place, names by which it may be refused)."""
    if not predictor.probe_points:
        vehicle, circuit = predictor.bench.vehicle, predictor.circuit
        for node in circuit.nodes:
            if node == circuit.reference or node.startswith("@") or forbidden(vehicle, node):
                continue
            places = places_of_node(vehicle, node)
            predictor.probe_points.append((node, places[0] if places else "",
                                           _names_at(vehicle, node)))
    return predictor.probe_points


def _key(seen: Observation) -> tuple[str, str, str, str, tuple[str, ...], tuple[str, ...]]:
    return (seen.kind, seen.subject, seen.against, seen.condition, seen.unplugged, seen.pulled)


def next_actions(weights: Weights, case: Case) -> list[Action]:
    """Return the ways of looking that are worth their trouble, the best first."""
    return Chooser(weights, case).actions()


def answer_as(predictor: Predictor, seen: Observation, candidate: Candidate) -> Observation:
    """Return an observation with the result that a candidate gives: what to expect, or what a
    simulated car shows."""
    state = predictor.state_of(seen)
    one: Sequence[Candidate] = [candidate]
    match seen.kind:
        case "load":
            from harnessdsl.faults.effects import WORDS

            word = WORDS[predictor.load_states(state, one, seen.subject)[0]]
            return replace(seen, says=word.replace(" ", "-"))
        case "fuse":
            blown = (predictor.blows_again(seen.condition, one, seen.subject)[0] if seen.condition
                     else predictor.fuse_blown(candidate, seen.subject))
            return replace(seen, says="blown" if blown else "whole")
        case "relay":
            return replace(seen, says=predictor.relay_states(state, one, seen.subject)[0])
        case "volts":
            return replace(seen, value=float(predictor.meter_v(state, one, seen.subject,
                                                               seen.against)[0]))
        case "lamp":
            from harnessdsl.faults.predictions import lamp_word

            share = float(predictor.lamp_share(state, one, seen.subject, seen.against)[0])
            return replace(seen, says=lamp_word(share))
        case "ohms":
            from harnessdsl.faults.likelihood import ohms
            from harnessdsl.faults.predictions import OPEN_OHM

            shown = float(ohms(predictor, seen, one)[0])
            return replace(seen, value=math.inf if shown > OPEN_OHM else shown)
        case "amps":
            return replace(seen, value=float(predictor.amps(state, one, seen.subject)[0]))
        case "swap":
            helped = predictor.swap_helps(candidate, seen.subject)
            return replace(seen, says="helped" if helped else "no-change")
        case _:
            return replace(seen, says="no-change")
