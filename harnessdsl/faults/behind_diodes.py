"""Points that only a diode feeds: a warning LED's far side with its switch open, and the like.

Nothing flows there until a meter is put on, and what it then shows does not follow from the
straight line around no current at all: the diode opens for the meter's microampere. Such points
are computed with the meter connected.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from harnessdsl.electric.elements import METER_OHM, Element, Junction, Resistance
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.changes import Change
from harnessdsl.faults.entries import Index, linear

Small = NDArray[np.float32] | NDArray[np.float64]
HANGS_OHM, LEAST_V = 1e5, 0.3
"""A meter's own resistance begins to matter behind the first; below the second nothing is there."""
ALIKE_V, ALIKE_SHARE = 0.02, 0.02
DIODE_OHM = 5e4
"""What a diode looks like at a meter's microampere: some 50 mV through 1 uA."""


def diode_ends(bench: Bench) -> Index:
    """Return the nodes at the ends of diodes and LEDs, by number."""
    circuit = bench.assembled.circuit
    found = {circuit.node_index[n] for e in circuit.elements if isinstance(e.law, Junction)
             for n in (e.a, e.b)}
    return np.asarray(sorted(found - {0}), dtype=np.intp)


def meter_shows(volts: Small, ohms: Small) -> Small:
    """Return what a meter shows at points with an unloaded voltage behind a resistance."""
    return np.asarray(volts * (METER_OHM / (METER_OHM + ohms)))


def with_meter(bench: Bench, number: int, ends: Index, change: Callable[[int], Change],
               volts: NDArray[np.float32], ohms: NDArray[np.float32]) -> None:
    """Set right, in place, what a meter sees of points that only a diode feeds.

    Args:
        number: of the condition.
        ends: as `diode_ends` gives them.
        change: gives what is changed in a row.
        volts, ohms: (rows, nodes), unloaded voltage and what a meter looks into.
    """
    hangs = (ohms[:, ends] > HANGS_OHM) & (np.abs(volts[:, ends]) > LEAST_V)
    jobs: list[tuple[int, int, np.ndarray]] = []
    for row in np.flatnonzero(hangs.any(axis=1)).tolist():
        done = np.zeros(volts.shape[1], dtype=bool)
        for end in ends[hangs[row]].tolist():
            if not done[end]:
                group = (ohms[row] > HANGS_OHM) & (
                    np.abs(volts[row] - volts[row, end]) < ALIKE_V) & (
                    np.abs(ohms[row] / ohms[row, end] - 1) < ALIKE_SHARE)
                group[end] = True
                done |= group
                jobs.append((row, end, np.flatnonzero(group)))
    if not jobs:
        return
    meters = [_meter(bench, end) for _, end, _ in jobs]
    answers = bench.solver(number).solve([
        replace(one, specs={**one.specs, meter: linear(1 / METER_OHM)})
        for one, meter in zip((change(row) for row, _, _ in jobs), meters, strict=True)])
    for (row, end, group), meter, answer in zip(jobs, meters, answers, strict=True):
        at = np.flatnonzero(answer.ports == meter)
        if answer.failed or not len(at):
            continue
        shown = float(answer.volts[at[0]])
        straight = float(meter_shows(volts[row, end], ohms[row, end]))
        if abs(shown - straight) > ALIKE_V:
            volts[row, group] = shown * (1 + DIODE_OHM / METER_OHM)
            ohms[row, group] = DIODE_OHM


def _meter(bench: Bench, node: int) -> int:
    circuit = bench.assembled.circuit
    name = circuit.nodes[node]
    return bench.ports.add(Element(f"meter at {name}", name, circuit.reference,
                                   Resistance(METER_OHM), "instrument"))
