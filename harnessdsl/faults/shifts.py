"""Which of the watched ports a fault moves further than they may move without consequence.

The resistance between two ports has a part that goes over shared rails, at most the product of the
two rows' lengths there (the inequality of Cauchy and Schwarz), and a part close by, which most
pairs do not have. A fault whose currents push the rails by little is looked at close by only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from harnessdsl.faults.entries import Array, Index
from harnessdsl.faults.paths import Rows

MOST_VOLTAGES = 2_000_000
"""Voltages held at a time: bounds the memory, not the answer."""


@dataclass(slots=True)
class Shifts:
    """Changes of voltage worth attention, ordered by answer, then watched place."""

    rows: Index
    places: Index
    volts: Array

    def only(self, chosen: np.ndarray) -> Shifts:
        """Return some of the entries."""
        return Shifts(self.rows[chosen], self.places[chosen], self.volts[chosen])

    def by_row(self) -> Iterator[tuple[int, slice]]:
        """Yield each answer that has entries, with where they stand."""
        if not len(self.rows):
            return
        rows, starts = np.unique(self.rows, return_index=True)
        ends = [*starts[1:].tolist(), len(self.rows)]
        for row, start, end in zip(rows.tolist(), starts.tolist(), ends, strict=True):
            yield row, slice(start, end)


class Reach:
    """How far currents reach among the watched ports of one condition."""

    def __init__(self, seen: Rows, care_v: Array, coil_places: Index) -> None:
        """Take the rows of the watched ports and how many volts each may move.

        Args:
            coil_places: looked at however little they move, where relays have moved already.
        """
        self.seen = seen
        self.care_v = care_v
        self.all_care_v = care_v.copy()
        self.all_care_v[coil_places] = 0.0
        self.shared_length = np.sqrt((seen.shared ** 2).sum(axis=1))
        self.longest = float((self.shared_length / np.maximum(care_v, 1e-12)).max(initial=0.0))

    def shifts(self, pushed: Rows, everywhere: np.ndarray) -> Shifts:
        """Return what moves by more than it may.

        Args:
            pushed: for each answer the rows of its ports, times the current through each, added up.
            everywhere: answers whose coils are all wanted.
        """
        length = np.sqrt((pushed.shared ** 2).sum(axis=1))
        close = (length * self.longest <= 1.0) & ~everywhere
        parts = [self._close_by(pushed, np.flatnonzero(close), length)]
        far = np.flatnonzero(~close)
        step = max(MOST_VOLTAGES // max(len(self.care_v), 1), 16)
        for first in range(0, len(far), step):
            chosen = far[first:first + step]
            moved = pushed.pick(chosen).times(self.seen)
            care = np.where(everywhere[chosen, None], self.all_care_v, self.care_v) if (
                everywhere[chosen].any()) else self.care_v
            row, place = np.nonzero(~(np.abs(moved) <= care))
            parts.append(Shifts(chosen[row], place, -moved[row, place]))
        found = Shifts(np.concatenate([p.rows for p in parts]),
                       np.concatenate([p.places for p in parts]),
                       np.concatenate([p.volts for p in parts]))
        return found.only(np.argsort(found.rows, kind="stable"))

    def _close_by(self, pushed: Rows, chosen: Index, length: Array) -> Shifts:
        local = csr_matrix(pushed.own[chosen] @ self.seen.own.T)
        local.sort_indices()
        coo = local.tocoo()
        row, place = chosen[coo.row], coo.col.astype(np.intp)
        care = self.care_v[place]
        may = np.abs(coo.data) + length[row] * self.shared_length[place] > care
        row, place, volts, care = row[may], place[may], coo.data[may], care[may]
        volts = volts + np.einsum("ij,ij->i", pushed.shared[row], self.seen.shared[place])
        more = np.abs(volts) > care
        return Shifts(row[more], place[more], -volts[more])
