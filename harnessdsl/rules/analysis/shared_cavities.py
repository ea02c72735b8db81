"""Cavities with two wires in them, taken apart again.

Two chains through one cavity are a slip of the pen, named by a rule of its own. For all other rules
each chain goes on by itself, so that one wrong number does not look like a dozen faults.
"""

from __future__ import annotations

from dataclasses import replace

from harnessdsl.model.vehicle import End, Vehicle, Wire

MARK = "#"
"""Stands between a cavity and the number of the chain in it; no name in a file has it there."""


def taken_apart(vehicle: Vehicle) -> Vehicle:
    """Return `vehicle` with each chain in a cavity of its own; itself where all are."""
    ends: dict[tuple[str, str, str], list[Wire]] = {}
    for wire in vehicle.wires.values():
        for end in (wire.a, wire.b):
            if end.half:
                ends.setdefault((end.part, end.terminal, end.half), []).append(wire)
    moved: dict[tuple[str, str, str, str], str] = {}
    extra: dict[str, list[str]] = {}
    for (part, cavity, half), wires in ends.items():
        if half != "a" or len(wires) < 2:
            continue
        others = ends.get((part, cavity, "b"), [])
        for number, wire in enumerate(wires[1:], start=2):
            mate = next((w for w in others
                         if wire.chain and w.chain == wire.chain and w.span == wire.span), None)
            if mate is not None:
                name = f"{cavity}{MARK}{number}"
                moved[wire.name, part, cavity, "a"] = moved[mate.name, part, cavity, "b"] = name
                extra.setdefault(part, []).append(name)
    if not moved:
        return vehicle

    def settled(wire: Wire, end: End) -> End:
        name = moved.get((wire.name, end.part, end.terminal, end.half))
        return end if name is None else replace(end, terminal=name)

    parts = dict(vehicle.parts)
    for name, cavities in extra.items():
        body = parts[name].connector
        assert body is not None
        parts[name] = replace(parts[name], connector=replace(
            body, cavities=(*body.cavities, *cavities)))
    wires_apart = {name: replace(wire, a=settled(wire, wire.a), b=settled(wire, wire.b))
                   for name, wire in vehicle.wires.items()}
    return replace(vehicle, parts=parts, wires=wires_apart)
