"""What is joined within parts, so that wires on both sides of it belong to one net."""

from __future__ import annotations

from harnessdsl.model.vehicle import Vehicle


def joins_within_parts(vehicle: Vehicle) -> list[tuple[str, str]]:
    """Return pairs of nodes: the two halves of each cavity of a plug, and the ends of each joint
    in a part."""
    joined = [
        (f"{part.name}.a.{cavity}", f"{part.name}.b.{cavity}")
        for part in vehicle.parts.values()
        if part.connector is not None
        for cavity in part.connector.cavities
    ]
    joined += [
        (f"{part.name}.{primitive.a}", f"{part.name}.{primitive.b}")
        for part in vehicle.parts.values()
        for primitive in part.kind.primitives
        if primitive.type == "joint"
    ]
    return joined
