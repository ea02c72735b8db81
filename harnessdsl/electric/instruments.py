"""What an instrument shows between two points: the circuit is solved again with it connected.

A digital meter has 10 megohm and shows the full voltage behind a corroded joint; a test lamp draws
current, and stays dark there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from harnessdsl.electric.circuit import Start
from harnessdsl.electric.elements import METER_OHM, Element, Filament, Law, Resistance
from harnessdsl.electric.operating_point import OperatingPoint, solve

Instrument = Literal["meter", "lamp"]

TEST_LAMP_W = 5.0
"""A test lamp has 2 to 5 W (common practice); the upper end finds bad joints better."""
LIT_SHARE, DIM_SHARE = 0.6, 0.05
"""Power shares at which a test lamp looks bright, and at which it can still be seen to glow."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What the instrument shows. `shows` is for a lamp: bright, dim or dark."""

    instrument: str
    voltage_v: float
    """From the first point (red lead) to the second (black lead)."""
    current_a: float
    shows: str
    point: OperatingPoint
    """The circuit with the instrument in it."""


def measure(point: OperatingPoint, node_a: str, node_b: str | None = None,
            instrument: Instrument = "meter") -> Reading:
    """Return the reading between two nodes (to the reference without `node_b`).

    Relays and fuses begin as `point` left them. Raises KeyError for a node that is not there.
    """
    circuit = point.network.circuit
    node_b = circuit.reference if node_b is None else node_b
    for node in (node_a, node_b):
        if node not in circuit.node_index:
            raise KeyError(node)
    rated_v = lamp_voltage_v(point)
    law: Law = Resistance(METER_OHM)
    if instrument == "lamp":
        law = Filament(TEST_LAMP_W / rated_v, rated_v)
    name = "the instrument"
    while name in circuit.element_index:
        name += "'"
    if node_a == node_b:
        return Reading(instrument, 0.0, 0.0, "dark" if instrument == "lamp" else "", point)
    probed = circuit.with_changes({}, [Element(name, node_a, node_b, law, "instrument")])
    network = replace(point.network, circuit=probed)
    found = solve(network, Start(point.energised, point.network.hot, point.opened))
    volts = found.voltage_v(node_a) - found.voltage_v(node_b)
    amperes = found.current_a(name)
    shows = ""
    if instrument == "lamp":
        share = volts * amperes / TEST_LAMP_W
        shows = "bright" if share >= LIT_SHARE else "dim" if share >= DIM_SHARE else "dark"
    return Reading(instrument, volts, amperes, shows, found)


def lamp_voltage_v(point: OperatingPoint) -> float:
    """Return the voltage of the test lamp for this circuit: 6, 12, 24 or 48 V."""
    highest = max((abs(v) for v in point.volts.tolist()), default=12.0)
    return next((v for v in (6.0, 12.0, 24.0) if highest < 1.4 * v), 48.0)
