"""The order of the solver's work on one circuit, found once and used for every condition.

What never changes (wires, plugs, earth points) is taken out at once, by numbers. What contacts
change is taken out once per state of the contacts. Lamps, diodes, motors and sources stay, each
with the wires that lead to it and nothing else folded in, and so does what they meet at: the core,
which Newton's method works on.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from harnessdsl.electric.circuit import Circuit
from harnessdsl.electric.elements import Junction, Resistance
from harnessdsl.electric.laws import starting_voltage
from harnessdsl.electric.elimination import GROUND, Array, Graph, Index, Round, Scatter

MOST_FOLDED_NEIGHBOURS = 3
"""A linear node with more neighbours stays in the core: taking it out would join them all."""


@dataclass(frozen=True, slots=True)
class Branches:
    """Non-linear elements of one family between core nodes, wires on either side folded in."""

    family: str
    elements: Index
    """Numbers in the circuit."""
    parameters: Array
    """(parameters, elements, 1)"""
    own_ohm: Array
    """Series resistance inside the element, (elements, 1)."""
    near_slot: Index
    far_slot: Index
    """Slots of the folded wires beside a and b; -1: none, the end is a core node itself; -2: the
    end hangs in the air."""
    parallel_slot: Index
    """Slot of what lies in parallel and is folded in; -1: none."""
    outer_a: Index
    outer_b: Index
    """The nodes that the folded branch lies between."""
    inner_a: Index
    inner_b: Index
    """The element's own nodes."""
    core_a: Index
    core_b: Index
    """The outer nodes by the core's own numbers."""
    starting_v: Array


@dataclass(frozen=True, slots=True)
class Plan:
    """All index arrays for solving a circuit. Node numbers are the circuit's."""

    circuit: Circuit
    fixed_nodes: Index
    fixed_share: csr_matrix
    """Rows of `fixed_nodes` as shares of all nodes' voltages."""
    base: Array
    """Conductance of each slot from what never changes."""
    variable: Index
    """Numbers of the elements that may differ from network to network."""
    variable_scatter: Scatter
    linear_rounds: tuple[Round, ...]
    branches: tuple[Branches, ...]
    branch_slot: Scatter
    branch_live: Index
    """Branches (over all families, in order) that have a slot of their own."""
    node_push: Scatter
    core_nodes: Index
    """Node numbers of the core; the ground comes first. The core counts its nodes, and its slots,
    for itself."""
    core_source: Index
    """The slot that each of the core's slots begins with."""
    core_slots: int
    """How many slots the core has, with those that its own elimination fills."""
    core_ends: tuple[tuple[int, int], ...]
    """The nodes of each of the core's slots, by the core's own numbers."""
    core_rounds: tuple[Round, ...]


def _nonlinear(circuit: Circuit) -> list[int]:
    return [i for i, e in enumerate(circuit.elements) if not isinstance(e.law, Resistance)]


class _Fixed:
    """Takes out the nodes that only fixed resistances meet at, one by one."""

    def __init__(self, circuit: Circuit, busy: Iterable[int], variable: frozenset[int]) -> None:
        self.busy = frozenset(busy)
        count = len(circuit.nodes)
        self.neighbours: list[dict[int, float]] = [{} for _ in range(count)]
        for index, element in enumerate(circuit.elements):
            if index in variable or not isinstance(element.law, Resistance):
                continue
            a, b = circuit.node_index[element.a], circuit.node_index[element.b]
            if a != b and element.law.siemens:
                self._join(a, b, element.law.siemens)
        self.gone: list[tuple[int, list[tuple[int, float]]]] = []

    def _join(self, a: int, b: int, siemens: float) -> None:
        one, other = self.neighbours[a], self.neighbours[b]
        one[b] = other[a] = one.get(b, 0.0) + siemens

    def run(self) -> None:
        queue = [(len(found), node) for node, found in enumerate(self.neighbours)
                 if node not in self.busy and node != GROUND]
        heapq.heapify(queue)
        done: set[int] = set()
        while queue:
            degree, node = heapq.heappop(queue)
            spokes = self.neighbours[node]
            if node in done or degree != len(spokes):
                continue
            if degree > MOST_FOLDED_NEIGHBOURS:
                break
            done.add(node)
            total = sum(spokes.values())
            around = list(spokes.items())
            self.gone.append((node, [(other, g / total) for other, g in around]))
            for other, _ in around:
                del self.neighbours[other][node]
            for i, (one, g) in enumerate(around):
                for other, h in around[i + 1:]:
                    self._join(one, other, g * h / total)
            spokes.clear()
            for other, _ in around:
                if other not in self.busy and other != GROUND:
                    heapq.heappush(queue, (len(self.neighbours[other]), other))

    def shares(self, count: int) -> tuple[Index, csr_matrix]:
        """Return the nodes taken out and their voltages as shares of those that stay."""
        rows: dict[int, dict[int, float]] = {}
        for node, around in reversed(self.gone):
            row: dict[int, float] = {}
            for other, share in around:
                known = rows.get(other)
                if known is None:
                    row[other] = row.get(other, 0.0) + share
                else:
                    for far, part in known.items():
                        row[far] = row.get(far, 0.0) + share * part
            rows[node] = row
        nodes = sorted(rows)
        starts, columns, values = [0], [], []
        for node in nodes:
            for other, share in rows[node].items():
                columns.append(other)
                values.append(share)
            starts.append(len(columns))
        matrix = csr_matrix((np.asarray(values, dtype=float),
                             np.asarray(columns, dtype=np.int32),
                             np.asarray(starts, dtype=np.int32)), shape=(len(nodes), count))
        return np.asarray(nodes, dtype=np.intp), matrix


@dataclass(slots=True)
class _Branch:
    element: int
    near: int
    far: int
    parallel: int
    outer_a: int
    outer_b: int
    inner_a: int
    inner_b: int
    core_a: int = 0
    core_b: int = 0


class _Folder:
    """Folds the wire on either side of a non-linear element into it."""

    def __init__(self, circuit: Circuit, graph: Graph, elements: Sequence[int],
                 folding: bool) -> None:
        self.circuit = circuit
        self.graph = graph
        self.folding = folding
        self.uses: dict[int, int] = {}
        for index in elements:
            for node in self._ends(index):
                self.uses[node] = self.uses.get(node, 0) + 1
        self.inside_ohm = 0.0
        self.kept: set[int] = {GROUND}
        self.folded: set[int] = set()

    def _ends(self, index: int) -> tuple[int, int]:
        element = self.circuit.elements[index]
        return self.circuit.node_index[element.a], self.circuit.node_index[element.b]

    def _private(self, node: int, other_end: int) -> bool:
        if not self.folding or node in self.kept or self.uses[node] != 1 or node == other_end:
            return False
        around = self.graph.slot_of[node]
        if other_end in around and self.inside_ohm > 0:
            return False  # what lies in parallel does not see the resistance inside the element
        return len(around) - (other_end in around) <= 1

    def _fold(self, node: int, other_end: int) -> tuple[int, int]:
        """Return the slot of the folded wire (-2: none) and the node behind it."""
        self.folded.add(node)
        around = self.graph.slot_of[node]
        outside = [(far, slot) for far, slot in around.items() if far != other_end]
        for far in around:
            del self.graph.slot_of[far][node]
        self.graph.slot_of[node] = {}
        if not outside:
            return -2, GROUND
        far, slot = outside[0]
        self.kept.add(far)
        return slot, far

    def branch(self, index: int) -> _Branch:
        a, b = self._ends(index)
        found = _Branch(index, -1, -1, -1, a, b, a, b)
        law = self.circuit.elements[index].law
        self.inside_ohm = law.series_ohm if isinstance(law, Junction) else 0.0
        parallel = self.graph.slot_of[a].get(b, -1)
        fold_a, fold_b = self._private(a, b), self._private(b, a)
        if fold_a or fold_b:
            found.parallel = parallel
        if fold_a:
            found.near, found.outer_a = self._fold(a, b)
            # folding a keeps what lies behind it: that may be b itself no longer
            fold_b = fold_b and b not in self.kept
        if fold_b:
            found.far, found.outer_b = self._fold(b, a)
        self.kept.update((a, b))
        return found


def make_plan(circuit: Circuit, extra: frozenset[int] = frozenset(), folding: bool = True) -> Plan:
    """Return the plan of `circuit`, in which `extra` elements may change besides its own variable
    ones; without `folding` every end of a non-linear element stays in the core (slower, for the
    robust fall-back)."""
    elements, at = circuit.elements, circuit.node_index
    nonlinear = _nonlinear(circuit)
    busy: set[int] = set()
    variable = [i for i in sorted(circuit.variable | extra) if isinstance(elements[i].law, Resistance)]
    active_ends: set[int] = set()
    for index in nonlinear:
        active_ends.update((at[elements[index].a], at[elements[index].b]))
    busy |= active_ends
    for index in variable:
        busy.update((at[elements[index].a], at[elements[index].b]))
    fixed = _Fixed(circuit, busy, frozenset(variable))
    fixed.run()
    fixed_nodes, fixed_share = fixed.shares(len(circuit.nodes))
    graph = Graph.empty(len(circuit.nodes))
    base: list[float] = []
    for node, around in enumerate(fixed.neighbours):
        for other, siemens in around.items():
            if node < other and graph.slot(node, other) == len(base):
                base.append(siemens)
    used_variable = [i for i in variable if at[elements[i].a] != at[elements[i].b]]
    variable_slots = [graph.slot(at[elements[i].a], at[elements[i].b]) for i in used_variable]
    gone = {node for node, _ in fixed.gone}
    linear = [n for n in range(1, len(circuit.nodes))
              if n not in gone and n not in active_ends and graph.slot_of[n]]
    linear_rounds = tuple(graph.plan(linear, MOST_FOLDED_NEIGHBOURS))
    for step in linear_rounds:
        gone.update(int(n) for n in step.nodes)
    folder = _Folder(circuit, graph, nonlinear, folding)
    by_family: dict[str, list[_Branch]] = {}
    for index in nonlinear:
        by_family.setdefault(elements[index].law.kind, []).append(folder.branch(index))
    ordered = [(family, by_family[family]) for family in sorted(by_family)]
    flat = [branch for _, found in ordered for branch in found]
    live = [i for i, branch in enumerate(flat)
            if branch.outer_a != branch.outer_b and -2 not in (branch.near, branch.far)]
    for i in live:
        if graph.slot(flat[i].outer_a, flat[i].outer_b) == len(base):
            base.append(0.0)
    core = [n for n in range(1, len(circuit.nodes))
            if n not in gone and n not in folder.folded and graph.slot_of[n]]
    local = {node: i for i, node in enumerate([GROUND, *core])}
    inside = Graph.empty(len(local))
    source = []
    for node in core:
        for other, slot in graph.slot_of[node].items():
            if (other < node) and inside.slot(local[other], local[node]) == len(source):
                source.append(slot)
    slots = [inside.slot(local[flat[i].outer_a], local[flat[i].outer_b]) for i in live]
    core_rounds = tuple(inside.plan(range(1, len(local))))
    base.extend([0.0] * (len(graph.ends) - len(base)))
    for branch in flat:
        branch.core_a = local.get(branch.outer_a, 0)
        branch.core_b = local.get(branch.outer_b, 0)
    return Plan(
        circuit, fixed_nodes, fixed_share, np.asarray(base),
        np.asarray(used_variable, dtype=np.intp), Scatter.into(variable_slots), linear_rounds,
        tuple(_pack(circuit, family, found) for family, found in ordered),
        Scatter.into(slots), np.asarray(live, dtype=np.intp),
        Scatter.into([flat[i].core_a for i in live] + [flat[i].core_b for i in live]),
        np.asarray(list(local), dtype=np.intp), np.asarray(source, dtype=np.intp),
        len(inside.ends), tuple(inside.ends), core_rounds)


def _pack(circuit: Circuit, family: str, found: Sequence[_Branch]) -> Branches:
    def index(name: str) -> Index:
        return np.asarray([getattr(branch, name) for branch in found], dtype=np.intp)

    laws = [circuit.elements[branch.element].law for branch in found]
    parameters = np.asarray([law.parameters() for law in laws  # type: ignore[union-attr]
                             ], dtype=float).T[:, :, None]
    own = np.asarray([[law.series_ohm if isinstance(law, Junction) else 0.0] for law in laws])
    return Branches(family, index("element"), parameters, own, index("near"), index("far"),
                    index("parallel"), index("outer_a"), index("outer_b"), index("inner_a"),
                    index("inner_b"), index("core_a"), index("core_b"),
                    np.asarray([[starting_voltage(law)] for law in laws]))
