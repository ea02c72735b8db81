"""What an ohmmeter shows at a part that was taken out: only the part lies between its leads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from harnessdsl.electric.elements import OPEN, Cell
from harnessdsl.electric.operating_point import OperatingPoint, solve_many
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case import BATTERY_OFF
from harnessdsl.faults.entries import Array
from harnessdsl.faults.exact import faulty_networks
from harnessdsl.faults.fault import Fault
from harnessdsl.model.vehicle import Condition

OPEN_OHM = 1e9
"""Stands for no way through at all."""
_REST = Condition(BATTERY_OFF)


def alone_ohms(bench: Bench, candidates: Sequence[tuple[int, ...]], part: str, a: str, b: str
               ) -> Array:
    """Return the ohms between two of a part's terminals under each candidate, in ohms.

    The part lies on the bench: relays at rest, switches at rest, lamps and motors cold.
    """
    known: dict[tuple[int, ...], float] = {}
    found = []
    for candidate in candidates:
        own = tuple(i for i in candidate if _is_inside(bench, bench.faults[i], part))
        if own not in known:
            known[own] = _ohm(bench, [bench.faults[i] for i in own], part, a, b)
        found.append(known[own])
    return np.asarray(found)


def _is_inside(bench: Bench, fault: Fault, part: str) -> bool:
    circuit = bench.assembled.circuit
    index = circuit.element_index
    return any(circuit.elements[index[n]].part == part for n in fault.elements() if n in index) or (
        fault.part == part and bool(fault.added))


def _point(bench: Bench, faults: Sequence[Fault]) -> OperatingPoint:
    network = faulty_networks(bench.assembled, faults, [_REST])[0]
    laws = {**network.laws, **{e.id: OPEN for e in network.circuit.elements
                               if isinstance(e.law, Cell)}}
    return solve_many([replace(network, laws=laws)])[0]


def _ohm(bench: Bench, faults: Sequence[Fault], part: str, a: str, b: str) -> float:
    point = _point(bench, faults)
    added = {e.id for f in faults for e in f.added}
    elements = [(e, float(s)) for e, s in zip(point.network.circuit.elements, point.siemens,
                                              strict=True)
                if s > 0 and e.a != e.b and (e.part == part or e.id in added)]
    # what grows from the red lead's terminal through the part
    names = {a: 0}
    grown = True
    while grown:
        grown = False
        for element, _ in elements:
            for one, other in ((element.a, element.b), (element.b, element.a)):
                if one in names and other not in names:
                    names[other] = len(names)
                    grown = True
    if a == b:
        return 0.0
    if b not in names:
        return OPEN_OHM
    matrix = np.zeros((len(names), len(names)))
    for element, siemens in elements:
        if element.a in names:
            i, j = names[element.a], names[element.b]
            matrix[i, i] += siemens
            matrix[j, j] += siemens
            matrix[i, j] -= siemens
            matrix[j, i] -= siemens
    drive = np.zeros(len(names))
    drive[names[b]] = 1.0
    # the red lead's terminal is the reference
    solved = np.linalg.solve(matrix[1:, 1:], drive[1:])
    return float(solved[names[b] - 1])
