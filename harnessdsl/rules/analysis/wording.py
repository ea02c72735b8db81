"""How parts, wires and routes are called in messages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from harnessdsl.diagnostics import Related
from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Part, Wire
from harnessdsl.rules.analysis.shared_cavities import MARK
from harnessdsl.rules.analysis.tracing import nodes_of, route_start, wires_of
from harnessdsl.rules.context import RuleContext


def part_words(part: Part) -> str:
    """Return `'K2' (Radiator fan relay)`."""
    return f"'{part.name}' ({part.label})" if part.label else f"'{part.name}'"


def area_words(wire: Wire) -> str:
    """Return the area as written: `4 mm2` or `12 AWG (3.31 mm2)`."""
    if wire.area_mm2 is None:
        return "no area given"
    if wire.area_text and "AWG" in wire.area_text:
        return f"{wire.area_text} ({wire.area_mm2:.3g} mm2)"
    return wire.area_text or f"{wire.area_mm2:g} mm2"


def wire_words(wire: Wire) -> str:
    """Return `wire 'F7.2-K2.30' (RD/YE, 4 mm2)`."""
    look = [text for text in (wire.colour, area_words(wire) if wire.area_mm2 else "") if text]
    return f"wire '{wire.name}'" + (f" ({', '.join(look)})" if look else "")


def node_words(context: RuleContext, node: str) -> str:
    """Return a node as a person writes it: `K2.30`, `X5.1`, `E2`, `the body`."""
    if node.startswith("@"):
        return f"the {node[1:]}"
    part = context.vehicle.parts.get(context.topology.part_of.get(node, ""))
    node = node.partition(MARK)[0] if part is not None and part.connector is not None else node
    if part is not None and part.connector is not None:
        return node.replace(f"{part.name}.a.", f"{part.name}.", 1).replace(
            f"{part.name}.b.", f"{part.name}.", 1)
    return node


def route_words(context: RuleContext, edges: Sequence[Edge], end: str) -> str:
    """Return a route as the row of what it passes: `G1.+ - F7 - K2 - M3.+`. A part that is only
    touched is named with its terminal."""
    part_of = context.topology.part_of
    stations: list[list[str]] = []
    for node in nodes_of(edges, route_start(edges, end)):
        if stations and part_of.get(stations[-1][0]) == part_of.get(node) != "":
            stations[-1].append(node)
        else:
            stations.append([node])
    return " - ".join(
        node_words(context, station[0]) if len(station) == 1 else part_of[station[0]]
        for station in stations)


def route_related(edges: Iterable[Edge], message: str, limit: int = 6) -> tuple[Related, ...]:
    """Return the places in the file of the wires on a route, each line once."""
    spans = list(dict.fromkeys(wire.span for wire in wires_of(edges)))
    return tuple(Related(message, span) for span in spans[:limit])


def listed(names: Sequence[str], limit: int = 4) -> str:
    """Return `A, B, C and 5 more`."""
    if len(names) <= limit + 1:
        return ", ".join(names[:-1]) + " and " + names[-1] if len(names) > 1 else "".join(names)
    return ", ".join(names[:limit]) + f" and {len(names) - limit} more"
