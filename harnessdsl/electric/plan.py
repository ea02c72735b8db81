"""The order of the solver's work on one circuit, found once and used for every condition.

What never changes (wires, plugs, earth points) is taken out at once, by numbers. What switches
change is taken out once per condition, what relays change once per state of the relays. Lamps,
diodes, motors and sources stay, each with the wires that lead to it and nothing else folded in, and
so does what they meet at: the core, which Newton's method works on.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from harnessdsl.electric.circuit import Circuit
from harnessdsl.electric.core import Core, Link, make_core
from harnessdsl.electric.elements import Cell, Junction, Law, Resistance
from harnessdsl.electric.elimination import GROUND, Array, Graph, Index, Round, Scatter, take_out
from harnessdsl.electric.laws import rated_siemens, starting_voltage

MOST_FOLDED_NEIGHBOURS = 3
"""A linear node with more neighbours stays in the core: taking it out would join them all."""


@dataclass(frozen=True, slots=True)
class Family:
    """The non-linear elements of one kind of law: rows `first` to `last` of the branches."""

    name: str
    first: int
    last: int
    parameters: Array
    """(parameters, elements, 1)"""


@dataclass(frozen=True, slots=True)
class Branches:
    """Non-linear elements between core nodes, wires on either side folded in. One row each, sorted
    by kind of law."""

    elements: Index
    """Numbers in the circuit."""
    own_ohm: Array
    """Series resistance inside the element, (elements, 1)."""
    starting_v: Array
    near_slot: Index
    far_slot: Index
    """Slots of the folded wires beside a and b; -1: none, the end is a core node itself; -2: the
    end hangs in the air."""
    parallel_slot: Index
    """Slot of what lies in parallel and is folded in; -1: none."""
    inner_a: Index
    inner_b: Index
    """The element's own nodes, by the circuit's numbers."""
    core_a: Index
    core_b: Index
    """The nodes that the folded branch lies between, by the core's own numbers."""


@dataclass(frozen=True, slots=True)
class Plan:
    """All index arrays for solving a circuit. Node numbers are the circuit's unless said."""

    circuit: Circuit
    fixed_nodes: Index
    fixed_share: csr_matrix
    """Rows of `fixed_nodes` as shares of all nodes' voltages."""
    fixed_coil_nodes: Index
    fixed_coil_share: csr_matrix
    """The same for the nodes of coils alone."""
    base: Array
    """Conductance of each slot from what never changes."""
    switched: Index
    """Numbers of the elements that a condition may change, but no relay."""
    switched_scatter: Scatter
    switched_rounds: tuple[Round, ...]
    gated: Index
    """Numbers of the contacts of relays."""
    gated_scatter: Scatter
    gated_rounds: tuple[Round, ...]
    families: tuple[Family, ...]
    branches: Branches
    branch_place: Mapping[int, tuple[int, int]]
    """Element number -> family, and row within it."""
    core_nodes: Index
    """Node numbers of the core; the ground comes first. The core counts its nodes for itself."""
    core: Core


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
        starts = [0]
        columns: list[int] = []
        values: list[float] = []
        for node in nodes:
            for other, share in rows[node].items():
                columns.append(other)
                values.append(share)
            starts.append(len(columns))
        matrix = csr_matrix((np.asarray(values, dtype=np.float64),
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

    @property
    def hangs(self) -> bool:
        return -2 in (self.near, self.far)


class _Folder:
    """Folds the wire on either side of a non-linear element into it."""

    def __init__(self, circuit: Circuit, graph: Graph, elements: Sequence[int],
                 folding: bool, keep: Iterable[int]) -> None:
        self.circuit = circuit
        self.graph = graph
        self.folding = folding
        self.uses: dict[int, int] = {}
        for index in elements:
            for node in self._ends(index):
                self.uses[node] = self.uses.get(node, 0) + 1
        self.inside_ohm = 0.0
        self.kept: set[int] = {GROUND, *keep}
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


def make_plan(circuit: Circuit, extra: frozenset[int] = frozenset(), folding: bool = True,
              lagging: bool = True, keep: Iterable[int] = ()) -> Plan:
    """Return the plan of `circuit`.

    Args:
        extra: elements that may change besides the circuit's own variable ones.
        folding: fold wires into non-linear elements; without it every end of one stays in the
            core (slower, for the robust fall-back).
        lagging: let weak links between the hubs of a large core lag a step behind (see `core`).
        keep: nodes that stay in the core whatever meets there, as its last ones.
    """
    elements, at = circuit.elements, circuit.node_index
    kept = list(dict.fromkeys(keep))

    def ends(index: int) -> tuple[int, int]:
        return at[elements[index].a], at[elements[index].b]

    nonlinear = sorted((i for i, e in enumerate(elements) if not isinstance(e.law, Resistance)),
                       key=lambda i: elements[i].law.kind)
    changing = [i for i in sorted(circuit.variable | extra)
                if isinstance(elements[i].law, Resistance)]
    gated = [i for i in changing if elements[i].gate and ends(i)[0] != ends(i)[1]]
    switched = [i for i in changing if not elements[i].gate and ends(i)[0] != ends(i)[1]]
    busy = set(kept)
    for index in nonlinear:
        busy.update(ends(index))
    tight = set(busy)
    for index in gated:
        busy.update(ends(index))
    relay_side = set(busy)
    for index in switched:
        busy.update(ends(index))
    fixed = _Fixed(circuit, busy, frozenset(changing))
    fixed.run()
    fixed_nodes, fixed_share = fixed.shares(len(circuit.nodes))
    coil_nodes = {node for index in circuit.coils for node in ends(index)}
    of_coils = np.asarray([i for i, node in enumerate(fixed_nodes.tolist())
                           if node in coil_nodes], dtype=np.intp)
    gone = {node for node, _ in fixed.gone}
    graph = Graph.empty(len(circuit.nodes))
    base: list[float] = []
    for node, around in enumerate(fixed.neighbours):
        for other, siemens in around.items():
            if node < other and graph.slot(node, other) == len(base):
                base.append(siemens)
    switched_slots = [graph.slot(*ends(i)) for i in switched]
    gated_slots = [graph.slot(*ends(i)) for i in gated]

    def out(off: set[int]) -> tuple[Round, ...]:
        rounds = tuple(graph.plan(
            [n for n in range(1, len(circuit.nodes))
             if n not in gone and n not in off and graph.slot_of[n]], MOST_FOLDED_NEIGHBOURS))
        for step in rounds:
            gone.update(step.nodes.tolist())
        return rounds

    switched_rounds = out(relay_side)
    gated_rounds = out(tight)
    folder = _Folder(circuit, graph, nonlinear, folding, kept)
    found = [folder.branch(index) for index in nonlinear]
    last = set(kept)
    core_nodes = [GROUND, *(n for n in range(1, len(circuit.nodes))
                            if n not in gone and n not in folder.folded and n not in last
                            and (graph.slot_of[n] or n in tight)), *kept]
    local = {node: i for i, node in enumerate(core_nodes)}
    for branch in found:
        if not branch.hangs:
            branch.core_a, branch.core_b = local[branch.outer_a], local[branch.outer_b]
        else:
            branch.core_a = local.get(branch.outer_a, 0)
            branch.core_b = local.get(branch.outer_b, 0)
    slots = sorted({slot for node in core_nodes[1:] for slot in graph.slot_of[node].values()})
    base.extend([0.0] * (len(graph.ends) - len(base)))
    switched_scatter, gated_scatter = Scatter.into(switched_slots), Scatter.into(gated_slots)
    # two columns: every contact closed, every contact open
    whole = np.repeat(np.asarray(base)[:, None], 2, axis=1)

    def own(indexes: Sequence[int]) -> Array:
        return np.asarray([[_siemens(elements[i].law), 0.0] for i in indexes]).reshape(-1, 2)

    switched_scatter.add(own(switched), whole)
    take_out(switched_rounds, whole)
    gated_scatter.add(own(gated), whole)
    take_out(gated_rounds, whole)

    def slot_link(slot: int) -> Link:
        a, b = graph.ends[slot]
        return Link(slot, local[a], local[b], float(whole[slot, 0]), float(whole[slot, 1]))

    def branch_link(row: int, branch: _Branch) -> Link:
        law = elements[branch.element].law
        siemens = folded_siemens(law, branch, 0)
        always = folded_siemens(law, branch, 1) if isinstance(law, Cell) else 0.0
        return Link(row, branch.core_a, branch.core_b, siemens, always)

    def folded_siemens(law: Law, branch: _Branch, column: int) -> float:
        siemens = rated_siemens(law)
        for slot in (branch.near, branch.far):
            if slot >= 0:
                wire = float(whole[slot, column])
                siemens = siemens * wire / (siemens + wire)
        return siemens

    core = make_core(
        len(core_nodes), len(kept), [slot_link(slot) for slot in slots],
        [branch_link(row, branch) for row, branch in enumerate(found)
         if branch.core_a != branch.core_b and not branch.hangs],
        lagging)
    families = _families(circuit, nonlinear)
    return Plan(
        circuit, fixed_nodes, fixed_share, fixed_nodes[of_coils], fixed_share[of_coils],
        np.asarray(base),
        np.asarray(switched, dtype=np.intp), switched_scatter, switched_rounds,
        np.asarray(gated, dtype=np.intp), gated_scatter, gated_rounds,
        families, _pack(circuit, found),
        {nonlinear[row]: (f, row - family.first) for f, family in enumerate(families)
         for row in range(family.first, family.last)},
        np.asarray(core_nodes, dtype=np.intp), core)


def _siemens(law: Law) -> float:
    return law.siemens if isinstance(law, Resistance) else 0.0


def _families(circuit: Circuit, nonlinear: Sequence[int]) -> tuple[Family, ...]:
    families: list[Family] = []
    first = 0
    for place, index in enumerate(nonlinear):
        name = circuit.elements[index].law.kind
        if place + 1 == len(nonlinear) or circuit.elements[nonlinear[place + 1]].law.kind != name:
            laws = [circuit.elements[i].law for i in nonlinear[first: place + 1]]
            rows = [law.parameters() for law in laws if not isinstance(law, Resistance)]
            parameters = np.asarray(rows, dtype=np.float64).T[:, :, None]
            families.append(Family(name, first, place + 1, parameters))
            first = place + 1
    return tuple(families)


def _pack(circuit: Circuit, found: Sequence[_Branch]) -> Branches:
    def index(name: str) -> Index:
        return np.asarray([getattr(branch, name) for branch in found], dtype=np.intp)

    def column(values: list[float]) -> Array:
        return np.asarray(values, dtype=np.float64).reshape(-1, 1)

    laws = [circuit.elements[branch.element].law for branch in found]
    return Branches(
        index("element"),
        column([law.series_ohm if isinstance(law, Junction) else 0.0 for law in laws]),
        column([starting_voltage(law) for law in laws]), index("near"), index("far"),
        index("parallel"), index("inner_a"), index("inner_b"), index("core_a"), index("core_b"))
