"""Newton's method over a plan: the voltages of many networks of one circuit, one a column.

Between two steps every non-linear element is its tangent (a conductance and a current source), so
that the network is linear and is solved by elimination. A step is right when the current on the
tangent and the current by the law are the same in every element.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from harnessdsl.electric.elimination import Array, Taken, put_back, take_out
from harnessdsl.electric.laws import FAMILIES
from harnessdsl.electric.plan import Branches, Plan

MISMATCH_A = 1e-9
"""Largest difference between tangent and law, with MISMATCH_SHARE of the current itself."""
MISMATCH_SHARE = 1e-12
ROUNDING = 2e-15
"""What rounding of a voltage allows it besides, as a share."""
MOST_STEPS = 60


@dataclass(slots=True)
class Solution:
    """Voltages of every node of the circuit, (nodes, columns), in the circuit's order."""

    volts: Array
    branch_volts: list[Array]
    """Per family of branches: the voltage across each element, for a warm start."""
    solved: np.ndarray
    """Columns in which Newton's method came to its end."""
    grounded: np.ndarray
    """Of the core's nodes, by its own numbers: whether anything ties them to the reference."""
    steps: int


@dataclass(slots=True)
class _Side:
    """The folded wires of one family: ohms on either side, where they are unbroken, siemens in
    parallel."""

    near_ohm: Array
    far_ohm: Array
    near_tied: np.ndarray
    far_tied: np.ndarray
    tied: Array
    ohm: Array
    parallel: Array


def _wire(slots: np.ndarray, conductance: Array) -> tuple[Array, np.ndarray]:
    siemens = conductance[np.maximum(slots, 0)]
    tied = siemens > 0
    tied[slots == -1] = True
    tied[slots == -2] = False
    ohm = np.zeros_like(siemens)
    np.divide(1.0, siemens, out=ohm, where=tied)
    ohm[slots < 0] = 0.0
    return ohm, tied


def _sides(branches: Branches, conductance: Array) -> _Side:
    near_ohm, near_tied = _wire(branches.near_slot, conductance)
    far_ohm, far_tied = _wire(branches.far_slot, conductance)
    parallel = conductance[np.maximum(branches.parallel_slot, 0)]
    parallel[branches.parallel_slot < 0] = 0.0
    tied = near_tied & far_tied
    return _Side(near_ohm, far_ohm, near_tied, far_tied, tied,
                 near_ohm + far_ohm + branches.own_ohm, parallel)


@dataclass(slots=True)
class _Tangent:
    """One family at one point: the law there, and the folded branch as seen from its outer ends."""

    volts: Array
    amperes: Array
    siemens: Array
    outer_siemens: Array
    outer_amperes: Array


def _law(branches: Branches, parameters: Array, side: _Side, volts: Array) -> tuple[Array, Array]:
    amperes, siemens = FAMILIES[branches.family].evaluate(parameters, volts)
    return amperes + side.parallel * volts, siemens + side.parallel


def _tangent(side: _Side, volts: Array, amperes: Array, siemens: Array) -> _Tangent:
    share = side.tied / (1 + side.ohm * siemens)
    return _Tangent(volts, amperes, siemens, siemens * share, (amperes - siemens * volts) * share)


def _first_tangent(branches: Branches, parameters: Array, side: _Side) -> _Tangent:
    family = FAMILIES[branches.family]
    volts = np.broadcast_to(branches.starting_v, side.ohm.shape)
    if family.stops:
        volts = np.where(side.tied, volts, 0.0)
    amperes, siemens = _law(branches, parameters, side, volts)
    if family.secant:
        np.divide(amperes, volts, out=siemens, where=volts != 0)
    return _tangent(side, volts, amperes, siemens)


def solve_columns(plan: Plan, variable_siemens: Array, parameters: Sequence[Array],
                  warm: Sequence[Array] | None = None) -> Solution:
    """Solve the networks whose variable elements have these conductances, (elements, columns).

    Args:
        parameters: of each family of branches, (parameters, elements, 1 or columns).
        warm: voltages across the branches to begin with.
    """
    columns = variable_siemens.shape[1]
    conductance = np.repeat(plan.base[:, None], columns, axis=1)
    plan.variable_scatter.add(variable_siemens, conductance)
    linear_taken = take_out(plan.linear_rounds, conductance)
    sides = [_sides(branches, conductance) for branches in plan.branches]
    core_base = np.zeros((plan.core_slots, columns))
    core_base[: len(plan.core_source)] = conductance[plan.core_source]
    if warm is None:
        tangents = [_first_tangent(b, p, s)
                    for b, p, s in zip(plan.branches, parameters, sides, strict=True)]
    else:
        tangents = [_tangent(s, w, *_law(b, p, s, w)) for b, p, s, w in zip(
            plan.branches, parameters, sides, warm, strict=True)]
    solved = np.zeros(columns, dtype=bool)
    core_volts = np.zeros((len(plan.core_nodes), columns))
    currents: list[Array] = []
    volts: list[Array] = []
    for step in range(1, MOST_STEPS + 1):
        core_volts, core_taken = _core(plan, core_base, tangents)
        currents, volts, worst = [], [], np.zeros(columns)
        following: list[_Tangent] = []
        for branches, p, side, tangent in zip(plan.branches, parameters, sides, tangents,
                                              strict=True):
            across = core_volts[branches.core_a] - core_volts[branches.core_b]
            current = tangent.outer_siemens * across + tangent.outer_amperes
            new = across - side.ohm * current
            alone = tangent.volts - np.divide(
                tangent.amperes, tangent.siemens, out=np.zeros_like(new),
                where=tangent.siemens > 0)
            new = np.where(side.tied, new, alone)
            amperes, siemens = _law(branches, p, side, new)
            miss = (np.abs(amperes - current) - MISMATCH_SHARE * np.abs(current)
                    - ROUNDING * siemens * np.abs(new))
            if len(miss):
                worst = np.maximum(worst, miss.max(axis=0))
            currents.append(current)
            volts.append(new)
            limited = FAMILIES[branches.family].limit(p, tangent.volts, new)
            if limited is not new:
                amperes, siemens = _law(branches, p, side, limited)
            following.append(_tangent(side, limited, amperes, siemens))
        solved = worst <= MISMATCH_A
        if solved.all():
            break
        tangents = following
    grounded = np.zeros_like(core_volts)
    grounded[0] = 1.0
    put_back(plan.core_rounds, core_taken, grounded)
    return Solution(everywhere(plan, core_volts, sides, volts, currents, linear_taken),
                    volts, solved, grounded > 0.5, step)


def _core(plan: Plan, core_base: Array, tangents: Sequence[_Tangent]
          ) -> tuple[Array, list[Taken]]:
    conductance = core_base.copy()
    injected = np.zeros((len(plan.core_nodes), conductance.shape[1]))
    if len(plan.branch_live):
        siemens = np.concatenate([t.outer_siemens for t in tangents])[plan.branch_live]
        amperes = np.concatenate([t.outer_amperes for t in tangents])[plan.branch_live]
        plan.branch_slot.add(siemens, conductance)
        plan.node_push.add(np.concatenate([-amperes, amperes]), injected)
    taken = take_out(plan.core_rounds, conductance, injected)
    volts = np.zeros_like(injected)
    put_back(plan.core_rounds, taken, volts, injected)
    return volts, taken


def everywhere(plan: Plan, core_volts: Array, sides: Sequence[_Side] | None,
               volts: Sequence[Array], currents: Sequence[Array],
               linear_taken: Sequence[Taken]) -> Array:
    """Return the voltages of all nodes: the core, the folded ends (none without `sides`), then what
    was taken out."""
    found = np.zeros((len(plan.circuit.nodes), core_volts.shape[1]))
    found[plan.core_nodes] = core_volts
    for branches, side, across, current in zip(plan.branches if sides is not None else (),
                                               sides or (), volts, currents, strict=False):
        a = core_volts[branches.core_a] - current * side.near_ohm
        b = core_volts[branches.core_b] + current * side.far_ohm
        b = np.where(side.far_tied, b, np.where(side.near_tied, a - across, 0.0))
        a = np.where(side.near_tied, a, b + across)
        folded = branches.near_slot != -1
        found[branches.inner_a[folded]] = a[folded]
        folded = branches.far_slot != -1
        found[branches.inner_b[folded]] = b[folded]
    put_back(plan.linear_rounds, linear_taken, found)
    if len(plan.fixed_nodes):
        found[plan.fixed_nodes] = plan.fixed_share @ found
    return found
