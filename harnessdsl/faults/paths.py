"""The resistances of a whole network between any two pairs of points, as products of short rows.

With the conductance matrix taken apart as G = L D L', its inverse is S S' where S = (L^-1)' D^-1/2.
A row of S is not zero only along the way from its node to the root of the elimination tree, which
in a vehicle is short: everything meets at few rails and earth points (elimination trees and sparse
right-hand sides: Duff, Erisman and Reid, Direct Methods for Sparse Matrices, 2nd ed. 2017, cited
from memory). The columns that many rows share are kept dense, the others sparse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_matrix, csr_matrix
from scipy.sparse.linalg import SuperLU

from harnessdsl.faults.entries import Array, Index

SHARED = 0.02
"""A column of S that more than this share of the watched ports have is kept dense."""


def ways_to_root(factors: SuperLU) -> csr_matrix:
    """Return S with one row a node (as the factored matrix numbers them), in ohm**0.5, such that
    S S' is the inverse of the matrix.

    Args:
        factors: of a symmetric positive definite matrix, pivots on the diagonal.
    """
    count = factors.shape[0]
    lower = factors.L.tocsc()
    lower.sort_indices()
    pivots = factors.U.diagonal()
    starts, rows, values = lower.indptr, lower.indices, lower.data
    owner = np.repeat(np.arange(count), np.diff(starts))
    below = (rows > owner) & (values != 0)
    parent = np.full(count, -1, dtype=np.intp)
    later, first = np.unique(owner[below], return_index=True)
    parent[later] = rows[below][first]
    depth = _depths(parent)
    order = np.argsort(depth, kind="stable")
    rank = np.empty(count, dtype=np.intp)
    rank[order] = np.arange(count)
    upper = csr_matrix((values[below], (rank[owner[below]], rank[rows[below]])),
                       shape=(count, count))
    ends = np.cumsum(np.bincount(depth))
    width = len(ends)
    along = np.zeros((count, width))
    passed = np.zeros((count, width), dtype=np.int32)
    numbers = np.arange(count)
    along[numbers, depth[order]] = 1.0
    passed[numbers, depth[order]] = order
    parent_rank = rank[parent[order]]
    for level in range(1, width):
        here = slice(ends[level - 1], ends[level])
        along[here, :level] = -(upper[here, :ends[level - 1]] @ along[:ends[level - 1], :level])
        passed[here, :level] = passed[parent_rank[here], :level]
    along *= 1.0 / np.sqrt(pivots)[passed]
    own = np.arange(width)[None, :] <= depth[order][:, None]
    found = csr_matrix((along[own], passed[own], np.r_[0, np.cumsum(depth[order] + 1)]),
                       shape=(count, count))
    return csr_matrix(found[rank[factors.perm_c]])


def _depths(parent: Index) -> Index:
    """Return how far every node is from its root; a parent always has the higher number."""
    depth = [0] * len(parent)
    above = parent.tolist()
    for node in range(len(above) - 1, -1, -1):
        if above[node] >= 0:
            depth[node] = depth[above[node]] + 1
    return np.asarray(depth, dtype=np.intp)


@dataclass(slots=True)
class Rows:
    """Rows of S for some ports: `shared` dense (ports, shared columns), `own` the rest, sparse."""

    shared: Array
    own: csr_matrix

    def times(self, other: Rows) -> Array:
        """Return the resistances between these ports and others, in ohms."""
        found = self.shared @ other.shared.T
        local = (self.own @ other.own.T).tocoo()
        found[local.row, local.col] += local.data
        return np.asarray(found)

    def pick(self, rows: Index) -> Rows:
        """Return some of the rows."""
        return Rows(self.shared[rows], self.own[rows])

    def scaled(self, factors: Array) -> Rows:
        """Return each row times its factor."""
        return Rows(self.shared * factors[:, None], csr_matrix(self.own.multiply(factors[:, None])))

    def squares(self) -> Array:
        """Return the resistance across each port itself, in ohms."""
        return np.asarray((self.shared * self.shared).sum(axis=1)
                          + np.asarray(self.own.multiply(self.own).sum(axis=1)).ravel())


class Paths:
    """S of a network, cut up for the ports that are watched."""

    def __init__(self, rows: csr_matrix, watched: csc_matrix) -> None:
        """Take S and the incidence (nodes, ports) of what is watched."""
        self.rows = rows
        seen = csr_matrix(watched.T @ self.rows)
        counts = np.bincount(seen.indices, minlength=seen.shape[1])
        self.dense = np.flatnonzero(counts > max(SHARED * seen.shape[0], 8))
        keep = np.ones(seen.shape[1])
        keep[self.dense] = 0.0
        self.rest = keep

    def of(self, incidence: csc_matrix) -> Rows:
        """Return the rows of ports, given a column of nodes each."""
        found = csc_matrix(incidence.T @ self.rows)
        shared = found[:, self.dense].toarray()
        kept = np.repeat(self.rest, np.diff(found.indptr)) > 0
        coo = found.tocoo()
        own = csr_matrix((coo.data[kept], (coo.row[kept], coo.col[kept])), shape=found.shape)
        return Rows(np.ascontiguousarray(shared), own)
