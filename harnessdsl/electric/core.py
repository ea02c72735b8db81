"""The core of a plan: the nodes that Newton's method works on, and the order they are taken out in.

In a large vehicle every fuse rail meets every earth point by way of some load, so that taking nodes
out one by one ends in a tangle of everything with everything. But loads are weak beside the copper
that they hang between: a rail hardly feels what a lamp does at the other end. So once the circuits
between the hubs (rails, earth points, large splices) are taken out, the weak links that they leave
between hubs may lag one step behind: each hub sees the other at the voltage of the step before.
This is a regular splitting of the matrix, which always comes to the same answer; for loads the
error shrinks some hundredfold a step.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from harnessdsl.electric.elimination import (
    GROUND,
    Array,
    Graph,
    Index,
    Round,
    Scatter,
    take_out,
)

WEAK_SHARE = 0.005
"""A link between hubs is weak when its conductance times the resistance that anchors one of its
ends is at most this: the share of the error that a step leaves."""
HUBS_FROM_NODES = 300
"""Smaller cores are not worth it."""
MOST_NEIGHBOURS = 6
"""A node with more neighbours than this is a hub."""
ANCHORED_OHM = 0.1
"""A node with less than this to the ground, whatever the switches do, may be a hub too."""
MOST_ANCHORED_NEIGHBOURS = 3
MOST_TAIL_NODES, FEWEST_TAIL_NODES = 40, 6
TAIL_LEAK_S = 1e-12
"""Keeps the dense inverse of an island from being none at all."""


@dataclass(frozen=True, slots=True)
class Core:
    """Index arrays of a core; node 0 is the ground."""

    nodes: int
    """With one more, the last, which is the ground of what lags: always at zero volts too."""
    slots: int
    source: Index
    """The plan's slot that each of the first slots takes its conductance from."""
    live_branch: Index
    """Rows of branches between two different nodes."""
    conductance: Scatter
    """Live branches -> slots."""
    injected: Scatter
    """[live branches at a, at b] -> nodes."""
    ends: tuple[tuple[int, int], ...]
    """The nodes of each slot."""
    rounds: tuple[Round, ...]
    """Take out the circuits between the hubs (everything, when nothing lags)."""
    lag_slot: Index
    lag_a: Index
    lag_b: Index
    """Links between hubs that lag, and their ends."""
    lag_ground: Scatter
    """[lagging links at a, at b] -> slots to their own ground."""
    lag_injected: Scatter
    """[lagging links at a, at b] -> nodes."""
    hub_rounds: tuple[Round, ...]
    tail: Tail | None
    """The last nodes of `rounds`, when they are a tangle of everything with everything."""
    tail_rounds: tuple[Round, ...]
    kept_slots: tuple[tuple[int, int, int], ...]
    """(node, node, slot) among the ground and the nodes that are never taken out: the last ones."""


@dataclass(frozen=True, slots=True)
class Tail:
    """A few nodes that all hang together. Taking them out one by one keeps every digit and is slow;
    a dense inverse is quick and loses digits where little ties a node, so that it serves for all
    steps but the last."""

    nodes: Index
    slots: Index
    first: Index
    second: Index
    """Slots between two of the nodes, by their places in `nodes`, then slots to the ground."""
    pairs: int
    incidence: Array
    """(nodes, slots): which slots meet at which node."""

    def inverse(self, conductance: Array) -> Array:
        """Return ohms, (columns, nodes, nodes), from currents into the nodes to their voltages."""
        siemens = conductance.take(self.slots, axis=0)
        count, columns = len(self.nodes), conductance.shape[1]
        matrix = np.zeros((count, count, columns))
        between = siemens[: self.pairs]
        matrix[self.first, self.second] = -between
        matrix[self.second, self.first] = -between
        places = np.arange(count)
        matrix[places, places] = self.incidence @ siemens + TAIL_LEAK_S
        return np.asarray(np.linalg.inv(matrix.transpose(2, 0, 1)))


def _tail(graph: Graph, nodes: Sequence[int]) -> Tail:
    place = {node: i for i, node in enumerate(nodes)}
    pairs = sorted((place[a], place[b], slot) for a in nodes for b, slot in graph.slot_of[a].items()
                   if b in place and place[a] < place[b])
    grounds = sorted((place[a], slot) for a in nodes for b, slot in graph.slot_of[a].items()
                     if b not in place)
    incidence = np.zeros((len(nodes), len(pairs) + len(grounds)))
    for i, (a, b, _) in enumerate(pairs):
        incidence[a, i] = incidence[b, i] = 1.0
    for i, (a, _) in enumerate(grounds, len(pairs)):
        incidence[a, i] = 1.0
    return Tail(_index(nodes), _index([s for *_, s in pairs] + [s for _, s in grounds]),
                _index([a for a, _, _ in pairs]), _index([b for _, b, _ in pairs]), len(pairs),
                incidence)


@dataclass(frozen=True, slots=True)
class Link:
    """A slot of the plan or a branch between two core nodes."""

    row: int
    a: int
    b: int
    siemens: float
    """With every contact closed."""
    always: float
    """With every contact open; 0 for a branch that is no source."""


def make_core(nodes: int, kept_nodes: int, slots: Sequence[Link], branches: Sequence[Link],
              lagging: bool) -> Core:
    """Return the core with `nodes` nodes (the last `kept_nodes` stay) and these links."""
    graph = Graph.empty(nodes + 1)
    source: list[int] = []
    for link in slots:
        if graph.slot(link.a, link.b) == len(source):
            source.append(link.row)
    into = [graph.slot(link.a, link.b) for link in branches]
    free = range(1, nodes - kept_nodes)
    rounds: list[Round] = []
    lag: list[tuple[int, int, int]] = []
    if lagging and nodes >= HUBS_FROM_NODES:
        values = np.zeros((len(graph.ends), 2))
        for slot, link in zip([*range(len(slots)), *into], [*slots, *branches], strict=True):
            values[slot] += (link.siemens, link.always)
        rounds, lag = _hubs(graph, free, values)
    else:
        rounds = graph.plan(free, leave=0 if kept_nodes else MOST_TAIL_NODES)
    out = {int(node) for step in rounds for node in step.nodes}
    tail: Tail | None = None
    tail_rounds: list[Round] = []
    left = [node for node in free if node not in out]
    if not lag and not kept_nodes and len(left) >= FEWEST_TAIL_NODES:
        tail = _tail(graph, left)
        tail_rounds = graph.plan(left)
        out.update(left)
    for a, b, _ in lag:
        del graph.slot_of[a][b], graph.slot_of[b][a]
    into_ground = [graph.slot(a, nodes) for a, _, _ in lag] + [
        graph.slot(b, nodes) for _, b, _ in lag]
    hub_rounds = graph.plan([node for node in free if node not in out])
    stay = [GROUND, *range(nodes - kept_nodes, nodes)]
    return Core(
        nodes + 1, len(graph.ends), _index(source), _index([link.row for link in branches]),
        Scatter.into(into),
        Scatter.into([link.a for link in branches] + [link.b for link in branches]),
        tuple(graph.ends), tuple(rounds), _index([slot for _, _, slot in lag]),
        _index([a for a, _, _ in lag]), _index([b for _, b, _ in lag]),
        Scatter.into(into_ground),
        Scatter.into([a for a, _, _ in lag] + [b for _, b, _ in lag]), tuple(hub_rounds),
        tail, tuple(tail_rounds),
        tuple((a, b, graph.slot_of[a][b]) for i, a in enumerate(stay)
              for b in stay[i + 1:] if b in graph.slot_of[a]))


def _index(values: Sequence[int]) -> Index:
    return np.asarray(values, dtype=np.intp)


def _hubs(graph: Graph, free: Sequence[int], values: Array
          ) -> tuple[list[Round], list[tuple[int, int, int]]]:
    """Take out the circuits between the hubs; return the rounds, and the links between hubs (two
    nodes, slot) that may lag.

    At least one end of such a link is anchored: tied to the ground, whatever the switches do, by so
    little resistance that the link's own current hardly moves it. Any way round by lagging links
    then passes an anchored node, where the error shrinks.
    """
    anchor_ohm = _anchors(graph, values)
    rounds = graph.plan(free, MOST_ANCHORED_NEIGHBOURS)
    out = {int(node) for step in rounds for node in step.nodes}
    loose = [n for n in free if n not in out and anchor_ohm[n] > ANCHORED_OHM]
    rounds += graph.plan(loose, MOST_NEIGHBOURS)
    values = np.concatenate([values, np.zeros((len(graph.ends) - len(values), 2))])
    take_out(rounds, values)
    anchor_ohm = _anchors(graph, values)
    lag = []
    for a, around in enumerate(graph.slot_of):
        for b, slot in around.items():
            if GROUND < a < b <= free[-1] and (
                    values[slot, 0] * min(anchor_ohm[a], anchor_ohm[b]) <= WEAK_SHARE):
                lag.append((a, b, slot))
    return rounds, lag


def _anchors(graph: Graph, values: Array) -> list[float]:
    """Return the resistance from each node to the ground along the best way that no switch can
    break."""
    ohms = [math.inf] * len(graph.slot_of)
    ohms[GROUND] = 0.0
    queue = [(0.0, GROUND)]
    while queue:
        ohm, node = heapq.heappop(queue)
        if ohm > ohms[node]:
            continue
        for other, slot in graph.slot_of[node].items():
            siemens = float(values[slot, 1])
            if siemens > 0 and ohm + 1 / siemens < ohms[other]:
                ohms[other] = ohm + 1 / siemens
                heapq.heappush(queue, (ohms[other], other))
    return ohms
