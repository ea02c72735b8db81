"""What every candidate cause predicts: for each way of looking, the reading under each candidate.

A candidate is a tuple of fault numbers (one fault, or two at once); the empty one is the sound car.
A state is a condition with plugs apart and fuses out. For a state the voltage of every node and the
resistance that a meter looks into there are computed for the candidates asked for, and the states
used last are kept.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harnessdsl.electric.elements import Filament
from harnessdsl.electric.instruments import DIM_SHARE, LIT_SHARE, TEST_LAMP_W
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.faults.behind_diodes import diode_ends, meter_shows, with_meter
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case import BATTERY_OFF, Observation
from harnessdsl.faults.changes import Answer, Change
from harnessdsl.faults.effects import OFF, Effect
from harnessdsl.faults.entries import Array, linear
from harnessdsl.faults.looks import RELAY_STATES, UNSEEN, AllLooks, Looks
from harnessdsl.faults.sweep import Sweep
from harnessdsl.faults.transfer import Transfers

Candidate = tuple[int, ...]
Small = NDArray[np.float32]
HANGS_OHM = 1e8
"""A node behind more than this hangs in the air."""
OPEN_OHM = 1e6
"""Above this an ohmmeter on a car's wiring is said to show an open circuit."""
OWN_MODES = frozenset({
    "contact-open", "contact-burnt", "contact-welded", "coil-open", "coil-short", "wrong-relay",
    "output-dead", "module-dead", "diode-open", "diode-short", "resistor-open"})
"""Ways to fail that go away with a sound part put in."""
MOST_BYTES = 160e6
"""Of voltages and resistances kept; states not used for longest are dropped first."""
MOST_ANSWERS = 25_000
BLOCK_NUMBERS = 2_000_000
"""Numbers worked on at once."""


@dataclass(frozen=True, slots=True)
class State:
    """How the car stands while one looks."""

    condition: str
    unplugged: tuple[str, ...] = ()
    pulled: tuple[str, ...] = ()

    @property
    def plain(self) -> bool:
        return not self.unplugged and not self.pulled


class _Table:
    """Readings in one state: a row a candidate."""

    def __init__(self, nodes: int) -> None:
        self.rows: dict[Candidate, int] = {}
        self.volts: Small = np.zeros((0, nodes), dtype=np.float32)
        self.ohms: Small = np.zeros((0, nodes), dtype=np.float32)
        self.answers: dict[Candidate, Answer] = {}
        self.effects: dict[Candidate, Effect] = {}

    def room(self, more: int) -> None:
        wanted = len(self.rows) + more
        if wanted > len(self.volts):
            size = max(wanted, len(self.volts) * 3 // 2)
            for name in ("volts", "ohms"):
                old = getattr(self, name)
                new = np.zeros((size, old.shape[1]), dtype=np.float32)
                new[:len(old)] = old
                setattr(self, name, new)

    @property
    def size(self) -> int:
        return self.volts.nbytes + self.ohms.nbytes


class Predictor:
    """Readings under candidates. Voltages in volts against the body, resistances in ohms."""

    def __init__(self, sweep: Sweep) -> None:
        self.sweep = sweep
        self.bench: Bench = sweep.bench
        self.circuit = self.bench.assembled.circuit
        self.numbers = {c.name: i for i, c in enumerate(self.bench.conditions)}
        self.numbers[BATTERY_OFF] = len(self.bench.conditions)
        self.tables: OrderedDict[State, _Table] = OrderedDict()
        self.looks = AllLooks(sweep)
        self._diode_ends = diode_ends(self.bench)
        self.failures: dict[tuple[Candidate, State], str] = {}
        """What no way of computing answered, and why: it counts as what the sound car does."""
        self._gone: dict[Candidate, frozenset[str]] = {}
        self.probe_points: list[tuple[str, str, frozenset[str]]] = []
        """Filled by who proposes measurements: what may be probed, and where that is."""
        self.transfers = Transfers(self.bench.base)
        self.node_index = self.circuit.node_index
        self.load_numbers: dict[str, list[int]] = {}
        for number, port in enumerate(self.bench.ports.loads):
            part = self.circuit.elements[port].part
            self.load_numbers.setdefault(part, []).append(number)
        self.watched = {part: loads for part, loads in self.load_numbers.items()
                        if self.bench.vehicle.parts[part].family not in UNSEEN}
        """The loads that one can see or hear, by part."""
        self._symptoms: list[list[tuple[int, str]]] | None = None
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

    @property
    def symptoms(self) -> list[list[tuple[int, str]]]:
        """Return for every single fault what is seen to be wrong: (condition, part)."""
        if self._symptoms is None:
            self._symptoms = self.looks.symptoms(self.watched)
        return self._symptoms

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

    def _table(self, state: State) -> _Table:
        """Return the table of a state, as the one used last; drop those not used for longest."""
        table = self.tables.get(state)
        if table is None:
            table = self.tables[state] = _Table(len(self.circuit.nodes))
        self.tables.move_to_end(state)
        while len(self.tables) > 1 and (
                sum(t.size for t in self.tables.values()) > MOST_BYTES
                or sum(len(t.answers) for t in self.tables.values()) > MOST_ANSWERS):
            self.tables.popitem(last=False)
        if len(table.answers) > MOST_ANSWERS or table.size > MOST_BYTES:
            table = self.tables[state] = _Table(len(self.circuit.nodes))
        return table

    def answers(self, state: State, candidates: Sequence[Candidate]) -> _Table:
        """Return the table of a state with at least these candidates in it."""
        table = self._table(state)
        todo = [c for c in dict.fromkeys(candidates) if c not in table.answers]
        if todo:
            number = self.numbers[state.condition]
            solver = self.bench.solver(number)
            found = solver.solve([self._change(c, state, number) for c in todo])
            table.answers.update(zip(todo, found, strict=True))
        return table

    def nodes(self, state: State, candidates: Sequence[Candidate]) -> tuple[Small, Small]:
        """Return (voltages, resistances) of every node for each candidate, a row each."""
        table = self.answers(state, candidates)
        todo = [c for c in dict.fromkeys(candidates) if c not in table.rows]
        if todo:
            table.room(len(todo))
            first = len(table.rows)
            self._fill(table, state, todo, first)
            table.rows.update((c, first + k) for k, c in enumerate(todo))
        rows = np.fromiter((table.rows[c] for c in candidates), dtype=np.intp,
                           count=len(candidates))
        return table.volts[rows], table.ohms[rows]

    def _fill(self, table: _Table, state: State, todo: Sequence[Candidate], first: int) -> None:
        number = self.numbers[state.condition]
        count = len(self.circuit.nodes)
        usual = self.bench.base(number).volts[:count]
        transfer = self.transfers.of(number)
        own = transfer.own()[:count]
        by_size: dict[int, list[int]] = {}
        for k, candidate in enumerate(todo):
            answer = table.answers[candidate]
            if answer.failed:
                table.volts[first + k], table.ohms[first + k] = self._exactly(
                    candidate, state, number, own)
            else:
                by_size.setdefault(len(answer.ports), []).append(k)
        for size, chosen in by_size.items():
            if not size:
                table.volts[first + np.asarray(chosen)] = usual
                table.ohms[first + np.asarray(chosen)] = own
                continue
            step = max(1, BLOCK_NUMBERS // (size * transfer.nodes))
            for begin in range(0, len(chosen), step):
                part = chosen[begin:begin + step]
                lifts, inner, amperes = self._lifts(
                    number, [table.answers[todo[k]] for k in part])
                lifts = lifts[:, :, :count]
                rows = first + np.asarray(part)
                table.volts[rows] = usual - np.matmul(amperes[:, None, :], lifts)[:, 0]
                less = (np.matmul(inner.transpose(0, 2, 1), lifts) * lifts).sum(axis=1)
                table.ohms[rows] = np.maximum(own - less, 0.0)
        if number < len(self.bench.conditions):
            fresh = slice(first, first + len(todo))
            with_meter(self.bench, number, self._diode_ends,
                       lambda row: self._change(todo[row], state, number), table.volts[fresh],
                       table.ohms[fresh])

    def _lifts(self, number: int, answers: Sequence[Answer]) -> tuple[Array, Array, Array]:
        """Return (lifts, M, amperes) of answers with equally many ports: what is seen between two
        nodes is that of the sound car less x M x, with x the lifts' difference between the nodes
        (Woodbury's formula). Shapes (answers, ports, nodes), (answers, ports, ports)."""
        ports = np.stack([a.ports for a in answers])
        slopes = np.stack([a.slopes for a in answers])
        amperes = np.stack([a.amperes for a in answers])
        many, size = ports.shape
        lifts = self.transfers.of(number).ports(ports.ravel()).reshape(many, size, -1)
        a = np.asarray(self.bench.ports.a, dtype=np.intp)[ports]
        b = np.asarray(self.bench.ports.b, dtype=np.intp)[ports]
        rows, columns = np.arange(many)[:, None, None], np.arange(size)[None, :, None]
        between = lifts[rows, columns, a[:, None, :]] - lifts[rows, columns, b[:, None, :]]
        inside = np.eye(size) + between * slopes[:, None, :]
        try:
            inverse = np.linalg.inv(inside)
        except np.linalg.LinAlgError:
            inverse = np.linalg.pinv(inside)
        return lifts, slopes[:, :, None] * inverse, amperes

    def _whole(self, candidate: Candidate, state: State, number: int) -> OperatingPoint:
        """Return the circuit solved the long way; what cannot be solved is noted."""
        apart = [f"{plug}:plug:{cavity}" for plug in state.unplugged
                 for body in [self.bench.vehicle.parts[plug].connector] if body is not None
                 for cavity in body.cavities]
        apart += [name for part in state.pulled for name in self.part_ids.get(part, ())]
        found = self.bench.whole([self.bench.faults[i] for i in candidate], number,
                                 self.blown(candidate),
                                 [n for n in apart if n in self.circuit.element_index])
        if found.failure:
            self.failures[candidate, state] = found.failure
        return found

    def _exactly(self, candidate: Candidate, state: State, number: int, own: Array
                 ) -> tuple[Array, Array]:
        found = self._whole(candidate, state, number)
        count = len(self.circuit.nodes)
        if found.failure:
            return self.bench.base(number).volts[:count], own
        hangs = np.zeros(count, dtype=bool)
        hangs[[self.node_index[n] for n in found.floating_nodes if n in self.node_index]] = True
        return found.volts[:count].copy(), np.where(hangs, 1e9, np.minimum(own, 1e3))

    def own_ohm(self, number: int) -> Array:
        """Return what a meter looks into at each node of the sound car."""
        return self.transfers.of(number).own()[:len(self.circuit.nodes)]

    def between_ohms(self, state: State, candidates: Sequence[Candidate], a: str, b: str) -> Array:
        """Return the resistance between two nodes as a meter sees it, sources taken as they are."""
        table = self.answers(state, candidates)
        number = self.numbers[state.condition]
        one, other = self.node_index[a], self.node_index[b]
        spread = self.transfers.of(number).between(np.asarray([one]), np.asarray([other]))[0]
        found = np.full(len(candidates), float(spread[one] - spread[other]))
        port_a = np.asarray(self.bench.ports.a, dtype=np.intp)
        port_b = np.asarray(self.bench.ports.b, dtype=np.intp)
        for row, candidate in enumerate(candidates):
            answer = table.answers[candidate]
            if len(answer.ports) and not answer.failed:
                _, inner, _ = self._lifts(number, [answer])
                x = spread[port_a[answer.ports]] - spread[port_b[answer.ports]]
                found[row] -= float(x @ inner[0] @ x)
        return np.asarray(np.maximum(found, 0.0))

    # --- readings

    def effects(self, state: State, candidates: Sequence[Candidate]) -> list[Effect]:
        """Return what the loads, relays and fuses do."""
        number = self.numbers[state.condition]
        if state.plain and number < len(self.bench.conditions) and all(
                len(c) <= 1 for c in candidates):
            return [self.sweep.found[c[0]][number] if c else _SAME for c in candidates]
        table = self.answers(state, candidates)
        todo = [c for c in dict.fromkeys(candidates) if c not in table.effects]
        if todo:
            found = self.bench.effects(number, [table.answers[c] for c in todo])
            for candidate, effect in zip(todo, found, strict=True):
                if effect.failed:
                    effect = self.bench.effect_of_point(
                        number, self._whole(candidate, state, number), self.blown(candidate))
                table.effects[candidate] = _SAME if effect.failed else effect
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

    def looks_of(self, state: State, candidates: Sequence[Candidate], rough: bool = False) -> Looks:
        """Return what loads and relays do under each candidate; `rough` as in `rough_effects`."""
        number = self.numbers[state.condition]
        if state.plain and number < len(self.bench.conditions):
            whole = self.looks.of(number)
            last = len(whole.states) - 1
            rows = np.fromiter((c[0] if c else last for c in candidates), dtype=np.intp,
                               count=len(candidates))
            found = whole.rows(rows)
            more = [i for i, c in enumerate(candidates) if len(c) > 1]
            if more:
                some = [candidates[i] for i in more]
                effects = (self.rough_effects if rough else self.effects)(state, some)
                extra = Looks(*self.looks.sound(number), effects)
                found.states[more], found.coils[more] = extra.states, extra.coils
                found.buzzes[more] = extra.buzzes
            return found
        return Looks(*self.looks.sound(number), self.effects(state, candidates))

    def meter_v(self, state: State, candidates: Sequence[Candidate], node: str,
                against: str = "") -> Array:
        """Return what a 10 megohm meter shows."""
        shown, seen = self._source(state, candidates, node, against)
        return np.asarray(meter_shows(shown, seen))

    def _source(self, state: State, candidates: Sequence[Candidate], node: str, against: str
                ) -> tuple[Array, Array]:
        volts, ohms = self.nodes(state, candidates)
        at = self.node_index[node]
        shown, seen = volts[:, at].astype(float), ohms[:, at].astype(float)
        if against:
            other = self.node_index[against]
            shown = shown - volts[:, other]
            seen = seen + ohms[:, other]
        return shown, seen

    def lamp_share(self, state: State, candidates: Sequence[Candidate], node: str,
                   against: str = "") -> Array:
        """Return the power of a test lamp as a share of its rated power."""
        shown, seen = self._source(state, candidates, node, against)
        if against:
            seen = self.between_ohms(state, candidates, node, against)
        return lamp_shares(shown, seen, self.lamp_v)

    @property
    def lamp_v(self) -> float:
        nominal = self.bench.vehicle.nominal_v
        return next((v for v in (6.0, 12.0, 24.0) if nominal < 1.4 * v), 48.0)

    def load_states(self, state: State, candidates: Sequence[Candidate], part: str) -> list[int]:
        """Return what a part is seen to do: of several loads in it, those that should work."""
        if self.numbers[state.condition] >= len(self.bench.conditions):
            return [OFF] * len(candidates)
        found: list[int] = self.looks_of(state, candidates).part(
            self.load_numbers.get(part, [])).tolist()
        return found

    def fuse_blown(self, candidate: Candidate, part: str) -> bool:
        """Return whether a fuse is found burnt through."""
        return part in self.fuses_gone(candidate)

    def fuses_gone(self, candidate: Candidate) -> frozenset[str]:
        """Return the fuses and links that are found burnt through."""
        found = self._gone.get(candidate)
        if found is None:
            names = {self.circuit.elements[self.circuit.element_index[n]].part
                     for n in self.blown(candidate)}
            found = frozenset(names | {f.part for f in (self.bench.faults[i] for i in candidate)
                                       if f.mode in ("fuse-blown", "link-open")})
            if len(candidate) < 2:
                self._gone[candidate] = found
        return found

    def blows_again(self, condition: str, candidates: Sequence[Candidate], part: str) -> list[bool]:
        """Return whether a sound fuse put in blows in a condition."""
        ids = set(self.fuse_ids.get(part, ()))
        number = self.numbers[condition]
        return [any(ids & set(self.sweep.fresh[i][number].opened) for i in candidate)
                for candidate in candidates]

    def relay_states(self, state: State, candidates: Sequence[Candidate], part: str) -> list[str]:
        """Return clicks, silent or buzzes for each candidate."""
        found = self.looks_of(state, candidates).relay(self.coil_numbers.get(part, []))
        return [RELAY_STATES[i] for i in found.tolist()]

    def amps(self, state: State, candidates: Sequence[Candidate], name: str) -> Array:
        """Return the current through a fuse or wire, in amperes, without its sign."""
        ids = self.fuse_ids.get(name) or [name]
        port = self.circuit.element_index.get(ids[0])
        if port is None:
            return np.zeros(len(candidates))
        table = self.answers(state, candidates)
        number = self.numbers[state.condition]
        base = self.bench.base(number)
        lift = self.transfers.of(number).ports(np.asarray([port]))[0]
        a = np.asarray(self.bench.ports.a, dtype=np.intp)
        b = np.asarray(self.bench.ports.b, dtype=np.intp)
        found = []
        for candidate in candidates:
            answer = table.answers[candidate]
            volts = float(base.port_volts[port] - (
                lift[a[answer.ports]] - lift[b[answer.ports]]) @ answer.amperes)
            siemens = float(base.siemens[port])
            at = np.flatnonzero(answer.ports == port)
            if len(at):
                siemens += float(answer.slopes[at[0]])
            found.append(abs(volts * siemens))
        return np.asarray(found)

    def swap_helps(self, candidate: Candidate, part: str) -> bool:
        """Return whether a sound part in the place of `part` takes the fault away."""
        faults = [self.bench.faults[i] for i in candidate]
        return bool(faults) and all(f.part == part and f.mode in OWN_MODES for f in faults)

    def state_of(self, seen: Observation) -> State:
        return State(seen.condition, seen.unplugged, seen.pulled)


_SAME = Effect({})


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
