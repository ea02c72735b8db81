"""What is live, and how much flows.

    from harnessdsl.electric import build_network, solve, matrix, solve_sequence, measure, netlist

    network = build_network(vehicle, condition, ambient_c=20.0)   # condition None: all at rest
    point = solve(network)                       # or solve(network, point_before.state)
    point.voltage_v("K2.30"); point.current_a("W31"); point.current_a(element_id(edge))
    point.loads; point.relays; point.fuses; point.opened; point.floating_nodes
    point.warnings(); point.other_states(); point.failure; point.residual_a
    measure(point, "K2.87", "@body", "lamp").shows          # bright, dim, dark
    matrix(vehicle)                              # condition name -> point, from rest
    solve_sequence(vehicle, ["cruising", "parked"])         # relays and blown fuses carry over
    netlist(point)                               # for ngspice, in the found state

Voltages are in volts against the reference (the body, else the battery's earth pole), with the sign
that a meter with its black lead there would show; currents in amperes from a to b of the element as
the file writes it. Element ids: a wire's own name; `F7:fuse:1-2`, `K2:coil:86-85`,
`X5:plug:1`, `E2:bond` for the rest (`element_id`).

Names are imported when first used, so that importing this package costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from harnessdsl.electric.assembly import assemble, element_id, reference_node
    from harnessdsl.electric.circuit import Circuit, CircuitError, Network, Start
    from harnessdsl.electric.conditions import build_network, circuit_of
    from harnessdsl.electric.instruments import Reading, measure
    from harnessdsl.electric.operating_point import (
        FuseState,
        LoadState,
        OperatingPoint,
        RelayState,
        matrix,
        solve,
        solve_many,
        solve_sequence,
    )
    from harnessdsl.electric.spice import netlist

_HOME = {
    "assemble": "assembly", "element_id": "assembly", "reference_node": "assembly",
    "Circuit": "circuit", "CircuitError": "circuit", "Network": "circuit", "Start": "circuit",
    "build_network": "conditions", "circuit_of": "conditions",
    "Reading": "instruments", "measure": "instruments",
    "FuseState": "operating_point", "LoadState": "operating_point",
    "OperatingPoint": "operating_point", "RelayState": "operating_point",
    "matrix": "operating_point", "solve": "operating_point", "solve_many": "operating_point",
    "solve_sequence": "operating_point", "netlist": "spice",
}

__all__ = [
    "Circuit", "CircuitError", "FuseState", "LoadState", "Network", "OperatingPoint", "Reading",
    "RelayState", "Start", "assemble", "build_network", "circuit_of", "element_id", "matrix",
    "measure", "netlist", "reference_node", "solve", "solve_many", "solve_sequence",
]


def __getattr__(name: str) -> Any:
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{home}"), name)
