"""What every candidate cause predicts: for each way of looking, the reading under each candidate.

A candidate is a tuple of fault numbers (one fault, or two at once); the empty one is the sound car. A
state is a condition with plugs apart and fuses out. For a state the voltage of every node and the
resistance that a meter looks into there are computed once for each candidate and kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from harnessdsl.electric.elements import METER_OHM, Filament
from harnessdsl.electric.instruments import DIM_SHARE, LIT_SHARE, TEST_LAMP_W
from harnessdsl.faults.case import BATTERY_OFF, Observation
from harnessdsl.faults.entries import Array, linear
from harnessdsl.faults.exact import solve_faulty
from harnessdsl.faults.perturb import NOTHING, Answer, Change
from harnessdsl.faults.sweep import (
    DEAD,
    DIM,
    GLOWS,
    OFF,
    STAYS,
    WORKS,
    Bench,
    Effect,
    Sweep,
)

Candidate = tuple[int, ...]
HANGS_OHM = 1e8
"""A node behind more than this hangs in the air."""
OPEN_OHM = 1e6
"""Above this an ohmmeter on a car's wiring is said to show an open circuit."""
OWN_MODES = frozenset({
    "contact-open", "contact-burnt", "contact-welded", "coil-open", "coil-short", "wrong-relay",
    "output-dead", "module-dead", "diode-open", "diode-short", "resistor-open"})
"""Ways to fail that go away with a sound part put in."""


@dataclass(frozen=True, slots=True)
class State:
    """How the car stands while one looks."""

    condition: str
    unplugged: tuple[str, ...] = ()
    pulled: tuple[str, ...] = ()

    @property
    def plain(self) -> bool:
        return not self.unplugged and not self.pulled


@dataclass(slots=True)
class _Table:
    volts: dict[Candidate, Array] = field(default_factory=dict)
    ohms: dict[Candidate, Array] = field(default_factory=dict)
    effects: dict[Candidate, Effect] = field(default_factory=dict)
    answers: dict[Candidate, Answer] = field(default_factory=dict)


class Predictor:
    """Readings under candidates. Voltages in volts against the body, resistances in ohms."""

    def __init__(self, sweep: Sweep) -> None:
        self.sweep = sweep
        self.bench: Bench = sweep.bench
        self.circuit = self.bench.assembled.circuit
        self.numbers = {c.name: i for i, c in enumerate(self.bench.conditions)}
        self.numbers[BATTERY_OFF] = len(self.bench.conditions)
        self.tables: dict[State, _Table] = {}
        self._columns: dict[int, dict[int, Array]] = {}
        self._own_ohm: dict[int, Array] = {}
        self.node_index = self.circuit.node_index
        self.load_numbers: dict[str, list[int]] = {}
        for number, port in enumerate(self.bench.ports.loads):
            part = self.circuit.elements[port].part
            self.load_numbers.setdefault(part, []).append(number)
        self.fuse_ids: dict[str, list[str]] = {}
        for port in self.bench.ports.protection:
            element = self.circuit.elements[port]
            self.fuse_ids.setdefault(element.part, []).append(element.id)
        self.part_ids: dict[str, list[str]] = {}
        """Elements that go with a part when it is taken out."""
        for element in self.circuit.elements:
            if element.part:
                self.part_ids.setdefault(element.part, []).append(element.id)
        self.coil_numbers: dict[str, list[int]] = {}
        for number, port in enumerate(self.bench.ports.coils):
            self.coil_numbers.setdefault(self.circuit.elements[port].part, []).append(number)

    # --- the state of things

    def blown(self, candidate: Candidate) -> tuple[str, ...]:
        """Return ids of the fuses that a candidate has blown."""
        return tuple(dict.fromkeys(n for i in candidate for n in self.sweep.blown[i]))

    def _change(self, candidate: Candidate, state: State, number: int) -> Change:
        faults = [self.bench.faults[i] for i in candidate]
        change = self.bench.change(faults, number, self.blown(candidate))
        index = self.circuit.element_index
        for plug in state.unplugged:
            body = self.bench.vehicle.parts[plug].connector
            for cavity in body.cavities if body is not None else ():
                port = index.get(f"{plug}:plug:{cavity}")
                if port is not None:
                    change.specs[port] = linear(0.0)
        for part in state.pulled:
            for name in self.part_ids.get(part, ()):
                into = change.contacts if name in self.bench.contacts else change.specs
                into[index[name]] = linear(0.0)
        return change

    def answers(self, state: State, candidates: Sequence[Candidate]) -> _Table:
        """Return the table of a state with at least these candidates in it."""
        table = self.tables.setdefault(state, _Table())
        todo = [c for c in dict.fromkeys(candidates) if c not in table.answers]
        if todo:
            number = self.numbers[state.condition]
            solver = self.bench.solver(number)
            found = solver.solve([self._change(c, state, number) for c in todo])
            for candidate, answer in zip(todo, found, strict=True):
                table.answers[candidate] = answer
        return table

    def nodes(self, state: State, candidates: Sequence[Candidate]) -> tuple[Array, Array]:
        """Return (voltages, resistances) of every node for each candidate, a row each."""
        table = self.answers(state, candidates)
        todo = [c for c in dict.fromkeys(candidates) if c not in table.volts]
        if todo:
            number = self.numbers[state.condition]
            answers = [table.answers[c] for c in todo]
            volts = self.bench.node_volts(number, answers)
            own = self.own_ohm(number)
            self._load_columns(number, answers)
            for row, (candidate, answer) in enumerate(zip(todo, answers, strict=True)):
                if answer.failed:
                    volts[row], ohms = self._exactly(candidate, state, number, own)
                else:
                    ohms = self._seen_ohm(number, answer, own)
                table.volts[candidate] = volts[row].astype(np.float32)
                table.ohms[candidate] = ohms.astype(np.float32)
        return (np.stack([table.volts[c] for c in candidates]),
                np.stack([table.ohms[c] for c in candidates]))

    def _exactly(self, candidate: Candidate, state: State, number: int, own: Array
                 ) -> tuple[Array, Array]:
        opened = {n: "blown" for n in self.blown(candidate)}
        for part in state.pulled:
            opened.update(dict.fromkeys(self.part_ids.get(part, ()), "pulled"))
        point = self.bench.points[number]
        if number >= len(self.bench.conditions):
            return point.volts.copy(), own
        condition = self.bench.conditions[number]
        found = solve_faulty(self.bench.assembled, [self.bench.faults[i] for i in candidate],
                             [condition], {condition.name: point}, opened)[0]
        count = len(self.circuit.nodes)
        hangs = np.zeros(count, dtype=bool)
        hangs[[self.node_index[n] for n in found.floating_nodes if n in self.node_index]] = True
        return found.volts[:count].copy(), np.where(hangs, 1e9, np.minimum(own, 1e3))

    def own_ohm(self, number: int) -> Array:
        """Return what a meter looks into at each node of the sound car."""
        found = self._own_ohm.get(number)
        if found is None:
            base = self.bench.base(number)
            count = len(self.circuit.nodes)
            found = np.zeros(count)
            total = base.ports.nodes - 1
            for first in range(0, count - 1, 512):
                last = min(first + 512, count - 1)
                right = np.zeros((total, last - first))
                right[np.arange(first, last), np.arange(last - first)] = 1.0
                solved = base.spread(right)
                found[first + 1:last + 1] = solved[np.arange(first, last), np.arange(last - first)]
            self._own_ohm[number] = found
        return np.asarray(found)

    def _load_columns(self, number: int, answers: Sequence[Answer]) -> None:
        known = self._columns.setdefault(number, {})
        wanted = sorted({int(p) for a in answers for p in a.ports} - known.keys())
        if wanted:
            base = self.bench.base(number)
            solved = base.spread(base.ports.incidence(wanted).toarray())
            for column, port in enumerate(wanted):
                known[port] = np.concatenate([[0.0], solved[:, column]])

    def _weights(self, number: int, answer: Answer) -> tuple[Array, Array]:
        """Return (columns of the answer's ports, M): what is seen between two nodes is that of the
        sound car less x M x, with x the columns' difference between them (Woodbury's formula)."""
        known = self._columns[number]
        columns = np.stack([known[int(p)] for p in answer.ports], axis=1)
        a = np.asarray(self.bench.ports.a, dtype=np.intp)[answer.ports]
        b = np.asarray(self.bench.ports.b, dtype=np.intp)[answer.ports]
        between = columns[a] - columns[b]
        inner = np.eye(len(a)) + between * answer.slopes[None, :]
        try:
            weights = answer.slopes[:, None] * np.linalg.inv(inner)
        except np.linalg.LinAlgError:
            weights = answer.slopes[:, None] * np.linalg.pinv(inner)
        return columns, weights

    def _seen_ohm(self, number: int, answer: Answer, own: Array) -> Array:
        if not len(answer.ports):
            return own
        columns, weights = self._weights(number, answer)
        count = len(own)
        columns = columns[:count]
        return np.maximum(own - ((columns @ weights) * columns).sum(axis=1), 0.0)

    def between_ohm(self, state: State, candidate: Candidate, a: str, b: str) -> float:
        """Return the resistance between two nodes as a meter sees it, sources taken as they are."""
        table = self.answers(state, [candidate])
        answer = table.answers[candidate]
        number = self.numbers[state.condition]
        base = self.bench.base(number)
        one, other = self.node_index[a], self.node_index[b]
        right = np.zeros(base.ports.nodes - 1)
        if one:
            right[one - 1] += 1.0
        if other:
            right[other - 1] -= 1.0
        spread = np.concatenate([[0.0], base.spread(right)])
        found = spread[one] - spread[other]
        if len(answer.ports) and not answer.failed:
            self._load_columns(number, [answer])
            columns, weights = self._weights(number, answer)
            x = columns[one] - columns[other]
            found -= float(x @ weights @ x)
        return float(max(found, 0.0))

    # --- readings

    def effects(self, state: State, candidates: Sequence[Candidate]) -> list[Effect]:
        """Return what the loads, relays and fuses do."""
        number = self.numbers[state.condition]
        if state.plain and number < len(self.bench.conditions):
            single = all(len(c) <= 1 for c in candidates)
            if single:
                return [self.sweep.found[c[0]][number] if c else _SAME for c in candidates]
        table = self.answers(state, candidates)
        for candidate in candidates:
            if candidate not in table.effects:
                answer = table.answers[candidate]
                table.effects[candidate] = (_SAME if answer.failed
                                            else self.bench.effect(number, answer))
        return [table.effects[c] for c in candidates]

    def rough_effects(self, state: State, candidates: Sequence[Candidate]) -> list[Effect]:
        """Return effects as `effects` does, those of two faults put together from the two: good
        enough to tell whether a look is worth its trouble."""
        number = self.numbers[state.condition]
        table = self.tables.get(state)
        found = []
        for candidate in candidates:
            if len(candidate) < 2:
                found.append(self.sweep.found[candidate[0]][number] if candidate else _SAME)
            elif table is not None and candidate in table.effects:
                found.append(table.effects[candidate])
            else:
                states: dict[int, int] = {}
                moved: dict[int, bool] = {}
                for i in candidate:
                    effect = self.sweep.found[i][number]
                    for load, what in effect.states.items():
                        states[load] = min(what, states.get(load, what))
                    moved.update(effect.moved)
                found.append(Effect(states, moved=moved))
        return found

    def meter_v(self, state: State, candidates: Sequence[Candidate], node: str,
                against: str = "") -> Array:
        """Return what a 10 megohm meter shows."""
        volts, ohms = self.nodes(state, candidates)
        at = self.node_index[node]
        shown, seen = volts[:, at].astype(float), ohms[:, at].astype(float)
        if against:
            other = self.node_index[against]
            shown = shown - volts[:, other]
            seen = seen + ohms[:, other]
        return np.asarray(shown * METER_OHM / (METER_OHM + seen))

    def lamp_share(self, state: State, candidates: Sequence[Candidate], node: str,
                   against: str = "") -> Array:
        """Return the power of a test lamp as a share of its rated power."""
        volts, ohms = self.nodes(state, candidates)
        at = self.node_index[node]
        shown, seen = volts[:, at].astype(float), ohms[:, at].astype(float)
        if against:
            other = self.node_index[against]
            shown = shown - volts[:, other]
            seen = np.asarray([self.between_ohm(state, c, node, against) for c in candidates])
        return lamp_shares(shown, seen, self.lamp_v)

    @property
    def lamp_v(self) -> float:
        nominal = self.bench.vehicle.nominal_v
        return next((v for v in (6.0, 12.0, 24.0) if nominal < 1.4 * v), 48.0)

    def load_states(self, state: State, candidates: Sequence[Candidate], part: str,
                    effects: Sequence[Effect] | None = None) -> list[int]:
        """Return what a part is seen to do: of several loads in it, those that should work."""
        numbers = self.load_numbers.get(part, [])
        condition = self.numbers[state.condition]
        if condition >= len(self.bench.conditions):
            return [OFF] * len(candidates)
        _, on = self.bench.healthy_loads(condition)
        should = [n for n in numbers if on[n]]
        found = []
        for effect in effects if effects is not None else self.effects(state, candidates):
            states = [effect.states.get(n, WORKS if on[n] else OFF) for n in should or numbers]
            extra = [] if not should else [effect.states.get(n, OFF) for n in numbers
                                           if not on[n]]
            found.append(part_state(states, extra))
        return found

    def fuse_blown(self, candidate: Candidate, part: str) -> bool:
        """Return whether a fuse is found burnt through."""
        ids = set(self.fuse_ids.get(part, ()))
        if ids & set(self.blown(candidate)):
            return True
        return any(f.part == part and f.mode in ("fuse-blown", "link-open")
                   for f in (self.bench.faults[i] for i in candidate))

    def blows_again(self, condition: str, candidates: Sequence[Candidate], part: str) -> list[bool]:
        """Return whether a sound fuse put in blows in a condition."""
        ids = set(self.fuse_ids.get(part, ()))
        number = self.numbers[condition]
        return [any(ids & set(self.sweep.fresh[i][number].opened) for i in candidate)
                for candidate in candidates]

    def relay_states(self, state: State, candidates: Sequence[Candidate], part: str,
                     effects: Sequence[Effect] | None = None) -> list[str]:
        """Return clicks, silent or buzzes for each candidate."""
        numbers = self.coil_numbers.get(part, [])
        usual = self.bench.base(self.numbers[state.condition]).energised
        found = []
        for effect in effects if effects is not None else self.effects(state, candidates):
            pulled = any(effect.moved.get(n, bool(usual[n])) for n in numbers)
            found.append("buzzes" if effect.chattering else "clicks" if pulled else "silent")
        return found

    def amps(self, state: State, candidates: Sequence[Candidate], name: str) -> Array:
        """Return the current through a fuse or wire, in amperes, without its sign."""
        index = self.circuit.element_index
        ids = self.fuse_ids.get(name) or [name]
        port = index.get(ids[0])
        if port is None:
            return np.zeros(len(candidates))
        table = self.answers(state, candidates)
        base = self.bench.base(self.numbers[state.condition])
        element = self.circuit.elements[port]
        a, b = self.node_index[element.a], self.node_index[element.b]
        found = []
        for candidate in candidates:
            answer = table.answers[candidate]
            at = np.flatnonzero(answer.ports == port)
            if len(at):
                volts = float(answer.volts[at[0]])
                siemens = base.siemens[port] + float(answer.slopes[at[0]])
            else:
                volts_all = self.bench.node_volts(self.numbers[state.condition], [answer])[0]
                volts = float(volts_all[a] - volts_all[b])
                siemens = float(base.siemens[port])
            found.append(abs(volts * siemens))
        return np.asarray(found)

    def swap_helps(self, candidate: Candidate, part: str) -> bool:
        """Return whether a sound part in the place of `part` takes the fault away."""
        faults = [self.bench.faults[i] for i in candidate]
        return bool(faults) and all(f.part == part and f.mode in OWN_MODES for f in faults)

    def state_of(self, seen: Observation) -> State:
        return State(seen.condition, seen.unplugged, seen.pulled)


_SAME = Effect({})
assert NOTHING.failed is False


def part_state(states: Sequence[int], extra: Sequence[int] = ()) -> int:
    """Return what one sees of a part with several loads in it."""
    if not states:
        return OFF
    seen = set(states)
    if seen <= {DEAD}:
        return DEAD
    if seen <= {WORKS}:
        return WORKS
    if seen & {DEAD, DIM, WORKS}:
        return DIM if seen & {DIM, DEAD} else WORKS
    return STAYS if STAYS in seen else GLOWS if GLOWS in seen else OFF


def lamp_shares(volts: Array, ohms: Array, rated_v: float) -> Array:
    """Return the power share of a test lamp on sources of `volts` behind `ohms`."""
    factor, cold2 = Filament(TEST_LAMP_W / rated_v, rated_v).parameters()
    source = np.abs(volts)
    low, high = np.zeros_like(source), source.copy()
    for _ in range(40):
        middle = 0.5 * (low + high)
        amperes = factor * middle * (middle * middle + cold2) ** -0.225
        over = middle + ohms * amperes > source
        high = np.where(over, middle, high)
        low = np.where(over, low, middle)
    amperes = factor * low * (low * low + cold2) ** -0.225
    return np.asarray(low * amperes / TEST_LAMP_W)


def lamp_word(share: float) -> str:
    """Return how a test lamp looks: bright, glowing or dark."""
    return "bright" if share >= LIT_SHARE else "glowing" if share >= DIM_SHARE else "dark"
