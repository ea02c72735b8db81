"""Everything that does work, with the nets at its two ends."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from harnessdsl.model.kind import LOAD_TYPES, Primitive
from harnessdsl.model.topology import Topology, terminal_node
from harnessdsl.model.vehicle import Part, Vehicle
from harnessdsl.rules.analysis.nets import Nets

_EARTH_TERMINALS = ("31", "-", "31b")
_SOCKET_FAMILIES = ("load", "socket")
_NO_SUPPLY_TYPES = frozenset({"speaker"})
_NO_SUPPLY_FAMILIES = frozenset({"antenna", "speaker", "alternator", "battery"})


@dataclass(frozen=True, slots=True)
class Load:
    """A load, coil or outlet between two nets."""

    part: Part
    a: int
    b: int
    node_a: str
    node_b: str
    primitive: Primitive | None
    """None for an outlet: a socket into which a load is plugged."""

    @property
    def type(self) -> str:
        return "outlet" if self.primitive is None else self.primitive.type

    def node(self, net: int) -> str:
        return self.node_a if net == self.a else self.node_b


def find_loads(vehicle: Vehicle, topology: Topology, nets: Nets, wired: frozenset[str]
               ) -> Iterator[Load]:
    """Yield all loads in the order of the file; `wired` holds the nodes with a wire on them."""
    for part in vehicle.parts.values():
        if part.family in _NO_SUPPLY_FAMILIES or part.connector is not None:
            continue
        for primitive in part.kind.primitives:
            if (primitive.type not in LOAD_TYPES and primitive.type != "coil") or (
                    primitive.type in _NO_SUPPLY_TYPES):
                continue
            if part.family == "ignition" and "4" in (primitive.a, primitive.b):
                continue  # high voltage (DIN 72552) comes from the coil, not from the supply
            node_a, node_b = (terminal_node(part.name, end) for end in (primitive.a, primitive.b))
            yield Load(part, nets.of[node_a], nets.of[node_b], node_a, node_b, primitive)
        if not part.kind.primitives and part.family in _SOCKET_FAMILIES:
            yield from _outlets(part, nets, wired)


def _outlets(part: Part, nets: Nets, wired: frozenset[str]) -> Iterator[Load]:
    terminals = part.kind.terminals
    back = next((name for name in _EARTH_TERMINALS if name in terminals), None)
    if back is None:
        return
    node_b = terminal_node(part.name, back)
    for name in terminals:
        node_a = terminal_node(part.name, name)
        if name != back and node_a in wired:
            yield Load(part, nets.of[node_a], nets.of[node_b], node_a, node_b, None)


def power_w(primitive: Primitive, nominal_v: float) -> float | None:
    """Return the power of a load in watts from its figures, or None when it has none."""
    power = primitive.figure("power")
    if power is not None:
        return power
    current = primitive.figure("current")
    if current is not None:
        return current * nominal_v
    resistance = primitive.figure("resistance")
    if resistance:
        return nominal_v**2 / resistance
    return None
