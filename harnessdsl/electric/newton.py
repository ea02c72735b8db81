"""Newton's method over a plan: the voltages of many networks of one circuit, one a column.

Between two steps every non-linear element is a straight line (a conductance and a current source),
so that the network is linear and is solved by elimination. The line is the tangent at first and may
serve for several steps, as long as they close in fast; an element with wires folded in is solved by
itself at each step. The answer is right when line and law agree in every element.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harnessdsl.electric.elimination import Array, Factor, Index, push_out, put_back, take_out
from harnessdsl.electric.laws import FAMILIES
from harnessdsl.electric.plan import Plan

MISMATCH_A = 1e-9
"""Largest difference between line and law, besides MISMATCH_SHARE of the current itself."""
MISMATCH_V = 1e-6
"""What that current may amount to in volts, where little conducts."""
TINY_A = 1e-16
MISMATCH_SHARE = 1e-12
ROUNDING = 2e-15
"""What rounding of a voltage allows it besides, as a share."""
INNER_SHARE = 1e-5
"""A step within an element of this share of its current leaves an error of its square."""
MOST_STEPS = 60

SLOW = 0.05
"""Steps that shrink the error by less than this get new tangents."""
NEAR_A = 1e-4
"""From here on every digit counts: the tail of the core is taken out node by node."""
QUICK_STEPS = 20
FAR_A = 1e-3
"""Larger errors get new tangents in any case."""
STEADY_STEPS = 8
NEAR_REST_V = 0.05
CHARGING_BELOW_V = 0.3
"""A first guess of how far a charged battery is below the regulator."""
UNTIED_OHM = 1e30
"""Stands for the wire of an element that hangs in the air."""

Bools = NDArray[np.bool_]


def mismatch(current: Array, line: Array, slope: Array, across: Array) -> Array:
    """Return how far elements are off their lines, in amperes, beyond what rounding allows.

    An element that hardly conducts may be all that holds a node: it is asked for more.
    """
    miss = np.abs(current - line)
    miss *= np.maximum(1.0, MISMATCH_A / (MISMATCH_V * slope + TINY_A))
    miss -= MISMATCH_SHARE * np.abs(current)
    miss -= ROUNDING * slope * np.abs(across)
    return miss


@dataclass(slots=True)
class Solution:
    """Voltages of every node of the circuit, (nodes, columns), in the circuit's order."""

    volts: Array
    branch_volts: Array
    """Across each branch's element, (branches, columns)."""
    core_volts: Array
    solved: Bools
    """Columns in which Newton's method came to its end."""
    grounded: Bools
    """Of the core's nodes: whether the core's strong links tie them to the reference."""
    steps: int

    def only(self, columns: Index) -> Solution:
        """Return some of the columns."""
        return Solution(self.volts[:, columns], self.branch_volts[:, columns],
                        self.core_volts[:, columns], self.solved[columns],
                        self.grounded[:, columns], self.steps)


@dataclass(frozen=True, slots=True)
class Lines:
    """Every branch as a straight line between its outer ends: siemens * across + amperes."""

    siemens: Array
    amperes: Array


@dataclass(frozen=True, slots=True)
class Factored:
    """The core with its nodes taken out."""

    circuits: list[Factor]
    lag: Array
    """Conductance of the links that lag."""
    hubs: list[Factor]
    tail: list[Factor]
    tail_ohms: Array | None = None
    """The dense inverse that stands for the tail in quick steps."""


@dataclass(frozen=True, slots=True)
class _Point:
    """Every branch at one state of its element."""

    inner: Array
    amperes: Array
    siemens: Array
    """Of the element, with what lies in parallel."""
    error: Array
    """How far `inner` is off for the voltage at the outer ends, to first order."""
    correction: Array
    """What that means in current."""
    outer: Array
    current: Array
    """Slope and current as the outer ends see them."""


@dataclass(frozen=True, slots=True)
class _Begun:
    """The first step of a stage."""

    inner: Array
    lines: Lines
    factored: Factored
    volts: Array
    """Of the core."""
    seen: Array
    """At which its lagging links saw each other."""


class Columns:
    """Networks of one circuit whose switches are set; their relays may stand in any way."""

    def __init__(self, plan: Plan, switched_siemens: Array, parameters: Sequence[Array]) -> None:
        self.plan = plan
        self.parameters = parameters
        self.count = switched_siemens.shape[1]
        self.conductance = np.repeat(plan.base[:, None], self.count, axis=1)
        plan.switched_scatter.add(switched_siemens, self.conductance)
        self.factors = take_out(plan.switched_rounds, self.conductance)
        self.start = self._start()

    def _start(self) -> tuple[Array, Array, Array]:
        """Return the voltages at which the elements are looked at first, their currents there, and
        slopes: the chord to the rated point where the law bends, the tangent where it does not."""
        volts = np.repeat(self.plan.branches.starting_v, self.count, axis=1)
        self._start_charging(volts)
        amperes, siemens = self.laws(volts)
        for family in self.plan.families:
            if FAMILIES[family.name].secant:
                rows = slice(family.first, family.last)
                np.divide(amperes[rows], volts[rows], out=siemens[rows], where=volts[rows] != 0)
        return volts, amperes, siemens

    def _start_charging(self, volts: Array) -> None:
        """Where an alternator of its voltage turns, a battery is most likely being charged."""
        families = {f.name: (f, p) for f, p in zip(self.plan.families, self.parameters,
                                                   strict=True)}
        if "cell" not in families or "alternator" not in families:
            return
        family, cells = families["cell"]
        regulated, _, limit = families["alternator"][1]
        rows = slice(family.first, family.last)
        for one_regulated, one_limit in zip(regulated, limit, strict=True):
            charging = (one_limit > 0) & (one_regulated > cells[0]) & (
                one_regulated < 1.3 * cells[0])
            volts[rows] = np.where(charging, one_regulated - CHARGING_BELOW_V, volts[rows])

    def only(self, columns: Index) -> Columns:
        """Return some of the columns."""
        found = Columns.__new__(Columns)
        found.plan = self.plan
        found.parameters = [p if p.shape[2] == 1 else p[:, :, columns] for p in self.parameters]
        found.count = len(columns)
        found.conductance = self.conductance.take(columns, axis=1)
        found.factors = [factor.only(columns) for factor in self.factors]
        volts, amperes, siemens = self.start
        found.start = volts[:, columns], amperes[:, columns], siemens[:, columns]
        return found

    def laws(self, volts: Array) -> tuple[Array, Array]:
        """Return current and slope of every branch's element at `volts`."""
        amperes, siemens = np.empty_like(volts), np.empty_like(volts)
        for family, p in zip(self.plan.families, self.parameters, strict=True):
            rows = slice(family.first, family.last)
            amperes[rows], siemens[rows] = FAMILIES[family.name].evaluate(p, volts[rows])
        return amperes, siemens

    def limit(self, old: Array, new: Array, across: Array, ohm: Array) -> Array:
        """Shorten steps of the elements that would run away, or take them all the way; in place."""
        for family, p in zip(self.plan.families, self.parameters, strict=True):
            rows = slice(family.first, family.last)
            law = FAMILIES[family.name]
            if law.limit is not None:
                new[rows] = law.limit(p, old[rows], new[rows])
            if law.behind is not None:
                new[rows] = np.where((ohm[rows] > 0) & (ohm[rows] < UNTIED_OHM),
                                     law.behind(p, across[rows], ohm[rows]), new[rows])
        return new


class Stage:
    """Columns with their relays in one state each, ready to be solved."""

    def __init__(self, columns: Columns, gated_siemens: Array) -> None:
        plan = columns.plan
        self.columns = columns
        self.plan = plan
        self.begun: _Begun | None = None
        if len(plan.gated):
            self.conductance = columns.conductance.copy()
            plan.gated_scatter.add(gated_siemens, self.conductance)
        else:
            self.conductance = columns.conductance
        self.factors = take_out(plan.gated_rounds, self.conductance)
        branches = plan.branches
        self.near_ohm, self.near_tied = self._wire(branches.near_slot)
        self.far_ohm, self.far_tied = self._wire(branches.far_slot)
        self.tied = self.near_tied & self.far_tied
        self.ohm = np.where(self.tied, self.near_ohm + self.far_ohm + branches.own_ohm, UNTIED_OHM)
        self.parallel = self._taken(branches.parallel_slot)
        self.parallel[branches.parallel_slot < 0] = 0.0

    def _taken(self, slots: Index) -> Array:
        if not len(self.conductance):  # a circuit without any wire
            return np.zeros((len(slots), self.conductance.shape[1]))
        return self.conductance.take(np.maximum(slots, 0), axis=0)

    def _wire(self, slots: Index) -> tuple[Array, Bools]:
        siemens = self._taken(slots)
        siemens[slots == -1] = np.inf
        siemens[slots == -2] = 0.0
        tied = siemens > 0
        ohm = np.zeros_like(siemens)
        np.divide(1.0, siemens, out=ohm, where=tied)
        return ohm, tied

    def law(self, volts: Array) -> tuple[Array, Array]:
        amperes, siemens = self.columns.laws(volts)
        amperes += self.parallel * volts
        siemens += self.parallel
        return amperes, siemens

    def first_lines(self) -> tuple[Array, Lines]:
        """Return a first guess of the inner voltages, and lines."""
        volts, amperes, siemens = self.columns.start
        share = self.tied / (1 + self.ohm * (siemens + self.parallel))
        lines = Lines((siemens + self.parallel) * share, (amperes - siemens * volts) * share)
        volts = volts.copy()
        for family in self.plan.families:
            if FAMILIES[family.name].stops:
                rows = slice(family.first, family.last)
                volts[rows] *= self.tied[rows]
        return volts, lines

    def factor(self, siemens: Array, quick: bool = False) -> Factored:
        """Take the core's nodes out, with the branches as lines of these slopes.

        Args:
            quick: the last, tangled ones by a dense inverse (see `core.Tail`).
        """
        core = self.plan.core
        conductance = np.zeros((core.slots, self.columns.count))
        conductance[: len(core.source)] = self.conductance.take(core.source, axis=0)
        core.conductance.add(siemens.take(core.live_branch, axis=0), conductance)
        circuits = take_out(core.rounds, conductance)
        if core.tail is not None:
            if quick:
                return Factored(circuits, conductance[:0], [], [], core.tail.inverse(conductance))
            return Factored(circuits, conductance[:0], [], take_out(core.tail_rounds, conductance))
        lag = conductance.take(core.lag_slot, axis=0)
        if len(core.lag_slot):
            core.lag_ground.add(np.concatenate([lag, lag]), conductance)
        return Factored(circuits, lag, take_out(core.hub_rounds, conductance), [])

    def core_volts(self, factored: Factored, lines: Lines, before: Array) -> tuple[Array, Array]:
        """Return the core's voltages with the branches as lines, and the voltages at which the
        lagging links saw each other: `before`, improved by a sweep over the hubs alone."""
        core = self.plan.core
        injected = np.zeros((core.nodes, self.columns.count))
        amperes = lines.amperes.take(core.live_branch, axis=0)
        core.injected.add(np.concatenate([-amperes, amperes]), injected)
        push_out(core.rounds, factored.circuits, injected)
        volts = np.zeros_like(injected)
        if len(core.lag_slot):
            own = injected.copy()
            self._hubs(factored, before, injected, volts)
            before, injected = volts, own
            volts = np.zeros_like(injected)
        if factored.tail_ohms is not None:
            assert core.tail is not None
            own = injected.take(core.tail.nodes, axis=0)
            volts[core.tail.nodes] = (factored.tail_ohms @ own.T[:, :, None])[:, :, 0].T
        elif core.tail is not None:
            push_out(core.tail_rounds, factored.tail, injected)
            put_back(core.tail_rounds, factored.tail, volts, injected)
        else:
            self._hubs(factored, before, injected, volts)
        put_back(core.rounds, factored.circuits, volts, injected)
        return volts, before

    def _hubs(self, factored: Factored, before: Array, injected: Array, volts: Array) -> None:
        core = self.plan.core
        if len(core.lag_slot):
            lag = factored.lag
            core.lag_injected.add(np.concatenate(
                [lag * before.take(core.lag_b, axis=0), lag * before.take(core.lag_a, axis=0)]),
                injected)
        push_out(core.hub_rounds, factored.hubs, injected)
        put_back(core.hub_rounds, factored.hubs, volts, injected)

    def across(self, core_volts: Array) -> Array:
        branches = self.plan.branches
        return core_volts.take(branches.core_a, axis=0) - core_volts.take(branches.core_b, axis=0)

    def at(self, inner: Array, across: Array) -> _Point:
        """Return every branch with `inner` volts at its element and `across` at its outer ends."""
        amperes, siemens = self.law(inner)
        stretch = 1 + self.ohm * siemens
        error = inner + self.ohm * amperes
        error -= across
        error /= stretch
        correction = siemens * error
        return _Point(inner, amperes, siemens, error, correction, siemens / stretch * self.tied,
                      (amperes - correction) * self.tied)

    def begin(self, near: Array | None = None) -> None:
        """Take the first step: solve for the first lines.

        Args:
            near: voltages of the core to begin with.
        """
        core = self.plan.core
        inner, lines = self.first_lines()
        factored = self.factor(lines.siemens, quick=True)
        before = np.zeros((core.nodes, self.columns.count)) if near is None else near
        if len(core.lag_slot) and near is None:  # let what lags come near
            before, _ = self.core_volts(factored, lines, before)
        self.begun = _Begun(inner, lines, factored, *self.core_volts(factored, lines, before))

    def roughly(self) -> Array:
        """Return the voltages after the first step, of the nodes that are not fixed ones or are a
        coil's: good to some per cent, enough to tell which relays are far from where they stand."""
        begun = self._started()
        across = self.across(begun.volts)
        current = (begun.lines.siemens * across + begun.lines.amperes) * self.tied
        inner = np.where(self.tied, across - self.ohm * current, begun.inner)
        found = self.active(begun.volts, inner, current)
        plan = self.plan
        if len(plan.fixed_coil_nodes):
            found[plan.fixed_coil_nodes] = plan.fixed_coil_share @ found
        return found

    def _started(self) -> _Begun:
        if self.begun is None:
            self.begin()
        assert self.begun is not None
        return self.begun

    def _resume(self, warm: Solution) -> _Begun:
        """Take the first step from a solution with the relays standing otherwise."""
        across = self.across(warm.core_volts)
        point = self.at(warm.branch_volts, across)
        lines = Lines(point.outer, point.current - point.outer * across)
        factored = self.factor(lines.siemens, quick=True)
        return _Begun(point.inner, lines, factored,
                      *self.core_volts(factored, lines, warm.core_volts))

    def solve(self, warm: Solution | None = None) -> Solution:
        """Return the solution; `warm` is one of the same columns with relays standing otherwise."""
        core = self.plan.core
        begun = self._started() if warm is None else self._resume(warm)
        inner, lines, factored = begun.inner, begun.lines, begun.factored
        volts, seen = begun.volts, begun.seen
        across = self.across(volts)
        if warm is None:
            inner = self._nearer(inner, across)
        amperes, siemens = self.law(inner)
        off_before = np.full(self.columns.count, np.inf)
        for step in range(1, MOST_STEPS + 1):
            model = (lines.siemens * across + lines.amperes) * self.tied
            # each element by itself, behind its wires: one step from where it was
            wanted = inner - (inner + self.ohm * amperes - across) / (1 + self.ohm * siemens)
            point = self.at(self.columns.limit(inner, wanted, across, self.ohm), across)
            inner, amperes, siemens = point.inner, point.amperes, point.siemens
            worst = off = self._off(point, model, across)
            if len(core.lag_slot):
                drift = np.abs(volts - seen)
                drift = np.maximum(drift.take(core.lag_a, axis=0),
                                   drift.take(core.lag_b, axis=0)) * factored.lag
                worst = np.maximum(off, drift.max(axis=0))
            solved = worst <= MISMATCH_A
            quick = factored.tail_ohms is not None
            if solved.all() and not quick:
                break
            near = bool((worst <= NEAR_A).all()) or step >= QUICK_STEPS
            if (quick and near) or (
                    off > np.minimum(np.maximum(SLOW * off_before, MISMATCH_A), FAR_A)).any():
                slopes = self._steady(point) if step <= STEADY_STEPS else point.outer
                factored = self.factor(slopes, quick and not near)
            else:
                slopes = lines.siemens
            lines = Lines(slopes, point.current - slopes * across)
            off_before = off
            volts, seen = self.core_volts(factored, lines, volts)
            across = self.across(volts)
        inner = inner - point.error
        return Solution(self.everywhere(volts, inner, point.current), inner, volts, solved,
                        self.grounded(factored), step)

    def _nearer(self, inner: Array, across: Array) -> Array:
        """Return a better first guess where it was the rated voltage: what lies across."""
        inner = inner.copy()
        for family in self.plan.families:
            if FAMILIES[family.name].secant:
                rows = slice(family.first, family.last)
                inner[rows] = across[rows] * self.tied[rows]
        return inner

    def _steady(self, point: _Point) -> Array:
        """Return the branches' slopes, those of batteries near rest as if discharging: between
        giving and taking a battery's slope changes two hundredfold, and the first steps, not yet
        right to a few amperes, would bounce from one to the other."""
        slopes = point.outer
        for family, p in zip(self.plan.families, self.columns.parameters, strict=True):
            if family.name == "cell":
                rows = slice(family.first, family.last)
                near = point.inner[rows] < p[0] + NEAR_REST_V
                giving = p[1] / (1 + self.ohm[rows] * p[1]) * self.tied[rows]
                slopes = slopes.copy()
                slopes[rows] = np.where(near, giving, slopes[rows])
        return slopes

    def _off(self, point: _Point, model: Array, across: Array) -> Array:
        """Return each column's largest error of a line, in amperes."""
        if not len(model):
            return np.zeros(self.columns.count)
        miss = mismatch(point.current, model, point.outer, across)
        rough = np.abs(point.correction)
        rough -= INNER_SHARE * np.abs(point.amperes)
        return np.asarray(np.maximum(miss, rough).max(axis=0))

    def grounded(self, factored: Factored) -> Bools:
        """Return which of the core's nodes the strong links tie to the ground."""
        core = self.plan.core
        grounded = np.zeros((core.nodes, self.columns.count))
        grounded[0] = 1.0
        put_back(core.hub_rounds, factored.hubs, grounded)
        put_back(core.tail_rounds, factored.tail, grounded)
        put_back(core.rounds, factored.circuits, grounded)
        return np.asarray(grounded > 0)

    def everywhere(self, core_volts: Array, inner: Array, current: Array) -> Array:
        """Return the voltages of all nodes."""
        found, plan = self.active(core_volts, inner, current), self.plan
        if len(plan.fixed_nodes):
            found[plan.fixed_nodes] = plan.fixed_share @ found
        return found

    def active(self, core_volts: Array, inner: Array, current: Array) -> Array:
        """Return the voltages of the nodes that are not fixed ones: the core, the folded ends, then
        what was taken out."""
        plan, branches = self.plan, self.plan.branches
        found = np.zeros((len(plan.circuit.nodes), self.columns.count))
        found[plan.core_nodes] = core_volts[:len(plan.core_nodes)]
        a = core_volts.take(branches.core_a, axis=0) - current * self.near_ohm
        b = core_volts.take(branches.core_b, axis=0) + current * self.far_ohm
        # an end that hangs in the air is where the element puts it
        b = np.where(self.far_tied, b, np.where(self.near_tied, a - inner, 0.0))
        a = np.where(self.near_tied, a, b + inner)
        folded = branches.near_slot != -1
        found[branches.inner_a[folded]] = a[folded]
        folded = branches.far_slot != -1
        found[branches.inner_b[folded]] = b[folded]
        put_back(plan.gated_rounds, self.factors, found)
        put_back(plan.switched_rounds, self.columns.factors, found)
        return found
