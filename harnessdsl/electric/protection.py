"""Which fuses, links and breakers their current opens."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harnessdsl.electric.circuit import Circuit, Network
from harnessdsl.electric.elimination import Array, Index
from harnessdsl.electric.fuse_curves import Band, FuseCurve


@dataclass(frozen=True, slots=True)
class Overload:
    """Protection that carries more than its curve allows for good."""

    id: str
    part: str
    role: str
    rating_a: float
    current_a: float
    band: Band

    def text(self) -> str:
        return (f"{self.part or self.id} ({self.rating_a:g} A): {self.current_a:.3g} A is "
                f"{self.current_a / self.rating_a:.3g} times its rating, {self.band.text()}")


def _protection(circuit: Circuit) -> tuple[Index, Array]:
    found = circuit.plans.get("protection")
    if found is None:
        chosen = [i for i, e in enumerate(circuit.elements)
                  if e.curve is not None and e.rated_a > 0]
        carries = [circuit.elements[i].rated_a * _curve(circuit, i).carries for i in chosen]
        found = circuit.plans["protection"] = (
            np.asarray(chosen, dtype=np.intp), np.asarray(carries, dtype=float))
    assert isinstance(found, tuple)
    return found


def _curve(circuit: Circuit, index: int) -> FuseCurve:
    curve = circuit.elements[index].curve
    assert curve is not None
    return curve


def overloads(network: Network, currents: Array, opened: frozenset[str]) -> list[Overload]:
    """Return the overloaded protection, the one that opens first at the head."""
    circuit = network.circuit
    chosen, carries = _protection(circuit)
    amperes = np.abs(currents[chosen])
    found = []
    for place in np.flatnonzero(amperes > carries):
        index = int(chosen[place])
        element = circuit.elements[index]
        if element.id in opened:
            continue
        through = float(amperes[place])
        found.append(Overload(element.id, element.part, element.role, element.rated_a, through,
                              _curve(circuit, index).band(through / element.rated_a)))
    return sorted(found, key=lambda o: (o.band.longest_s, o.band.shortest_s,
                                        -o.current_a / o.rating_a, o.id))
