"""The resistances between the ports in use, and rows to tell what currents through them move."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix, vstack

from harnessdsl.faults.base import Ports
from harnessdsl.faults.entries import Array, Index
from harnessdsl.faults.paths import Paths, Rows

MOST_USED = 1500
ROOM = 2000


class PortTable:
    """Grows as ports come into use; `index` holds each port's place in the table, -1 without one.

    The last row and column of `ohm` stay zero: place -1 stands for no port.
    """

    def __init__(self, ports: Ports, paths: Paths) -> None:
        self.ports = ports
        self.paths = paths
        self.index = np.full(ports.count, -1, dtype=np.intp)
        self.ohm = _room(min(ROOM, ports.count + 1))
        self.clear()

    def clear(self) -> None:
        """Forget every port."""
        self.index[:] = -1
        self.used = 0
        self.rows = self.paths.of(self.ports.incidence([]))

    def use(self, ports: Index) -> None:
        """Take ports in that are not there yet."""
        if len(self.index) < self.ports.count:
            more = np.full(self.ports.count - len(self.index), -1, dtype=np.intp)
            self.index = np.concatenate([self.index, more])
        new = np.unique(ports[self.index[ports] < 0])
        if not len(new):
            return
        first, last = self.used, self.used + len(new)
        if last >= len(self.ohm):
            room = _room(last * 3 // 2 + 1)
            room[:first, :first] = self.ohm[:first, :first]
            self.ohm = room
        rows = self.paths.of(self.ports.incidence(new))
        across = rows.times(self.rows)
        self.ohm[first:last, :first] = across
        self.ohm[:first, first:last] = across.T
        self.ohm[first:last, first:last] = rows.times(rows)
        self.rows = Rows(np.concatenate([self.rows.shared, rows.shared]),
                         csr_matrix(vstack([self.rows.own, rows.own])))
        self.index[new] = np.arange(first, last)
        self.used = last

    def pushed(self, answers: Index, at: Index, amperes: Array, count: int) -> Rows:
        """Return for each of `count` answers the rows of its ports times their currents, added up.

        Args:
            answers: the answer that each current belongs to.
            at: its port's place in the table.
            amperes: from a to b of the port.
        """
        each = csr_matrix((amperes, (answers, at)), shape=(count, self.used))
        return Rows(np.asarray(each @ self.rows.shared), csr_matrix(each @ self.rows.own))


def _room(size: int) -> Array:
    """Return a square table of which only the last row and column are set, to zero."""
    found = np.empty((size, size))
    found[-1, :] = found[:, -1] = 0.0
    return found
