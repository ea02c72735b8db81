"""The next thing to look at: the most information for a minute of trouble.

For every way of looking (a voltage at a point, a resistance with the battery off, a plug apart and
then measured, a fuse looked at, two alike relays swapped, a load watched in another condition) the
readings under all candidates are spread over outcomes that a person can tell apart; the expected
drop of entropy, in bits, is divided by the minutes that it takes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from harnessdsl.electric.elements import METER_OHM
from harnessdsl.faults import effort as cost
from harnessdsl.faults.case import BATTERY_OFF, Case, Observation
from harnessdsl.faults.cautions import forbidden
from harnessdsl.faults.effort import Effort, part_of_node, places_of_node
from harnessdsl.faults.entries import Array
from harnessdsl.faults.likelihood import METER_SHARE, METER_V
from harnessdsl.faults.predictions import Candidate, Predictor, State
from harnessdsl.faults.ranking import ABSENT_SHARE, Weights, busy_states
from harnessdsl.model.vehicle import Vehicle

MOST_CANDIDATES = 90
COVERED = 0.995
MOST_PLUGS = 6
LEAST_BITS = 0.03
OVERHEAD_MIN = 6.0
"""What a step counts besides its minutes: the instrument, the thinking, the writing down, and the
next mistake. More of it makes fewer, dearer steps; bench/fault_search.py shows the trade."""
BIN = 2.0
"""Width of an outcome in standard deviations of a reading."""
_STEP = 0.25
SEEN_NOISE = 0.04


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


def _voltage_scale(volts: Array) -> Array:
    """Return voltages on a scale where a reading's standard deviation is 1."""
    return np.asarray(np.arcsinh(volts * METER_SHARE / METER_V) / METER_SHARE)


def _ohm_scale(ohms: Array) -> Array:
    """The same of resistances: 10 % and 0.3 ohm; everything above a megohm is open."""
    return np.asarray(np.log((np.minimum(ohms, 2e6) + 2.0) / 2.0) / 0.12)


_EDGE = 6.0


def information(scaled: Array, weights: Array, absent: float = 0.0) -> Array:
    """Return the bits that a reading is expected to give, for every column of points.

    Args:
        scaled: readings (candidates, points) on a scale with standard deviation 1; the last row is
            the sound car's.
        weights: of the candidates, summing to 1.
        absent: chance that the fault is away just now, so that the sound car's reading shows.
    """
    low = float(scaled.min()) - _EDGE
    count = int((float(scaled.max()) - low + _EDGE) / BIN) + 1
    grid = np.arange(0.0, count * BIN + _STEP, _STEP)
    edges = np.arange(count + 1) * BIN
    below = _normal(edges[None, :] - grid[:, None])
    table = np.diff(below, axis=1)
    table /= table.sum(axis=1, keepdims=True)
    entropy = -(table * np.log2(np.maximum(table, 1e-12))).sum(axis=1)
    at = np.minimum(((scaled - low) / _STEP + 0.5).astype(np.intp), len(grid) - 1)
    at, sound = at[:-1], at[-1]
    if absent > 0:
        mixed = (1 - absent) * table[at] + absent * table[sound][None, :, :]
        own = -(mixed * np.log2(np.maximum(mixed, 1e-12))).sum(axis=2)
        noise = weights @ own
    else:
        noise = weights @ entropy[at]
    points = scaled.shape[1]
    # candidates that read alike share a row of the table: sum their weights first
    flat = at + np.arange(points)[None, :] * len(grid)
    share = np.bincount(flat.ravel(), np.repeat(weights, points), points * len(grid))
    mean = share.reshape(points, len(grid)) @ table
    if absent > 0:
        mean = (1 - absent) * mean + absent * table[sound]
    total = -(mean * np.log2(np.maximum(mean, 1e-12))).sum(axis=1)
    return np.asarray(np.maximum(total - noise, 0.0))


def _normal(x: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(x))


def class_information(outcomes: np.ndarray, weights: Array, noise: float = SEEN_NOISE,
                      absent: float = 0.0) -> float:
    """Return the bits of an observation with plain outcomes, one now and then seen wrong."""
    noise += absent  # roughly: away, it looks like another outcome
    values, inverse = np.unique(outcomes, return_inverse=True)
    if len(values) < 2:
        return 0.0
    share = np.bincount(inverse, weights)
    wrong = noise / (len(values) - 1)
    mean = share * (1 - noise) + (1 - share) * wrong
    own = -((1 - noise) * math.log2(1 - noise) + noise * math.log2(wrong))
    return float(max(-(mean * np.log2(mean)).sum() - own, 0.0))


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
        self.candidates: list[Candidate] = [weights.candidates[i] for i in order]
        chosen = normal[order]
        self.share = chosen / chosen.sum()
        self.refused = {r.subject for r in case.refusals}
        changing = weights.changing_share()
        self.absent = ABSENT_SHARE * changing if changing > 0.1 else 0.0
        counts: dict[tuple[object, ...], int] = {}
        for seen in case.observations:
            counts[_key(seen)] = counts.get(_key(seen), 0) + 1
        # what comes and goes is worth a second look
        self.done = {key for key, count in counts.items() if count >= (3 if self.absent else 1)}
        self.circuit = self.bench.assembled.circuit
        self._points = self._reachable_points()

    # --- what may be looked at

    def _reachable_points(self) -> list[tuple[str, float]]:
        """Every node at which a probe can be put, with the minutes to get there."""
        found = []
        minutes: dict[str, float] = {}
        for node in self.circuit.nodes:
            if node == self.circuit.reference or node.startswith("@"):
                continue
            if self.is_refused(node) or forbidden(self.vehicle, node):
                continue
            places = places_of_node(self.vehicle, node)
            key = places[0] if places else ""
            if key not in minutes:
                minutes[key] = self.effort.reach(places)
            found.append((node, minutes[key]))
        return found

    def is_refused(self, node: str) -> bool:
        """Return whether the person can't get at a node, its part or its place."""
        part = part_of_node(self.vehicle, node)
        names = {node, part.name if part is not None else ""}
        for place in places_of_node(self.vehicle, node):
            while place and place in self.vehicle.places and place not in names:
                names.add(place)
                place = self.vehicle.places[place].inside
        return bool(names & self.refused)

    def conditions(self) -> list[State]:
        """Return the conditions worth measuring in: those seen, and the ones that differ most."""
        found = [State(o.condition) for o in self.case.observations
                 if o.condition and o.condition != BATTERY_OFF]
        singles = [c for c in self.candidates if len(c) == 1][:40]
        return list(dict.fromkeys([*found[-2:], *busy_states(self.weights, singles, 2),
                                   *found]))[:4]

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
        plugs = self._plugs()
        for plug in plugs:
            found += self._resistances(State(BATTERY_OFF, (plug,)))
        for plug in plugs[:3]:
            found += self._voltages(replace(states[0], unplugged=(plug,)) if states else
                                    State(BATTERY_OFF, (plug,)))
        found = [a for a in found if a.bits >= LEAST_BITS]
        return sorted(found, key=lambda a: (-a.score, _key(a.observation)))

    def _looks(self) -> list[Action]:
        """Watching loads and relays: nothing but a condition is needed."""
        found = []
        for condition in self.bench.conditions:
            state = State(condition.name)
            effects = self.predictor.rough_effects(state, self.candidates)
            touched = {n for e in effects for n in e.states}
            minutes = self.effort.condition(condition.name) + cost.LOOK_MIN
            parts = dict.fromkeys(self.circuit.elements[self.bench.ports.loads[n]].part
                                  for n in sorted(touched))
            for part in parts:
                seen = Observation("load", part, condition=condition.name)
                if _key(seen) in self.done or self.vehicle.parts[part].family in _UNSEEN:
                    continue
                states = np.asarray(self.predictor.load_states(
                    state, self.candidates, part, effects))
                found.append(Action(seen, class_information(states, self.share,
                                                          absent=self.absent), minutes))
            moved = {n for e in effects for n in e.moved}
            for part, numbers in self.predictor.coil_numbers.items():
                seen = Observation("relay", part, condition=condition.name)
                if not moved & set(numbers) or _key(seen) in self.done or self.is_refused(part):
                    continue
                words = np.asarray(self.predictor.relay_states(
                    state, self.candidates, part, effects))
                found.append(Action(seen, class_information(words, self.share,
                                                          absent=self.absent), minutes
                                    + 0.3 * self.effort.reach(places_of_node(self.vehicle, part))))
        return found

    def _fuses(self) -> list[Action]:
        found = []
        faults = self.bench.faults
        near = dict.fromkeys(
            part for part, ids in self.predictor.fuse_ids.items()
            if any(set(ids) & set(self.predictor.blown(c)) or any(faults[i].part == part for i in c)
                   for c in self.candidates))
        for part in near:
            if self.is_refused(part):
                continue
            minutes = self.effort.reach(places_of_node(self.vehicle, part))
            seen = Observation("fuse", part)
            blown = np.asarray([self.predictor.fuse_blown(c, part) for c in self.candidates])
            if _key(seen) not in self.done:
                found.append(Action(seen, class_information(blown, self.share, 0.02),
                                    minutes + cost.LOOK_MIN))
            if blown @ self.share < 0.5:
                continue
            for condition in self.bench.conditions:
                again = self.predictor.blows_again(condition.name, self.candidates, part)
                one = Observation("fuse", part, condition=condition.name)
                if _key(one) not in self.done:
                    found.append(Action(
                        one, class_information(np.asarray(again), self.share, 0.02),
                        minutes + cost.NEW_FUSE_MIN + self.effort.condition(condition.name)))
        return found

    def _swaps(self) -> list[Action]:
        found = []
        relays = [name for name in self.predictor.coil_numbers if name in self.vehicle.parts]
        for name in relays:
            if not any(self.bench.faults[i].part == name for c in self.candidates for i in c):
                continue
            kind = self.vehicle.parts[name].kind.name
            twin = next((other for other in relays if other != name
                         and self.vehicle.parts[other].kind.name == kind), None)
            if twin is None or self.is_refused(name) or self.is_refused(twin):
                continue
            last = next((o.condition for o in self.case.observations if o.kind == "load"
                         and o.condition), "")
            seen = Observation("swap", name, against=twin, condition=last)
            if not last or _key(seen) in self.done:
                continue
            helps = np.asarray([self.predictor.swap_helps(c, name) for c in self.candidates])
            minutes = cost.SWAP_MIN + self.effort.condition(last) + self.effort.reach(
                [*places_of_node(self.vehicle, name), *places_of_node(self.vehicle, twin)])
            found.append(Action(seen, class_information(helps, self.share, 0.05), minutes))
        return found

    def _voltages(self, state: State) -> list[Action]:
        volts, ohms = self.predictor.nodes(state, [*self.candidates, ()])
        shown = volts * (METER_OHM / (METER_OHM + ohms))
        return self._by_node(state, "volts", shown.astype(float), _voltage_scale, cost.PROBE_MIN)

    def _resistances(self, state: State) -> list[Action]:
        _, ohms = self.predictor.nodes(state, [*self.candidates, ()])
        return self._by_node(state, "ohms", ohms.astype(float), _ohm_scale, cost.PROBE_MIN)

    def _by_node(self, state: State, kind: str, shown: Array, scale: Callable[[Array], Array],
                 probe_min: float) -> list[Action]:
        index = self.predictor.node_index
        points = [(node, minutes) for node, minutes in self._points]
        at = np.asarray([index[node] for node, _ in points], dtype=np.intp)
        if not len(at):
            return []
        scaled = scale(shown[:, at])
        spread = scaled[:-1].max(axis=0) - scaled[:-1].min(axis=0)
        wide = np.flatnonzero(spread > 2.0)
        if not len(wide):
            return []
        bits = information(scaled[:, wide], self.share, self.absent)
        extra = self.effort.state(state) + probe_min
        found = []
        for column, gain in zip(wide.tolist(), bits.tolist(), strict=True):
            if gain < LEAST_BITS:
                continue
            node, minutes = points[column]
            seen = Observation(kind, node, condition=state.condition, unplugged=state.unplugged)
            if _key(seen) in self.done:
                continue
            if state.unplugged and places_of_node(self.vehicle, node) == places_of_node(
                    self.vehicle, state.unplugged[0]):
                minutes = 0.0
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
        chosen = [n for n in counts if not self.is_refused(n)]
        return sorted(chosen, key=lambda n: (
            -counts[n] / (1 + self.effort.reach(places_of_node(self.vehicle, n))), n))[:MOST_PLUGS]


_UNSEEN = frozenset({"module", "sender", "alternator", "ignition", "relay", "solenoid"})
"""Families whose work nobody sees or hears with the bonnet open."""


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
            from harnessdsl.faults.sweep import WORDS

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
