"""Relays and fuses: solve, let armatures move and fuses open, and solve again until all is quiet.

Works on many networks of one circuit at once, one a column. Relays move together, as real ones
take about as long as each other (operate 10 ms, release 7 ms); where that goes round in a circle
one armature at a time decides between a race and a relay that chatters.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from harnessdsl.electric.circuit import Circuit, CircuitError, Network, Start
from harnessdsl.electric.elements import Law, Motor, Resistance
from harnessdsl.electric.elimination import Array, Index
from harnessdsl.electric.laws import FAMILIES
from harnessdsl.electric.newton import Solution, solve_columns
from harnessdsl.electric.plan import Plan, make_plan
from harnessdsl.electric.robust import solve_column

THRESHOLD_SHARE = 1e-9
"""A coil current this near to its threshold counts as having reached it."""


@dataclass(slots=True)
class Outcome:
    """One column when all is quiet."""

    volts: Array
    """Of every node."""
    branch_volts: list[Array]
    energised: np.ndarray
    """Of every coil of the circuit."""
    chattering: tuple[int, ...] = ()
    """Coils that never come to rest."""
    race: tuple[int, ...] = ()
    """Coils whose rest depends on which of them is quicker."""
    failure: str = ""
    steps: int = 0
    floating_source: bool = False


def plan_of(circuit: Circuit, extra: frozenset[int] = frozenset(), folding: bool = True) -> Plan:
    """Return the circuit's plan, made on first use; `extra` elements may change besides."""
    key = (extra, folding)
    found = circuit.plans.get(key)
    if found is None:
        found = circuit.plans[key] = make_plan(circuit, extra, folding)
    assert isinstance(found, Plan)
    return found


@dataclass(frozen=True, slots=True)
class _Gates:
    """Which contacts wait for which coils, as arrays over (contact, coil) terms."""

    contacts: Index
    starts: Index
    coils: Index
    wanted: np.ndarray
    coil_a: Index
    coil_b: Index
    coil_siemens: Array
    pull_in_a: Array
    drop_out_a: Array

    @classmethod
    def of(cls, circuit: Circuit, plan: Plan) -> _Gates:
        number = {index: i for i, index in enumerate(circuit.coils)}
        contacts, starts, coils, wanted = [], [], [], []
        for row, index in enumerate(plan.variable):
            gate = circuit.elements[index].gate
            if gate:
                contacts.append(row)
                starts.append(len(coils))
                for term in gate:
                    coils.append(number[circuit.element_index[term.coil]])
                    wanted.append(term.energised)
        elements = [circuit.elements[i] for i in circuit.coils]
        figures = [circuit.coil_figures(i) for i in circuit.coils]

        def column(values: list[float]) -> Array:
            return np.asarray(values, dtype=float).reshape(-1, 1)

        siemens = [e.law.siemens if isinstance(e.law, Resistance) else 0.0 for e in elements]
        return cls(
            np.asarray(contacts, dtype=np.intp), np.asarray(starts, dtype=np.intp),
            np.asarray(coils, dtype=np.intp), np.asarray(wanted, dtype=bool)[:, None],
            np.asarray([circuit.node_index[e.a] for e in elements], dtype=np.intp),
            np.asarray([circuit.node_index[e.b] for e in elements], dtype=np.intp),
            column(siemens), column([f.pull_in_a for f in figures]),
            column([f.drop_out_a for f in figures]))


class Batch:
    """Networks of one circuit, being settled together."""

    def __init__(self, networks: Sequence[Network], opened: Sequence[frozenset[int]]) -> None:
        self.circuit = networks[0].circuit
        if any(n.circuit is not self.circuit for n in networks):
            raise CircuitError("networks of different circuits cannot be settled together")
        self.networks = networks
        self.opened = opened
        circuit = self.circuit
        extra = set().union(*opened) if opened else set()
        for network in networks:
            for name in network.laws:
                index = circuit.element_index[name]
                if isinstance(circuit.elements[index].law, Resistance):
                    extra.add(index)
        self.extra = frozenset(extra - circuit.variable)
        self.plan = plan_of(circuit, self.extra)
        self.gates = self._gates()
        self.siemens = self._siemens()
        self.parameters = self._parameters(self.plan)

    def _gates(self) -> _Gates:
        found = self.circuit.plans.get(("gates", self.extra))
        if found is None:
            found = self.circuit.plans[("gates", self.extra)] = _Gates.of(self.circuit, self.plan)
        assert isinstance(found, _Gates)
        return found

    def _siemens(self) -> Array:
        """Conductances of the variable elements with all relays as their contacts like them."""
        plan, circuit = self.plan, self.circuit
        row_of = {int(index): row for row, index in enumerate(plan.variable)}
        own = np.asarray([circuit.elements[i].law.siemens  # type: ignore[union-attr]
                          for i in plan.variable], dtype=float)
        siemens = np.repeat(own[:, None], len(self.networks), axis=1)
        for column, network in enumerate(self.networks):
            for name, law in network.laws.items():
                row = row_of.get(circuit.element_index[name])
                if row is not None and isinstance(law, Resistance):
                    siemens[row, column] = law.siemens
            shut = [row_of[circuit.element_index[name]] for name, closed in network.closed.items()
                    if not closed and circuit.element_index[name] in row_of]
            siemens[shut, column] = 0.0
            for index in self.opened[column]:
                if index in row_of:
                    siemens[row_of[index], column] = 0.0
        return siemens

    def _parameters(self, plan: Plan) -> list[Array]:
        """Parameters of the non-linear elements, by column where a network changes them."""
        found = [branches.parameters for branches in plan.branches]
        place = {int(index): (f, row) for f, branches in enumerate(plan.branches)
                 for row, index in enumerate(branches.elements)}
        changed: set[int] = set()
        for column, network in enumerate(self.networks):
            for name, law in network.laws.items():
                at = place.get(self.circuit.element_index[name])
                if at is None:
                    continue
                family, row = at
                if family not in changed:
                    changed.add(family)
                    found[family] = np.repeat(found[family], len(self.networks), axis=2)
                own = self.circuit.elements[self.circuit.element_index[name]].law
                found[family][:, row, column] = _changed(own, law, found[family][:, row, column])
        return found

    def conductances(self, energised: np.ndarray, columns: Index) -> Array:
        """Conductances of the variable elements with the relays as they are."""
        siemens = self.siemens[:, columns]
        gates = self.gates
        if len(gates.contacts):
            holds = energised[gates.coils] == gates.wanted
            closed = np.logical_and.reduceat(holds, gates.starts, axis=0)
            siemens[gates.contacts] *= closed
        return siemens

    def solve(self, energised: np.ndarray, columns: Index,
              warm: Sequence[Array] | None) -> Solution:
        """Solve the columns with the relays as they are; what Newton's plain steps do not solve is
        done over by the fall-back."""
        siemens = self.conductances(energised, columns)
        parameters = [p if p.shape[2] == 1 else p[:, :, columns] for p in self.parameters]
        solution = solve_columns(self.plan, siemens, parameters, warm)
        if not solution.solved.all():
            self._over(solution, siemens, parameters)
        return solution

    def _over(self, solution: Solution, siemens: Array, parameters: Sequence[Array]) -> None:
        plan = plan_of(self.circuit, self.extra, folding=False)
        for column in np.flatnonzero(~solution.solved):
            own = [p if p.shape[2] == 1 else p[:, :, [column]] for p in parameters]
            with np.errstate(all="ignore"):
                better = solve_column(plan, siemens[:, [column]], own)
            solution.steps += better.steps
            if better.solved[0]:
                solution.solved[column] = True
                solution.volts[:, column] = better.volts[:, 0]
                for mine, new in zip(solution.branch_volts, better.branch_volts, strict=True):
                    mine[:, column] = new[:, 0]

    def coil_currents(self, volts: Array) -> Array:
        gates = self.gates
        return np.abs(volts[gates.coil_a] - volts[gates.coil_b]) * gates.coil_siemens

    def armatures(self, energised: np.ndarray, amperes: Array) -> np.ndarray:
        """Return where the armatures go at these coil currents: hysteresis keeps them between."""
        gates = self.gates
        threshold = np.where(energised, gates.drop_out_a, gates.pull_in_a)
        return amperes >= threshold * (1 - THRESHOLD_SHARE)


def _changed(own: Law, law: Law, parameters: Array) -> Array:
    """Return the parameters of a non-linear element whose law a network changes."""
    if not isinstance(law, Resistance):
        if law.kind != own.kind:
            raise CircuitError(f"a {own.kind} cannot become a {law.kind} without a new circuit")
        return np.asarray(law.parameters(), dtype=float)
    if law.siemens == 0.0:
        return FAMILIES[own.kind].off(parameters)
    if isinstance(own, Motor):
        return np.asarray([law.siemens, 0.0, own.starting_v])
    raise CircuitError(f"a {own.kind} cannot become a resistance without a new circuit")


def settle(networks: Sequence[Network], energised: np.ndarray,
           opened: Sequence[frozenset[int]], warm: Sequence[Array] | None = None
           ) -> list[Outcome]:
    """Let the relays of every network come to rest from `energised` (coils, networks)."""
    batch = Batch(networks, opened)
    count = len(networks)
    every = np.arange(count)
    energised = energised.copy()
    solution = batch.solve(energised, every, warm)
    if not len(batch.circuit.coils):
        return [_outcome(batch, solution, energised, c, column=c) for c in range(count)]
    history: list[list[bytes]] = [[energised[:, c].tobytes()] for c in range(count)]
    outcomes: list[Outcome | None] = [None] * count
    active = every
    rounds = 4 * len(batch.circuit.coils) + 8
    for _ in range(rounds):
        goes = batch.armatures(energised[:, active], batch.coil_currents(solution.volts))
        moved = (goes != energised[:, active]).any(axis=0) & solution.solved
        moving: list[int] = []
        for i, column in enumerate(active):
            if not moved[i]:
                outcomes[column] = _outcome(batch, solution, energised, i, column=column)
                continue
            state = goes[:, i].tobytes()
            if state in history[column]:
                outcomes[column] = _one_by_one(batch, energised, column, solution, i)
                continue
            history[column].append(state)
            energised[:, column] = goes[:, i]
            moving.append(i)
        if not moving:
            break
        active = active[moving]
        solution = batch.solve(energised[:, active], active,
                               [w[:, moving] for w in solution.branch_volts])
    else:
        for i, column in enumerate(active):
            outcomes[column] = _one_by_one(batch, energised, column, solution, i)
    return [outcome for outcome in outcomes if outcome is not None]


def _outcome(batch: Batch, solution: Solution, energised: np.ndarray, place: int, *, column: int
             ) -> Outcome:
    failure = "" if solution.solved[place] else (
        f"the computation did not come to an end after {solution.steps} steps")
    return Outcome(solution.volts[:, place], [w[:, [place]] for w in solution.branch_volts],
                   energised[:, column].copy(), failure=failure, steps=solution.steps,
                   floating_source=_source_floats(batch.plan, solution, place))


def _source_floats(plan: Plan, solution: Solution, place: int) -> bool:
    for branches in plan.branches:
        if branches.family in ("cell", "alternator"):
            tied = (solution.grounded[branches.core_a, place]
                    & solution.grounded[branches.core_b, place])
            if not tied.all() or (branches.near_slot == -2).any() or (
                    branches.far_slot == -2).any():
                return True
    return False


def _one_by_one(batch: Batch, energised: np.ndarray, column: int, solution: Solution, place: int
                ) -> Outcome:
    """Move one armature at a time, the one that is pulled (or let go) hardest first.

    What comes to rest this way was a race. What does not is chattering: the coils that moved
    within the circle, shown in the state with the fewest of them pulled in.
    """
    state = energised[:, [column]].copy()
    only = np.asarray([column])
    warm = [w[:, [place]] for w in solution.branch_volts]
    seen: dict[bytes, int] = {}
    states: list[np.ndarray] = []
    solutions: list[Solution] = []
    figures = batch.gates
    for turn in range(4 * len(batch.circuit.coils) + 16):
        found = batch.solve(state, only, warm)
        warm = found.branch_volts
        key = state.tobytes()
        if key in seen:
            circle = range(seen[key], turn)
            moves = np.zeros(len(state), dtype=bool)
            for at in circle:
                moves |= states[at][:, 0] != states[seen[key]][:, 0]
            calm = min(circle, key=lambda at: (int(states[at].sum()), at))
            outcome = _outcome(batch, solutions[calm], states[calm], 0, column=0)
            outcome.chattering = tuple(int(i) for i in np.flatnonzero(moves))
            return outcome
        seen[key] = turn
        states.append(state.copy())
        solutions.append(found)
        amperes = batch.coil_currents(found.volts)
        goes = batch.armatures(state, amperes)
        wrong = np.flatnonzero((goes != state)[:, 0])
        if not len(wrong) or not found.solved[0]:
            outcome = _outcome(batch, found, state, 0, column=0)
            outcome.race = tuple(int(i) for i in np.flatnonzero(
                (np.concatenate(states, axis=1) != state).any(axis=1)))
            return outcome
        threshold = np.where(state, figures.drop_out_a, figures.pull_in_a)
        drive = np.abs(np.log(np.maximum(amperes, 1e-30) / threshold))[:, 0]
        mover = max(wrong, key=lambda i: (drive[i], -i))
        state = state.copy()
        state[mover, 0] = goes[mover, 0]
    outcome = _outcome(batch, solutions[-1], states[-1], 0, column=0)
    outcome.failure = "the relays did not come to rest"
    return outcome


def start_states(circuit: Circuit, starts: Sequence[Start]) -> np.ndarray:
    """Return (coils, columns): which coils each start has pulled in."""
    names = [circuit.elements[i].id for i in circuit.coils]
    found = np.zeros((len(names), len(starts)), dtype=bool)
    for column, start in enumerate(starts):
        if start.energised:
            found[:, column] = [name in start.energised for name in names]
    return found


def opened_indexes(circuit: Circuit, opened: Mapping[str, str]) -> frozenset[int]:
    """Return the numbers of opened elements that this circuit has."""
    return frozenset(circuit.element_index[name] for name in opened
                     if name in circuit.element_index)
