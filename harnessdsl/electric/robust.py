"""The fall-back when plain Newton steps do not come to an end: slower, and sure.

The voltages of a network whose laws all rise are the lowest point of a convex function (its
co-content). A Newton step always points downhill on it, so that going along each step just to its
lowest place comes to the solution from anywhere.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from harnessdsl.electric.elimination import Array, put_back, take_out
from harnessdsl.electric.laws import FAMILIES
from harnessdsl.electric.newton import MISMATCH_A, MISMATCH_SHARE, ROUNDING, Solution, everywhere
from harnessdsl.electric.plan import Branches, Plan

MOST_STEPS = 400
_BISECTIONS = 60


def _through(branches: Branches, parameters: Array, across: Array, guess: Array
             ) -> tuple[Array, Array, Array]:
    """Return current, slope and inner voltage of elements with `across` over them and the
    resistance inside them."""
    evaluate = FAMILIES[branches.family].evaluate
    ohm = branches.own_ohm
    if not ohm.any():
        amperes, siemens = evaluate(parameters, across)
        return amperes, siemens, across
    low, high = np.minimum(across, 0.0), np.maximum(across, 0.0)
    inner = np.clip(guess, low, high)
    for _ in range(_BISECTIONS):
        amperes, siemens = evaluate(parameters, inner)
        error = inner + ohm * amperes - across
        low, high = np.where(error <= 0, inner, low), np.where(error >= 0, inner, high)
        better = inner - error / (1 + ohm * siemens)
        inside = (better > low) & (better < high)
        inner = np.where(error == 0, inner, np.where(inside, better, 0.5 * (low + high)))
    amperes, siemens = evaluate(parameters, inner)
    return amperes, siemens / (1 + ohm * siemens), inner


def solve_column(plan: Plan, variable_siemens: Array, parameters: Sequence[Array]) -> Solution:
    """Solve one network by a plan that was made without folding; arguments as for
    `newton.solve_columns`, with one column."""
    conductance = plan.base[:, None].copy()
    plan.variable_scatter.add(variable_siemens, conductance)
    linear_taken = take_out(plan.linear_rounds, conductance)
    core_base = np.zeros((plan.core_slots, 1))
    core_base[: len(plan.core_source)] = conductance[plan.core_source]
    source = core_base[: len(plan.core_source)]
    ends = np.asarray(plan.core_ends, dtype=np.intp).reshape(-1, 2)[: len(plan.core_source)]
    volts = np.zeros((len(plan.core_nodes), 1))
    inner = [np.zeros((len(b.elements), 1)) for b in plan.branches]
    solved = False
    grounded = volts
    currents: list[Array] = []
    step = 0
    for step in range(1, MOST_STEPS + 1):  # noqa: B007
        now = [_through(b, p, volts[b.core_a] - volts[b.core_b], u)
               for b, p, u in zip(plan.branches, parameters, inner, strict=True)]
        work = core_base.copy()
        injected = np.zeros_like(volts)
        slopes, sources = [], []
        for branches, (amperes, siemens, _) in zip(plan.branches, now, strict=True):
            across = volts[branches.core_a] - volts[branches.core_b]
            slopes.append(siemens)
            sources.append(amperes - siemens * across)
        if len(plan.branch_live):
            offset = np.concatenate(sources)[plan.branch_live]
            plan.branch_slot.add(np.concatenate(slopes)[plan.branch_live], work)
            plan.node_push.add(np.concatenate([-offset, offset]), injected)
        taken = take_out(plan.core_rounds, work, injected)
        target = np.zeros_like(volts)
        put_back(plan.core_rounds, taken, target, injected)
        worst = 0.0
        after = []
        for branches, p, slope, offset, u in zip(plan.branches, parameters, slopes, sources,
                                                 inner, strict=True):
            across = target[branches.core_a] - target[branches.core_b]
            through = _through(branches, p, across, u)
            after.append(through)
            linear = slope * across + offset
            miss = (np.abs(through[0] - linear) - MISMATCH_SHARE * np.abs(linear)
                    - ROUNDING * through[1] * np.abs(across))
            worst = max(worst, float(miss.max(initial=0.0)))
        currents = [amperes for amperes, _, _ in after]
        inner = [u for _, _, u in after]
        if worst <= MISMATCH_A:
            solved = True
            volts = target
            grounded = np.zeros_like(volts)
            grounded[0] = 1.0
            put_back(plan.core_rounds, taken, grounded)
            break
        change = target - volts
        share = _lowest(plan, parameters, volts, change, source, ends, inner)
        volts = volts + share * change
    found = everywhere(plan, volts, None, inner, currents, linear_taken)
    return Solution(found, inner, np.asarray([solved]), grounded > 0.5, step)


def _lowest(plan: Plan, parameters: Sequence[Array], volts: Array, change: Array, source: Array,
            ends: np.ndarray, inner: Sequence[Array]) -> float:
    """Return the share of the step at which the co-content is lowest: where its slope is zero."""
    differ = volts[ends[:, 0]] - volts[ends[:, 1]]
    differ_change = change[ends[:, 0]] - change[ends[:, 1]]
    constant = float((source * differ * differ_change).sum())
    rising = float((source * differ_change**2).sum())

    def slope(share: float) -> float:
        total = constant + share * rising
        for branches, p, u in zip(plan.branches, parameters, inner, strict=True):
            step = change[branches.core_a] - change[branches.core_b]
            across = volts[branches.core_a] - volts[branches.core_b] + share * step
            total += float((_through(branches, p, across, u)[0] * step).sum())
        return total

    if slope(1.0) <= 0:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if slope(middle) <= 0:
            low = middle
        else:
            high = middle
        if high - low < 1e-3 * high:
            break
    return high if low == 0.0 else low
