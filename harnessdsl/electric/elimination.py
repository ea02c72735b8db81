"""Elimination of nodes from a resistive network, many columns at once.

A node is taken out by the star-mesh transformation: the conductances g_k to its neighbours are
replaced by g_i g_j / sum(g) between each pair of them. Nothing is ever subtracted, so that a leak
of nanosiemens behind a wire of megasiemens keeps all of its digits, and an island that nothing
ties to earth shows as a sum that is exactly zero.

Nodes that are not neighbours can be taken out at the same time, so the work is a short list of
rounds, each of them a few array operations over all of its nodes and over all columns.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

Array = NDArray[np.float64]
Index = NDArray[np.intp]

GROUND = 0
"""The reference node: never taken out, always at zero volts."""

BLOCKS_FROM_NODES = 4
"""Blocks pay when there are this many nodes for each neighbour."""
MATRIX_FROM_ROWS = 400
"""From this many rows of ten columns a sparse product is faster than sorting and summing."""


@dataclass(frozen=True, slots=True)
class Scatter:
    """Adds rows of one array into rows of another; several may go to the same one."""

    order: Index | None
    """Source rows sorted by target; None when they already are."""
    starts: Index | None
    """Where each target's rows start; None when each has just one."""
    targets: Index
    matrix: csr_matrix | None
    """The same, as a product over all sources (rows of it are `targets`)."""

    @classmethod
    def into(cls, targets: Sequence[int]) -> Scatter:
        wanted = np.asarray(targets, dtype=np.intp)
        order = np.argsort(wanted, kind="stable")
        ordered = wanted.take(order)
        first = np.r_[True, ordered[1:] != ordered[:-1]] if len(ordered) else np.zeros(0, bool)
        starts = np.flatnonzero(first)
        matrix = None
        if len(wanted) >= MATRIX_FROM_ROWS:
            matrix = csr_matrix(
                (np.ones(len(wanted)), order.astype(np.int32),
                 np.r_[starts, len(wanted)].astype(np.int32)),
                shape=(len(starts), len(wanted)))
        return cls(None if bool((order == np.arange(len(order))).all()) else order,
                   starts if len(starts) != len(wanted) else None, ordered.take(starts), matrix)

    def add(self, rows: Array, into: Array) -> None:
        if not len(self.targets):
            return
        if self.matrix is not None and rows.size >= 10 * MATRIX_FROM_ROWS:
            rows = self.matrix @ rows
        else:
            if self.order is not None:
                rows = rows.take(self.order, axis=0)
            if self.starts is not None:
                rows = np.add.reduceat(rows, self.starts, axis=0)
        into[self.targets] = into.take(self.targets, axis=0) + rows


@dataclass(frozen=True, slots=True)
class Round:
    """Nodes taken out together, those with most neighbours first.

    Spokes are (node, neighbour) pairs. Where many nodes have few neighbours they stand in blocks:
    the first neighbour of every node, then the second neighbour of the first `counts[1]` nodes,
    which have one, and so on. Where few nodes have many they stand node by node.
    """

    nodes: Index
    counts: tuple[int, ...]
    """How many nodes have a first, a second, ... neighbour; () without any."""
    starts: Index | None
    """Where each node's spokes start, when they stand node by node."""
    owner: Index
    slots: Index
    """The conductance slot of each spoke."""
    far: Index
    first: Index
    second: Index
    """Pairs of spokes of one node, one for each slot that they feed."""
    fill: Scatter
    push: Scatter
    """Takes injected currents from spokes to neighbours."""

    def over_neighbours(self, spokes: Array) -> Array:
        """Return the sum of each node's spokes."""
        count, columns = len(self.nodes), spokes.shape[1]
        if not self.counts:
            return np.zeros((count, columns))
        if count == 1:
            return np.add.reduce(spokes, axis=0, keepdims=True)
        if self.starts is not None:
            return np.add.reduceat(spokes, self.starts, axis=0)
        start = self.counts[0]
        if start == count:
            total = spokes[:start].copy()
        else:
            total = np.zeros((count, columns))
            total[:start] = spokes[:start]
        for here in self.counts[1:]:
            total[:here] += spokes[start: start + here]
            start += here
        return total

    def for_neighbours(self, spokes: Array, values: Array) -> Array:
        """Return each spoke times its node's value."""
        if len(self.nodes) == 1:
            return spokes * values
        if self.starts is not None:
            return spokes * values.take(self.owner, axis=0)
        found = np.empty_like(spokes)
        start = 0
        for here in self.counts:
            np.multiply(spokes[start: start + here], values[:here],
                        out=found[start: start + here])
            start += here
        return found


@dataclass(slots=True)
class Graph:
    """Conductance slots between nodes, while the rounds are being planned."""

    slot_of: list[dict[int, int]]
    ends: list[tuple[int, int]] = field(default_factory=list)

    @classmethod
    def empty(cls, nodes: int) -> Graph:
        return cls([{} for _ in range(nodes)])

    def slot(self, a: int, b: int) -> int:
        """Return the slot between two different nodes, made on first use."""
        found = self.slot_of[a].get(b)
        if found is None:
            found = len(self.ends)
            self.ends.append((a, b))
            self.slot_of[a][b] = self.slot_of[b][a] = found
        return found

    def plan(self, candidates: Iterable[int], most_neighbours: int | None = None,
             leave: int = 0) -> list[Round]:
        """Take the candidates out of the graph, fewest neighbours first, and return the rounds.

        Nodes that have more than `most_neighbours` when their turn comes stay in, and so do the
        last ones when no more than `leave` are left and they go but one or two at a time.
        """
        waiting = sorted(node for node in candidates if node != GROUND)
        rounds: list[Round] = []
        while waiting:
            degree = {node: len(self.slot_of[node]) for node in waiting}
            fewest = min(degree.values())
            # a little above the fewest: some more fill, but far fewer rounds
            allowed = max(3, (5 * fewest) // 4)
            if most_neighbours is not None:
                if fewest > most_neighbours:
                    break
                allowed = min(allowed, most_neighbours)
            chosen: list[int] = []
            blocked: set[int] = set()
            for node in sorted(waiting, key=degree.__getitem__):
                if degree[node] > allowed:
                    break
                if node not in blocked:
                    chosen.append(node)
                    blocked.update(self.slot_of[node])
            if len(waiting) <= leave and 8 * len(chosen) < len(waiting) + 8:
                break
            rounds.append(self._take_out(chosen))
            gone = set(chosen)
            waiting = [node for node in waiting if node not in gone]
        return rounds

    def _take_out(self, chosen: list[int]) -> Round:
        nodes = sorted(chosen, key=lambda node: (-len(self.slot_of[node]), node))
        around = [sorted(self.slot_of[node].items()) for node in nodes]
        counts: list[int] = []
        while (here := sum(len(spokes) > len(counts) for spokes in around)) > 0:
            counts.append(here)
        blocks = len(nodes) > BLOCKS_FROM_NODES * len(counts) or (counts[-1:] != [len(nodes)] and (
            len(around[-1]) == 0))
        if blocks:
            order = [(position, k) for k, here in enumerate(counts) for position in range(here)]
        else:
            order = [(position, k) for position, spokes in enumerate(around)
                     for k in range(len(spokes))]
        number = {spoke: i for i, spoke in enumerate(order)}
        far = [around[position][k][0] for position, k in order]
        slots = [around[position][k][1] for position, k in order]
        starts = None if blocks else np.asarray(
            [number[position, 0] for position in range(len(nodes))], dtype=np.intp)
        pairs: list[tuple[int, int, int]] = []
        for position, node in enumerate(nodes):
            spokes = around[position]
            for other, _ in spokes:
                del self.slot_of[other][node]
            self.slot_of[node] = {}
            for i, (one, _) in enumerate(spokes):
                for j in range(i + 1, len(spokes)):
                    pairs.append((self.slot(one, spokes[j][0]), number[position, i],
                                  number[position, j]))
        pairs.sort()
        return Round(
            np.asarray(nodes, dtype=np.intp), tuple(counts), starts,
            np.asarray([position for position, _ in order], dtype=np.intp),
            np.asarray(slots, dtype=np.intp),
            np.asarray(far, dtype=np.intp),
            np.asarray([p[1] for p in pairs], dtype=np.intp),
            np.asarray([p[2] for p in pairs], dtype=np.intp),
            Scatter.into([p[0] for p in pairs]), Scatter.into(far))


@dataclass(frozen=True, slots=True)
class Factor:
    """What one round leaves behind: shares of the neighbours, and ohms to all of them together."""

    shares: Array
    ohms: Array

    def only(self, columns: Index) -> Factor:
        """Return some of the columns."""
        return Factor(self.shares.take(columns, axis=1), self.ohms.take(columns, axis=1))


def take_out(rounds: Sequence[Round], conductance: Array) -> list[Factor]:
    """Run the rounds over `conductance` (slots, columns), changed in place: what is left in it is
    the network among the nodes that stay."""
    factors: list[Factor] = []
    for step in rounds:
        spokes = conductance.take(step.slots, axis=0)
        total = step.over_neighbours(spokes)
        ohms = np.zeros_like(total)
        np.divide(1.0, total, out=ohms, where=total > 0)
        shares = step.for_neighbours(spokes, ohms)
        if len(step.first):
            step.fill.add(spokes.take(step.first, axis=0) * shares.take(step.second, axis=0),
                          conductance)
        factors.append(Factor(shares, ohms))
    return factors


def push_out(rounds: Sequence[Round], factors: Sequence[Factor], injected: Array) -> None:
    """Move the currents injected into nodes that are taken out, (nodes, columns), on to their
    neighbours, in place; each keeps its own for the way back."""
    for step, factor in zip(rounds, factors, strict=True):
        if step.counts:
            step.push.add(step.for_neighbours(factor.shares, injected.take(step.nodes, axis=0)),
                          injected)


def put_back(rounds: Sequence[Round], factors: Sequence[Factor], volts: Array,
             injected: Array | None = None) -> None:
    """Fill in `volts` (nodes, columns) of the nodes taken out, last first. An island that nothing
    ties to earth has its last node at zero volts."""
    for step, factor in zip(reversed(rounds), reversed(factors), strict=True):
        found = step.over_neighbours(factor.shares * volts.take(step.far, axis=0))
        if injected is not None:
            found += factor.ohms * injected.take(step.nodes, axis=0)
        volts[step.nodes] = found
