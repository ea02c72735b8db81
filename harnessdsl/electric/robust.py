"""The fall-back when plain Newton steps do not come to an end: slower, and sure.

The voltages of a network whose laws all rise are the lowest point of a convex function (its
co-content). A Newton step always points downhill on it, so that going along each step just to its
lowest place comes to the solution from anywhere.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from harnessdsl.electric.elimination import Array
from harnessdsl.electric.newton import (
    MISMATCH_A,
    Lines,
    Solution,
    Stage,
    mismatch,
)

MOST_STEPS = 400
_BISECTIONS = 60


def _through(stage: Stage, across: Array, guess: Array) -> tuple[Array, Array, Array]:
    """Return current, slope and inner voltage of all branches with `across` over their ends.

    The inner voltage lies between zero and `across`, or (of a source in the air) where its current
    stops: it is closed in from both sides.
    """
    ohm = stage.ohm
    amperes, siemens = stage.law(guess)
    low = np.minimum(across, 0.0) - 100.0
    high = np.maximum(across, 0.0) + 100.0
    inner = np.clip(guess, low, high)
    for _ in range(_BISECTIONS):
        amperes, siemens = stage.law(inner)
        error = inner + ohm * amperes - across
        low, high = np.where(error <= 0, inner, low), np.where(error >= 0, inner, high)
        better = inner - error / (1 + ohm * siemens)
        inside = (better >= low) & (better <= high)
        following = np.where(error == 0, inner, np.where(inside, better, 0.5 * (low + high)))
        if (following == inner).all():
            break
        inner = following
    amperes, siemens = stage.law(inner)
    return amperes * stage.tied, siemens / (1 + ohm * siemens) * stage.tied, inner


def solve_stage(stage: Stage) -> Solution:
    """Solve one network; its plan was made without folding and relaxing, and has one column."""
    core = stage.plan.core
    source = stage.conductance[core.source]
    ends = np.asarray([core.ends[slot] for slot in range(len(core.source))],
                      dtype=np.intp).reshape(-1, 2)
    volts = np.zeros((core.nodes, 1))
    inner = np.zeros((len(stage.tied), 1))
    solved = False
    current = inner
    factors = stage.factor(np.zeros_like(inner))
    step = 0
    for step in range(1, MOST_STEPS + 1):  # noqa: B007
        across = stage.across(volts)
        amperes, slope, inner = _through(stage, across, inner)
        lines = Lines(slope, amperes - slope * across)
        factors = stage.factor(slope)
        target, _ = stage.core_volts(factors, lines, volts)
        wanted = stage.across(target)
        current, new_slope, new_inner = _through(stage, wanted, inner)
        linear = slope * wanted + lines.amperes
        miss = mismatch(current, linear, new_slope, wanted)
        if float(miss.max(initial=0.0)) <= MISMATCH_A:
            solved, volts, inner = True, target, new_inner
            break
        change = target - volts
        differ = volts[ends[:, 0]] - volts[ends[:, 1]]
        differ_change = change[ends[:, 0]] - change[ends[:, 1]]
        constant = float((source * differ * differ_change).sum())
        rising = float((source * differ_change**2).sum())
        stretch = wanted - across

        def slope_at(share: float, across: Array = across, stretch: Array = stretch,
                     inner: Array = inner, constant: float = constant,
                     rising: float = rising) -> float:
            through = _through(stage, across + share * stretch, inner)[0]
            return constant + share * rising + float((through * stretch).sum())

        volts = volts + _lowest(slope_at) * change
    found = stage.everywhere(volts, inner, current)
    return Solution(found, inner, volts, np.asarray([solved]), stage.grounded(factors), step)


def _lowest(slope_at: Callable[[float], float]) -> float:
    """Return the share of the step at which the co-content is lowest: where its slope is zero."""
    if slope_at(1.0) <= 0:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if slope_at(middle) <= 0:
            low = middle
        else:
            high = middle
        if high - low < 1e-3 * high:
            break
    return high if low == 0.0 else low
