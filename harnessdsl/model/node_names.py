"""What a person calls a point of the wiring -> the node it is."""

from __future__ import annotations

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.model.topology import Topology, metal_node, terminal_node

EARTH_WORDS = ("earth", "ground", "31")


class UnknownPoint(ValueError):
    """No such point; says what there is instead."""


def node_named(topology: Topology, text: str) -> str:
    """Return the node of `K2.87`, `X5.1` (half a), `X5.b.1`, `J3`, `E2`, `body` or `earth`.

    A part with a single terminal may be named alone. Raises UnknownPoint.
    """
    vehicle = topology.vehicle
    if text in topology.part_of:
        return text
    name = text.removeprefix("@")
    if name in vehicle.conductors:
        return metal_node(name)
    if text in EARTH_WORDS and text not in vehicle.parts and vehicle.conductors:
        first = next(iter(vehicle.conductors))
        return metal_node("body" if "body" in vehicle.conductors else first)
    part_name, _, rest = text.partition(".")
    part = vehicle.parts.get(part_name)
    if part is None:
        hint = did_you_mean(part_name, vehicle.parts)
        raise UnknownPoint(f"there is no part '{part_name}'" + (f"; {hint}" if hint else ""))
    if part.connector is not None:
        body = part.connector
        if body.of:
            return node_named(topology, f"{body.of}.{rest}" if rest else body.of)
        half, _, cavity = rest.rpartition(".")
        node = f"{part_name}.{half or 'a'}.{cavity}"
        if node in topology.part_of:
            return node
        raise UnknownPoint(f"which cavity of '{part_name}'? Write {part_name}.1 ... "
                           f"{part_name}.{body.cavities[-1] if body.cavities else '1'}, and "
                           f"{part_name}.b.1 for the other half")
    terminal = part.kind.terminal(rest)
    if terminal is None and not rest and len(part.kind.terminals) == 1:
        terminal = next(iter(part.kind.terminals.values()))
    node = terminal_node(part_name, terminal.name) if terminal is not None else ""
    if not node or node not in topology.part_of:
        choices = ", ".join(terminal_node(part_name, t) for t in list(part.kind.terminals)[:16])
        raise UnknownPoint(f"'{part_name}' has no terminal '{rest}'; it has {choices}" if rest
                           else f"which terminal of '{part_name}'? It has {choices}")
    return node
