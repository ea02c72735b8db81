"""Laws of many elements at once, each with its own kind and figures: one entry an element.

A fault may change the law of one element in one state only, so that entries, not elements, carry
kind and figures. Kind 0 is a plain conductance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harnessdsl.electric.elements import Law, Resistance
from harnessdsl.electric.laws import FAMILIES

Array = NDArray[np.float64]
Index = NDArray[np.intp]

KINDS = tuple(sorted(FAMILIES))
LINEAR = 0
OPEN_SIEMENS = 1e-9
"""Stands for a broken path: a gigaohm, so that what hangs behind it still has a voltage. Points
that nothing but such a path ties are reported as hanging in the air, never by that voltage."""


@dataclass(frozen=True, slots=True)
class Spec:
    """How one element behaves: its kind and up to three figures."""

    kind: int
    figures: tuple[float, float, float]


def spec_of(law: Law) -> Spec:
    """Return the spec of a law; a junction's own series resistance is left to the network."""
    if isinstance(law, Resistance):
        return linear(law.siemens)
    found = (*law.parameters(), 0.0, 0.0)
    return Spec(KINDS.index(law.kind) + 1, (found[0], found[1], found[2]))


def linear(siemens: float) -> Spec:
    """Return a plain conductance, at least that of a broken path."""
    return Spec(LINEAR, (max(siemens, OPEN_SIEMENS), 0.0, 0.0))


def evaluate(kinds: Index, figures: Array, volts: Array) -> tuple[Array, Array]:
    """Return current and slope of every entry; `figures` has shape (3, entries)."""
    siemens = figures[0].copy()
    amperes = siemens * volts
    there = np.bincount(kinds, minlength=len(KINDS) + 1) if len(kinds) else _NONE
    for number, name in enumerate(KINDS, 1):
        if there[number]:
            rows = np.flatnonzero(kinds == number)
            count = _COUNTS[name]
            one, slope = FAMILIES[name].evaluate(figures[:count, rows, None], volts[rows, None])
            amperes[rows], siemens[rows] = one[:, 0], slope[:, 0]
    return amperes, siemens


def limited(kinds: Index, figures: Array, old: Array, new: Array) -> Array:
    """Return `new` with the steps of diodes and alternators shortened where they would run away."""
    for number, name in enumerate(KINDS, 1):
        limiter = FAMILIES[name].limit
        if limiter is None:
            continue
        rows = np.flatnonzero(kinds == number)
        if len(rows):
            count = _COUNTS[name]
            new[rows] = limiter(figures[:count, rows, None], old[rows, None],
                                new[rows, None])[:, 0]
    return new


_NONE = np.zeros(len(KINDS) + 1, dtype=int)
_COUNTS = {"cell": 3, "alternator": 3, "filament": 2, "junction": 2, "motor": 3}
