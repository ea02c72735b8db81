"""The healthy vehicle in one state of its switches, as a straight-line network around its answer.

Every fault is an extra current at the ends of the elements that it touches: the network around them
is the same straight-line network, factored once. `Ports` numbers the pairs of points that faults
can touch, for all conditions alike; `Base` holds one condition's factors.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from harnessdsl.electric.circuit import Circuit
from harnessdsl.electric.elements import Element, Junction, Resistance
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.faults.entries import Array, Index, Spec, evaluate, spec_of
from harnessdsl.faults.paths import ways_to_root
from harnessdsl.model.kind import LOAD_TYPES, PROTECTION_TYPES

TIE_SIEMENS = 1e-9
"""Ties an island that nothing joins to the body; it carries no current."""


class Ports:
    """Pairs of nodes: the circuit's elements by their numbers, then what faults add.

    A diode or LED with resistance of its own inside gets a node of its own between the two.
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        at = circuit.node_index
        self.a = [at[e.a] for e in circuit.elements]
        self.b = [at[e.b] for e in circuit.elements]
        self.names = [e.id for e in circuit.elements]
        self.series: list[tuple[int, int, float]] = []
        """(outer node, inner node, siemens) of the resistances inside diodes."""
        self.inner_of: dict[int, int] = {}
        nodes = len(circuit.nodes)
        for index, element in enumerate(circuit.elements):
            if isinstance(element.law, Junction) and element.law.series_ohm > 0:
                self.series.append((self.a[index], nodes, 1 / element.law.series_ohm))
                self.inner_of[index] = nodes
                self.a[index] = nodes
                nodes += 1
        self.nodes = nodes
        self.count = len(self.names)
        self.elements = self.count
        self._known: dict[str, int] = {}
        roles = [e.role for e in circuit.elements]
        self.nonlinear = np.asarray([i for i, e in enumerate(circuit.elements)
                                     if not isinstance(e.law, Resistance)], dtype=np.intp)
        self.loads = [i for i, role in enumerate(roles) if role in LOAD_TYPES]
        self.coils = list(circuit.coils)
        self.gated = [i for i, e in enumerate(circuit.elements) if e.gate]
        self.protection = [i for i, role in enumerate(roles) if role in PROTECTION_TYPES]
        watched = dict.fromkeys([*self.nonlinear.tolist(), *self.loads, *self.coils,
                                 *self.protection])
        self.watched = np.asarray(list(watched), dtype=np.intp)
        """Ports looked at for every fault: what bends, moves, opens or is seen."""
        self.place = {int(port): i for i, port in enumerate(self.watched)}

    def add(self, element: Element) -> int:
        """Return the port of an element that a fault adds."""
        known = self._known.get(element.id)
        if known is None:
            at = self.circuit.node_index
            known = self._known[element.id] = self.count
            self.a.append(at[element.a])
            self.b.append(at[element.b])
            self.names.append(element.id)
            self.count += 1
        return known

    def incidence(self, ports: Iterable[int]) -> csc_matrix:
        """Return a column a port: +1 at its a, -1 at its b, the reference left out."""
        chosen = np.asarray(list(ports), dtype=np.intp)
        a = np.asarray(self.a, dtype=np.intp)[chosen]
        b = np.asarray(self.b, dtype=np.intp)[chosen]
        columns = np.arange(len(chosen))
        rows = np.concatenate([a, b])
        keep = rows > 0
        values = np.concatenate([np.ones(len(chosen)), -np.ones(len(chosen))])
        return csc_matrix((values[keep], (rows[keep] - 1, np.tile(columns, 2)[keep])),
                          shape=(self.nodes - 1, len(chosen)))


class Base:
    """One condition of the healthy vehicle. Voltages in volts, `volts[0]` the reference."""

    def __init__(self, ports: Ports, point: OperatingPoint) -> None:
        self.ports = ports
        self.point = point
        self.network = point.network
        circuit = ports.circuit
        count = ports.elements
        self.volts = np.zeros(ports.nodes)
        self.volts[:len(circuit.nodes)] = point.volts
        self.currents = np.asarray(point.currents[:count])
        for index, inner in ports.inner_of.items():
            law = circuit.elements[index].law
            assert isinstance(law, Junction)
            outer = circuit.node_index[circuit.elements[index].a]
            self.volts[inner] = point.volts[outer] - law.series_ohm * self.currents[index]
        a = np.asarray(ports.a, dtype=np.intp)
        b = np.asarray(ports.b, dtype=np.intp)
        self.port_volts = self.volts[a] - self.volts[b]
        self.siemens = np.zeros(ports.count)
        self.siemens[:count] = point.siemens
        self.kinds = np.zeros(ports.count, dtype=np.intp)
        self.figures = np.zeros((3, ports.count))
        self.figures[0] = self.siemens
        self.amperes = np.zeros(ports.count)
        self.amperes[:count] = self.currents
        for index in ports.nonlinear.tolist():
            spec = spec_of(self.network.law(index))
            if isinstance(self.network.law(index), Resistance):
                spec = Spec(0, (self.network.law(index).siemens, 0.0, 0.0))  # type: ignore[union-attr]
            self.kinds[index] = spec.kind
            self.figures[:, index] = spec.figures
        rows = ports.nonlinear
        _, self.siemens[rows] = evaluate(self.kinds[rows], self.figures[:, rows],
                                         self.port_volts[rows])
        self.energised = np.asarray([circuit.elements[i].id in point.energised
                                     for i in ports.coils], dtype=bool)
        self._factor(a[:count], b[:count])
        self.ways = ways_to_root(self.factors)
        """The inverse of the conductance matrix as S S', a row a node but the reference."""

    def grow(self) -> None:
        """Make room for ports added since: nothing is there yet, so nothing flows."""
        more = self.ports.count - len(self.port_volts)
        if more > 0:
            a = np.asarray(self.ports.a[-more:], dtype=np.intp)
            b = np.asarray(self.ports.b[-more:], dtype=np.intp)
            self.port_volts = np.concatenate([self.port_volts, self.volts[a] - self.volts[b]])
            self.siemens = np.concatenate([self.siemens, np.zeros(more)])
            self.amperes = np.concatenate([self.amperes, np.zeros(more)])
            self.kinds = np.concatenate([self.kinds, np.zeros(more, dtype=np.intp)])
            self.figures = np.concatenate([self.figures, np.zeros((3, more))], axis=1)

    def _factor(self, a: Index, b: Index) -> None:
        ports = self.ports
        siemens = self.siemens[:len(a)]
        joined = siemens > 0
        if ports.series:
            outer, inner, extra = (np.asarray(column) for column in zip(*ports.series, strict=True))
            a = np.concatenate([a, outer])
            b = np.concatenate([b, inner])
            siemens = np.concatenate([siemens, extra])
            joined = siemens > 0
        a, b, siemens = a[joined], b[joined], siemens[joined]
        shape = (ports.nodes, ports.nodes)
        graph = csc_matrix((np.ones(len(a)), (a, b)), shape=shape)
        self.labels = connected_components(graph, directed=False)[1]
        labels, first = np.unique(self.labels, return_index=True)
        ties = first[labels != self.labels[0]]
        rows = np.concatenate([a, b, a, b, ties])
        columns = np.concatenate([a, b, b, a, ties])
        values = np.concatenate([siemens, siemens, -siemens, -siemens,
                                 np.full(len(ties), TIE_SIEMENS)])
        keep = (rows > 0) & (columns > 0)
        matrix = csc_matrix((values[keep], (rows[keep] - 1, columns[keep] - 1)),
                            shape=(ports.nodes - 1, ports.nodes - 1))
        self.factors = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                            options={"SymmetricMode": True})

    def spread(self, currents: Array) -> Array:
        """Return the change of every node but the reference for currents pushed into the nodes."""
        return np.asarray(self.factors.solve(currents))
