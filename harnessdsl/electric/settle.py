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
from harnessdsl.electric.newton import Bools, Columns, Solution, Stage
from harnessdsl.electric.plan import Plan, make_plan
from harnessdsl.electric.robust import solve_stage

ROUGH_MARGIN = 0.25
"""How far beyond its threshold a coil must be for a rough current to move it."""
MOST_ROUGH_ROUNDS = 12
THRESHOLD_SHARE = 1e-9
"""A coil current this near to its threshold counts as having reached it."""


@dataclass(slots=True)
class Outcome:
    """One column when all is quiet."""

    volts: Array
    """Of every node."""
    branch_volts: Array
    """Across the non-linear elements, in the plan's order."""
    energised: Bools
    """Of every coil of the circuit."""
    chattering: tuple[int, ...] = ()
    """Coils that never come to rest."""
    race: tuple[int, ...] = ()
    """Coils whose rest depends on which of them is quicker."""
    failure: str = ""
    steps: int = 0
    floating_source: bool = False


def element_ends(circuit: Circuit) -> tuple[Index, Index]:
    """Return the node numbers of every element's a and b."""
    found = circuit.plans.get("ends")
    if found is None:
        at = circuit.node_index
        found = circuit.plans["ends"] = (
            np.asarray([at[e.a] for e in circuit.elements], dtype=np.intp),
            np.asarray([at[e.b] for e in circuit.elements], dtype=np.intp))
    assert isinstance(found, tuple)
    return found


def own_siemens(circuit: Circuit) -> Array:
    """Return the conductance of every element of its own; 0 for the non-linear ones."""
    found = circuit.plans.get("own-siemens")
    if found is None:
        found = circuit.plans["own-siemens"] = np.asarray(
            [e.law.siemens if isinstance(e.law, Resistance) else 0.0 for e in circuit.elements])
    assert isinstance(found, np.ndarray)
    return found


def set_siemens(network: Network, opened: frozenset[int]) -> Array:
    """Return the conductance of every linear element in a network, with all relays as their
    contacts like them."""
    circuit = network.circuit
    index = circuit.element_index
    found = own_siemens(circuit).copy()
    for name, law in network.laws.items():
        if isinstance(circuit.elements[index[name]].law, Resistance) and isinstance(
                law, Resistance):
            found[index[name]] = law.siemens
    found[network.off_indexes] = 0.0
    found[list(opened)] = 0.0
    return found


def plan_of(circuit: Circuit, extra: frozenset[int] = frozenset(), robust: bool = False) -> Plan:
    """Return the circuit's plan, made on first use; `extra` elements may change besides."""
    key = (extra, robust)
    found = circuit.plans.get(key)
    if found is None:
        found = circuit.plans[key] = make_plan(circuit, extra, folding=not robust,
                                               lagging=not robust)
    assert isinstance(found, Plan)
    return found


@dataclass(frozen=True, slots=True)
class _Gates:
    """Which contacts wait for which coils, as arrays over (contact, coil) terms."""

    starts: Index
    coils: Index
    wanted: Bools
    coil_a: Index
    coil_b: Index
    coil_siemens: Array
    pull_in_a: Array
    drop_out_a: Array

    @classmethod
    def of(cls, circuit: Circuit, plan: Plan) -> _Gates:
        number = {index: i for i, index in enumerate(circuit.coils)}
        starts: list[int] = []
        coils: list[int] = []
        wanted: list[bool] = []
        for index in plan.gated:
            starts.append(len(coils))
            for term in circuit.elements[index].gate or ():
                coils.append(number[circuit.element_index[term.coil]])
                wanted.append(term.energised)
        elements = [circuit.elements[i] for i in circuit.coils]
        figures = [circuit.coil_figures(i) for i in circuit.coils]

        def column(values: list[float]) -> Array:
            return np.asarray(values, dtype=float).reshape(-1, 1)

        siemens = [e.law.siemens if isinstance(e.law, Resistance) else 0.0 for e in elements]
        return cls(
            np.asarray(starts, dtype=np.intp),
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
        extra: set[int] = set().union(*opened)
        for network in networks:
            for name in network.laws:
                index = circuit.element_index[name]
                if isinstance(circuit.elements[index].law, Resistance):
                    extra.add(index)
        self.extra = frozenset(extra - circuit.variable)
        self.plan = plan_of(circuit, self.extra)
        self.gates = self._gates()
        self.siemens = np.repeat(own_siemens(circuit)[:, None], len(networks), axis=1)
        for column, network in enumerate(networks):
            self.siemens[:, column] = set_siemens(network, opened[column])
        self.columns = self._columns(self.plan)
        self.every = np.arange(len(networks))

    def _columns(self, plan: Plan) -> Columns:
        return Columns(plan, self.siemens[plan.switched], self._parameters(plan))

    def _gates(self) -> _Gates:
        found = self.circuit.plans.get(("gates", self.extra))
        if found is None:
            found = self.circuit.plans[("gates", self.extra)] = _Gates.of(self.circuit, self.plan)
        assert isinstance(found, _Gates)
        return found

    def _parameters(self, plan: Plan) -> list[Array]:
        """Parameters of the non-linear elements, by column where a network changes them."""
        found = [family.parameters for family in plan.families]
        if not any(network.laws for network in self.networks):
            return found
        place = plan.branch_place
        changed: set[int] = set()
        for column, network in enumerate(self.networks):
            for name, law in network.laws.items():
                index = self.circuit.element_index[name]
                at = place.get(index)
                if at is None:
                    continue
                f, row = at
                if f not in changed:
                    changed.add(f)
                    found[f] = np.repeat(found[f], len(self.networks), axis=2)
                own = self.circuit.elements[index].law
                found[f][:, row, column] = _changed(own, law, found[f][:, row, column])
        return found

    def stage(self, columns: Columns, energised: Bools, which: Index) -> Stage:
        """Return these columns with their relays as they are."""
        siemens = self.siemens[np.ix_(self.plan.gated, which)]
        gates = self.gates
        if len(gates.starts):
            holds = energised[gates.coils] == gates.wanted
            siemens *= np.logical_and.reduceat(holds, gates.starts, axis=0)
        return Stage(columns, siemens)

    def solve(self, stage: Stage, energised: Bools, which: Index, warm: Solution | None
              ) -> Solution:
        """Solve a stage; what Newton's plain steps do not solve is done over by the fall-back."""
        solution = stage.solve(warm)
        if not solution.solved.all():
            self._over(solution, energised, which)
        return solution

    def _over(self, solution: Solution, energised: Bools, which: Index) -> None:
        everyone = self._columns(plan_of(self.circuit, self.extra, robust=True))
        # both plans have their branches and their contacts in the same order
        for place in np.flatnonzero(~solution.solved):
            one = which[[place]]
            better = solve_stage(self.stage(everyone.only(one), energised[:, [place]], one))
            solution.steps += better.steps
            if better.solved[0]:
                solution.solved[place] = True
                solution.volts[:, place] = better.volts[:, 0]
                solution.branch_volts[:, place] = better.branch_volts[:, 0]
                solution.core_volts[:, place] = np.r_[better.volts[self.plan.core_nodes, 0], 0.0]
                solution.grounded[:, place] = True

    def everything(self, outcomes: Sequence[Outcome]) -> tuple[Array, Array, Array]:
        """Return voltages, conductances (slopes, of the non-linear) and currents of all nodes and
        elements, one row a network."""
        circuit, plan = self.circuit, self.plan
        volts = np.stack([o.volts for o in outcomes], axis=1)
        siemens = self.siemens.copy()
        gates = self.gates
        if len(gates.starts):
            energised = np.stack([o.energised for o in outcomes], axis=1)
            holds = energised[gates.coils] == gates.wanted
            siemens[plan.gated] *= np.logical_and.reduceat(holds, gates.starts, axis=0)
        ends_a, ends_b = element_ends(circuit)
        currents = (volts[ends_a] - volts[ends_b]) * siemens
        inner = np.stack([o.branch_volts for o in outcomes], axis=1)
        amperes, slopes = self.columns.laws(inner)
        currents[plan.branches.elements] = amperes
        siemens[plan.branches.elements] = slopes
        return (np.ascontiguousarray(volts.T), np.ascontiguousarray(siemens.T),
                np.ascontiguousarray(currents.T))

    def coil_currents(self, volts: Array) -> Array:
        gates = self.gates
        return np.abs(volts[gates.coil_a] - volts[gates.coil_b]) * gates.coil_siemens

    def armatures(self, energised: Bools, amperes: Array, margin: float = THRESHOLD_SHARE) -> Bools:
        """Return where the armatures go at these coil currents: hysteresis keeps them between.
        With a margin those near their threshold stay where they are."""
        gates = self.gates
        holds = amperes >= gates.drop_out_a * (1 - margin)
        pulls = amperes >= gates.pull_in_a * (1 + margin - 2 * THRESHOLD_SHARE)
        return np.where(energised, holds, pulls)


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


def settle(networks: Sequence[Network], energised: Bools, opened: Sequence[frozenset[int]]
           ) -> tuple[list[Outcome], Batch]:
    """Let the relays of every network come to rest from `energised` (coils, networks)."""
    with np.errstate(all="ignore"):
        batch = Batch(networks, opened)
        return _settle(batch, energised), batch


def _settle(batch: Batch, energised: Bools) -> list[Outcome]:
    count = len(batch.networks)
    active = np.arange(count)
    energised = energised.copy()
    columns = batch.columns
    energised, stage = _clear_moves(batch, energised)
    solution = batch.solve(stage, energised, active, None)
    history = [{energised[:, c].tobytes()} for c in range(count)]
    outcomes: list[Outcome | None] = [None] * count
    for _ in range(4 * len(batch.circuit.coils) + 8):
        here = energised[:, active]
        goes = batch.armatures(here, batch.coil_currents(solution.volts))
        moved = (goes != here).any(axis=0) & solution.solved
        moving: list[int] = []
        for place, column in enumerate(active.tolist()):
            if not moved[place]:
                outcomes[column] = _outcome(batch, solution, here, place)
                continue
            state = goes[:, place].tobytes()
            if state in history[column]:
                outcomes[column] = _one_by_one(batch, here[:, [place]], column)
                continue
            history[column].add(state)
            energised[:, column] = goes[:, place]
            moving.append(place)
        if not moving:
            break
        if len(moving) < len(active):
            kept = np.asarray(moving)
            columns, solution, active = columns.only(kept), solution.only(kept), active[kept]
        here = energised[:, active]
        solution = batch.solve(batch.stage(columns, here, active), here, active, solution)
    for column in range(count):
        if outcomes[column] is None:
            outcomes[column] = _one_by_one(batch, energised[:, [column]], column)
    return [outcome for outcome in outcomes if outcome is not None]


def _clear_moves(batch: Batch, energised: Bools) -> tuple[Bools, Stage]:
    """Move the armatures that are far from where they belong, by rough voltages: the more a coil is
    overdriven the quicker it is, and each round costs a part of a whole solution. Columns that go
    round in a circle are left as they were."""
    start = energised
    stage = batch.stage(batch.columns, energised, batch.every)
    if not len(energised):
        return energised, stage
    seen = [{energised[:, c].tobytes()} for c in range(energised.shape[1])]
    astray = np.zeros(energised.shape[1], dtype=bool)
    near: Array | None = None
    for _ in range(MOST_ROUGH_ROUNDS):
        stage.begin(near)
        goes = batch.armatures(energised, batch.coil_currents(stage.roughly()), ROUGH_MARGIN)
        goes[:, astray] = start[:, astray]
        moved = (goes != energised).any(axis=0)
        if not moved.any():
            return energised, stage
        for column in np.flatnonzero(moved).tolist():
            state = goes[:, column].tobytes()
            if state in seen[column]:
                astray[column] = True
                goes[:, column] = start[:, column]
            seen[column].add(state)
        near = stage.begun.volts if stage.begun is not None else None
        energised = goes
        stage = batch.stage(batch.columns, energised, batch.every)
    return start, batch.stage(batch.columns, start, batch.every)


def _outcome(batch: Batch, solution: Solution, energised: Bools, place: int) -> Outcome:
    failure = "" if solution.solved[place] else (
        f"the computation did not come to an end after {solution.steps} steps")
    return Outcome(solution.volts[:, place], solution.branch_volts[:, place],
                   energised[:, place].copy(), failure=failure, steps=solution.steps,
                   floating_source=_source_floats(batch.plan, solution, place))


def _source_floats(plan: Plan, solution: Solution, place: int) -> bool:
    branches = plan.branches
    for family in plan.families:
        if family.name in ("cell", "alternator"):
            rows = slice(family.first, family.last)
            ends = np.concatenate([branches.core_a[rows], branches.core_b[rows]])
            if not solution.grounded[ends, place].all() or (
                    branches.near_slot[rows] == -2).any() or (
                    branches.far_slot[rows] == -2).any():
                return True
    return False


def _one_by_one(batch: Batch, state: Bools, column: int) -> Outcome:
    """Move one armature at a time, the one that is pulled (or let go) hardest first.

    What comes to rest this way was a race. What does not is chattering: the coils that moved
    within the circle, shown in the state with the fewest of them pulled in.
    """
    only = np.asarray([column])
    columns = batch.columns.only(only)
    seen: dict[bytes, int] = {}
    states: list[Bools] = []
    solutions: list[Solution] = []
    figures = batch.gates
    warm: Solution | None = None
    for turn in range(4 * len(batch.circuit.coils) + 16):
        found = batch.solve(batch.stage(columns, state, only), state, only, warm)
        warm = found
        key = state.tobytes()
        if key in seen:
            circle = range(seen[key], turn)
            moves = np.zeros(len(state), dtype=bool)
            for at in circle:
                moves |= states[at][:, 0] != states[seen[key]][:, 0]
            calm = min(circle, key=lambda at: (int(states[at].sum()), at))
            outcome = _outcome(batch, solutions[calm], states[calm], 0)
            outcome.chattering = tuple(np.flatnonzero(moves).tolist())
            return outcome
        seen[key] = turn
        states.append(state.copy())
        solutions.append(found)
        amperes = batch.coil_currents(found.volts)
        goes = batch.armatures(state, amperes)
        wrong = np.flatnonzero((goes != state)[:, 0]).tolist()
        if not wrong or not found.solved[0]:
            outcome = _outcome(batch, found, state, 0)
            outcome.race = tuple(np.flatnonzero(
                (np.concatenate(states, axis=1) != state).any(axis=1)).tolist())
            return outcome
        threshold = np.where(state, figures.drop_out_a, figures.pull_in_a)
        drive = np.abs(np.log(np.maximum(amperes, 1e-30) / threshold))[:, 0]
        mover = max(wrong, key=lambda i: (drive[i], -i))
        state = state.copy()
        state[mover, 0] = goes[mover, 0]
    outcome = _outcome(batch, solutions[-1], states[-1], 0)
    outcome.failure = "the relays did not come to rest"
    return outcome


def start_states(circuit: Circuit, starts: Sequence[Start]) -> Bools:
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
