"""Supply joined to earth without a load between.

What
    In some position of the switches, with the relays following, a way leads from a battery or
    generator to earth through wires, plugs, fuses, contacts and diodes only.

Why
    The fuse blows when the switch gets there; where there is none, the wire burns.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire S1.2 -> E1  1 mm2 BN
    wire E5.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Source
    Ohm's law; common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.model.kind import Side
from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.shorts import shorts
from harnessdsl.rules.analysis.supply import Entry
from harnessdsl.rules.analysis.tracing import nodes_of, route, route_start, wires_of
from harnessdsl.rules.analysis.wording import (
    route_related,
    route_words,
    wire_words,
)
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

_EARTH_NAMES = ("31", "-", "B-", "D-", "earth")


def _is_earth_side(context: RuleContext, node: str) -> bool:
    """Say whether a node is meant to be earth: metal, an earth point, a part's earth terminal."""
    if node.startswith("@"):
        return True
    part = context.vehicle.parts.get(context.topology.part_of.get(node, ""))
    if part is None or part.connector is not None:
        return False
    if part.family == "earth":
        return True
    terminal = part.kind.terminal(node.partition(".")[2])
    if terminal is None or part.family == "battery":
        return terminal is not None and terminal.name == "-"
    if terminal.role == "earth" or terminal.case or terminal.name in _EARTH_NAMES:
        return True
    works = [p for p in part.kind.primitives if terminal.name in (p.a, p.b)]
    return (terminal.side is Side.LOWER and bool(works)
            and all(p.type not in ("contact", "fuse", "breaker", "link", "joint") for p in works))


def _guilty(context: RuleContext, edges: Sequence[Edge], end: str) -> Wire | None:
    """Return the wire that joins what is meant to be live with what is meant to be earth: the
    first one on the way whose far end is on the earth side, else the last one."""
    nodes = nodes_of(edges, route_start(edges, end))
    wires = wires_of(edges)
    for edge, far in zip(edges, nodes[1:], strict=True):
        if _is_earth_side(context, far):
            if edge.wire is not None:
                return edge.wire
            before = [w for w in wires_of(edges[: edges.index(edge)])]
            return before[-1] if before else None
    return wires[-1] if wires else None


@rule("direct-short", Severity.ERROR)
def direct_short(context: RuleContext) -> Iterator[Diagnostic]:
    named: set[str] = set()
    for entry in context.once(shorts):
        edges, end = _to_first_metal(route(context, entry, _earth_node(context, entry)),
                                     _earth_node(context, entry))
        wire = _guilty(context, edges, end)
        key = wire.name if wire is not None else end
        if key not in named:
            named.add(key)
            yield _finding(context, entry, edges, end, wire)


def _earth_node(context: RuleContext, entry: Entry) -> str:
    """Return a node of the earth net to lead the route to: metal, an earth point or a pole."""
    members = context.nets.members[entry.net]
    metal = [node for node in members if node.startswith("@")]
    points = [node for node in members
              if (part := context.vehicle.parts.get(context.topology.part_of[node])) is not None
              and part.family == "earth"]
    poles = [pole.node for pole in context.supply.return_poles if pole.net == entry.net]
    return (metal or points or poles or list(members))[0]


def _to_first_metal(edges: list[Edge], end: str) -> tuple[list[Edge], str]:
    """Return the route cut off where it first meets metal, and its end."""
    nodes = nodes_of(edges, route_start(edges, end))
    cut = next((i for i, node in enumerate(nodes) if node.startswith("@")), len(nodes) - 1)
    return edges[:cut], nodes[cut]


def _finding(context: RuleContext, entry: Entry, edges: Sequence[Edge], end: str,
             wire: Wire | None) -> Diagnostic:
    when = context.states.describe(entry.condition)
    way = route_words(context, edges, end)
    message = "short: " + (f"with {when} " if when else "") + (
        f"the supply is joined to earth without a load: {way}")
    span, subject = context.vehicle.span, ""
    if wire is not None:
        message += f"; see {wire_words(wire)}"
        span, subject = wire.span, wire.name
    else:
        part = context.vehicle.parts.get(edges[-1].part if edges else "")
        if part is not None:
            span, subject = part.name_span, part.name
    return Diagnostic(
        Severity.ERROR, "direct-short", message, span,
        "let this wire end where it belongs: at the load, or at the fuse" if wire is not None
        else None,
        route_related([e for e in edges if e.wire is not wire], "on the way"), subject)
