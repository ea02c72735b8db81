"""What flows in the first moments: filaments are cold, motors stand still.

A cold filament has a tenth of its hot resistance, and draws less than twice its current after 3 to
5 ms; a motor draws its stalled current for some tenths of a second. Everything that a condition
turns on is taken to start together: the worst case.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from harnessdsl.electric.circuit import Circuit
from harnessdsl.electric.elements import FILAMENT_COLD_SHARE, Filament, Law, Motor, Resistance
from harnessdsl.electric.operating_point import OperatingPoint, solve_many

MOTOR_START_S = 0.1
"""For about so long a starting motor draws its stalled current (common practice)."""


def started(points: Mapping[str, OperatingPoint], cold_lamps: bool = True
            ) -> dict[str, OperatingPoint]:
    """Return condition -> the point in the first moment, relays and fuses as `points` have them.

    Without `cold_lamps` only the motors start: what a fuse sees, which is too slow for a filament's
    few milliseconds.
    """
    if not points:
        return {}
    groups: dict[int, list[str]] = {}
    for name, point in points.items():
        groups.setdefault(id(point.network.circuit), []).append(name)
    found: dict[str, OperatingPoint] = {}
    for names in groups.values():
        circuit = points[names[0]].network.circuit
        cold = _cold(circuit, cold_lamps)
        networks = []
        for name in names:
            network = points[name].network
            laws = {k: v for k, v in network.laws.items()
                    if not isinstance(circuit.elements[circuit.element_index[k]].law, Motor)}
            networks.append(replace(network, circuit=cold, laws=laws))
        solved = solve_many(networks, [points[name].state for name in names], open_fuses=False)
        found.update(zip(names, solved, strict=True))
    return {name: found[name] for name in points if not found[name].failure}


def _cold(circuit: Circuit, cold_lamps: bool) -> Circuit:
    laws: dict[str, Law] = {}
    for element in circuit.elements:
        law = element.law
        if isinstance(law, Motor):
            laws[element.id] = Resistance(law.winding_ohm)
        elif isinstance(law, Filament) and cold_lamps:
            laws[element.id] = Resistance(law.rated_v / law.rated_a * FILAMENT_COLD_SHARE)
    return circuit.with_changes(laws)


def largest(points: Mapping[str, OperatingPoint], elements: Sequence[str]
            ) -> dict[str, tuple[float, str]]:
    """Return element id -> (largest current, condition) over several points."""
    found: dict[str, tuple[float, str]] = {}
    for name, point in points.items():
        for element in elements:
            current_a = abs(point.current_a(element))
            if element not in found or current_a > found[element][0]:
                found[element] = (current_a, name)
    return found
