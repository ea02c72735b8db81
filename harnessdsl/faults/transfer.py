"""How far a current pushed in at one pair of points lifts every other point, a condition at a time.

Where the vehicle is small enough the whole table is kept, for a few conditions; else columns.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable

import numpy as np
from scipy.sparse import csr_matrix

from harnessdsl.faults.base import Base
from harnessdsl.faults.entries import Array, Index

DENSE_NODES = 3000
"""Up to this size the whole table of a condition is kept."""
MOST_BYTES = 400e6
"""Of all conditions together."""


class Transfer:
    """One condition: volts at any node for an ampere between the ends of a port."""

    def __init__(self, base: Base) -> None:
        self.base = base
        self.nodes = base.ports.nodes
        self._columns: dict[int, Array] = {}
        self._own: Array | None = None
        self._dense: Array | None = None
        if self.nodes <= DENSE_NODES:
            self._dense = np.zeros((self.nodes, self.nodes))
            self._dense[1:, 1:] = (base.ways @ base.ways.T).toarray()

    @property
    def size(self) -> float:
        """Bytes held."""
        if self._dense is not None:
            return float(self._dense.nbytes)
        return float(len(self._columns) * self.nodes * 8)

    def between(self, a: Index, b: Index) -> Array:
        """Return the volts of every node for an ampere from each a to its b, (pairs, nodes)."""
        if self._dense is not None:
            return np.asarray(self._dense[a] - self._dense[b])
        count = len(a)
        ends = np.concatenate([a, b])
        pair = np.tile(np.arange(count), 2)
        there = ends > 0
        signs = np.repeat([1.0, -1.0], count)
        incidence = csr_matrix((signs[there], (pair[there], ends[there] - 1)),
                               shape=(count, self.nodes - 1))
        found = np.zeros((count, self.nodes))
        found[:, 1:] = (incidence @ self.base.ways @ self.base.ways.T).toarray()
        return found

    def ports(self, ports: Index) -> Array:
        """Return the same for an ampere through each port."""
        a = np.asarray(self.base.ports.a, dtype=np.intp)
        b = np.asarray(self.base.ports.b, dtype=np.intp)
        if self._dense is not None:
            return self.between(a[ports], b[ports])
        if len(self._columns) * self.nodes * 8 > MOST_BYTES:
            self._columns.clear()
        todo = np.asarray([p for p in np.unique(ports).tolist() if p not in self._columns],
                          dtype=np.intp)
        for port, row in zip(todo.tolist(), self.between(a[todo], b[todo]), strict=True):
            self._columns[port] = row
        return np.stack([self._columns[p] for p in ports.tolist()]) if len(ports) else (
            np.zeros((0, self.nodes)))

    def own(self) -> Array:
        """Return what a meter looks into at every node of the sound car, in ohms."""
        if self._own is None:
            ways = self.base.ways
            self._own = np.concatenate([
                [0.0], np.asarray(ways.multiply(ways).sum(axis=1)).ravel()])
        return self._own


class Transfers:
    """The conditions looked at last."""

    def __init__(self, base: Callable[[int], Base]) -> None:
        self._base = base
        self._known: OrderedDict[int, Transfer] = OrderedDict()

    def of(self, number: int) -> Transfer:
        """Return a condition's, made anew when it was dropped."""
        found = self._known.get(number)
        if found is None:
            found = self._known[number] = Transfer(self._base(number))
        self._known.move_to_end(number)
        while len(self._known) > 1 and sum(t.size for t in self._known.values()) > MOST_BYTES:
            self._known.popitem(last=False)
        return found
