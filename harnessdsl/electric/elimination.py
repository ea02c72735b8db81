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

Array = NDArray[np.float64]
Index = NDArray[np.intp]

GROUND = 0
"""The reference node: never taken out, always at zero volts."""


@dataclass(frozen=True, slots=True)
class Scatter:
    """Adds rows of one array into rows of another: `order` sorts the source rows by target."""

    order: Index | None
    starts: Index
    targets: Index

    @classmethod
    def into(cls, targets: Sequence[int]) -> Scatter:
        wanted = np.asarray(targets, dtype=np.intp)
        order = np.argsort(wanted, kind="stable")
        ordered = wanted[order]
        starts = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]]) if len(ordered) else (
            np.zeros(0, dtype=np.intp))
        trivial = bool((order == np.arange(len(order))).all())
        return cls(None if trivial else order, starts, ordered[starts])

    def add(self, rows: Array, into: Array) -> None:
        if not len(self.targets):
            return
        if self.order is not None:
            rows = rows[self.order]
        if len(self.starts) != len(rows):
            rows = np.add.reduceat(rows, self.starts, axis=0)
        into[self.targets] += rows


@dataclass(frozen=True, slots=True)
class Round:
    """Nodes taken out together. Rows of `spokes` are (node, neighbour) pairs, sorted by node."""

    nodes: Index
    slots: Index
    """The conductance slot of each spoke."""
    starts: Index
    owner: Index
    """Of each spoke, the position of its node in `nodes`."""
    far: Index
    first: Index
    second: Index
    """Pairs of spokes of one node, sorted by the slot that they feed."""
    fill: Scatter
    push: Scatter
    """Takes injected currents from spokes to neighbours."""


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

    def plan(self, candidates: Iterable[int], most_neighbours: int | None = None) -> list[Round]:
        """Take the candidates out of the graph, fewest neighbours first, and return the rounds.

        Nodes that have more than `most_neighbours` when their turn comes stay in.
        """
        waiting = sorted(node for node in candidates if node != GROUND)
        rounds: list[Round] = []
        while waiting:
            degree = {node: len(self.slot_of[node]) for node in waiting}
            # a little above the fewest: some more fill, but far fewer rounds
            allowed = max(3, (5 * min(degree.values())) // 4)
            if most_neighbours is not None:
                if min(degree.values()) > most_neighbours:
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
            rounds.append(self._take_out(chosen))
            gone = set(chosen)
            waiting = [node for node in waiting if node not in gone]
        return rounds

    def _take_out(self, nodes: list[int]) -> Round:
        nodes = [n for n in nodes if self.slot_of[n]] + [n for n in nodes if not self.slot_of[n]]
        slots: list[int] = []
        starts: list[int] = []
        owner: list[int] = []
        far: list[int] = []
        pairs: list[tuple[int, int, int]] = []
        for position, node in enumerate(nodes):
            spokes = sorted(self.slot_of[node].items())
            base = len(slots)
            if spokes:
                starts.append(base)
            for other, slot in spokes:
                slots.append(slot)
                owner.append(position)
                far.append(other)
                del self.slot_of[other][node]
            for i, (one, _) in enumerate(spokes):
                for j in range(i + 1, len(spokes)):
                    pairs.append((self.slot(one, spokes[j][0]), base + i, base + j))
            self.slot_of[node] = {}
        pairs.sort()
        return Round(
            np.asarray(nodes, dtype=np.intp), np.asarray(slots, dtype=np.intp),
            np.asarray(starts, dtype=np.intp), np.asarray(owner, dtype=np.intp),
            np.asarray(far, dtype=np.intp),
            np.asarray([p[1] for p in pairs], dtype=np.intp),
            np.asarray([p[2] for p in pairs], dtype=np.intp),
            Scatter.into([p[0] for p in pairs]), Scatter.into(far))


@dataclass(frozen=True, slots=True)
class Factor:
    """What one round leaves behind: shares of the neighbours, and ohms to all of them together."""

    shares: Array
    ohms: Array
    connected: int


def take_out(rounds: Sequence[Round], conductance: Array) -> list[Factor]:
    """Run the rounds over `conductance` (slots, columns), changed in place: what is left in it is
    the network among the nodes that stay."""
    factors: list[Factor] = []
    for step in rounds:
        connected = len(step.starts)
        spokes = conductance[step.slots]
        total = np.add.reduceat(spokes, step.starts, axis=0) if connected else spokes[:0]
        ohms = np.zeros((len(step.nodes), conductance.shape[1]))
        np.divide(1.0, total, out=ohms[:connected], where=total > 0)
        shares = spokes * ohms[step.owner]
        if len(step.first):
            step.fill.add(spokes[step.first] * shares[step.second], conductance)
        factors.append(Factor(shares, ohms, connected))
    return factors


def push_out(rounds: Sequence[Round], factors: Sequence[Factor], injected: Array) -> None:
    """Move the currents injected into nodes that are taken out, (nodes, columns), on to their
    neighbours, in place; each keeps its own for the way back."""
    for step, factor in zip(rounds, factors, strict=True):
        if factor.connected:
            step.push.add(factor.shares * injected[step.nodes[step.owner]], injected)


def put_back(rounds: Sequence[Round], factors: Sequence[Factor], volts: Array,
             injected: Array | None = None) -> None:
    """Fill in `volts` (nodes, columns) of the nodes taken out, last first. An island that nothing
    ties to earth has its last node at zero volts."""
    for step, factor in zip(reversed(rounds), reversed(factors), strict=True):
        connected = factor.connected
        shares = factor.shares * volts[step.far]
        if connected == len(step.nodes):
            found = np.add.reduceat(shares, step.starts, axis=0)
        else:
            found = np.zeros((len(step.nodes), volts.shape[1]))
            if connected:
                found[:connected] = np.add.reduceat(shares, step.starts, axis=0)
        if injected is not None:
            found += factor.ohms * injected[step.nodes]
        volts[step.nodes] = found
