"""A fuse, switch or load that is bridged: both of its terminals are joined outside.

What
    Wires, plugs and splices join both terminals of a fuse, of a contact or of a load with each
    other. An error for a fuse and for a load, a warning for a switch or relay contact.

Why
    A bridged fuse protects nothing, a bridged switch switches nothing, and a bridged load gets no
    voltage. Often it is a repair at the roadside that stayed.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    blade-fuse F2 "Work lamp"  5 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> F2.1  1 mm2 RD
    wire F2.1 -> F2.2  1 mm2 RD
    wire F2.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    blade-fuse F2 "Work lamp"  5 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> F2.1  1 mm2 RD
    wire F2.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.kind import LOAD_TYPES, PROTECTION_TYPES
from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.blame import culprit
from harnessdsl.rules.analysis.shorts import shorts
from harnessdsl.rules.analysis.tracing import wire_on_net_between
from harnessdsl.rules.analysis.wording import listed, part_words, route_related, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

_EFFECTS = {"fuse": "so it protects nothing", "contact": "so that contact switches nothing",
            "load": "so it gets no voltage"}


def _what(edge: Edge) -> str | None:
    if edge.type in PROTECTION_TYPES:
        return "fuse"
    if edge.type == "contact":
        return "contact"
    return "load" if edge.type in LOAD_TYPES or edge.type == "coil" else None


def bridged(context: RuleContext) -> dict[str, Edge]:
    """Return what is bridged by wires outside, one element for each part."""
    shorted = {entry.net for entry in context.once(shorts)}
    found: dict[str, Edge] = {}
    for link in context.nets.links:
        edge = link.edge
        if link.a != link.b or not edge.part or edge.part in found or edge.a == edge.b:
            continue
        if link.a in shorted or _what(edge) is None:
            continue  # a short is named on its own
        if wire_on_net_between(context, edge.a, edge.b):
            found[edge.part] = edge
    return found


@rule("bypassed-part", Severity.ERROR)
def bypassed_part(context: RuleContext) -> Iterator[Diagnostic]:
    lines: dict[int, list[Edge]] = {}
    for edge in context.once(bridged).values():
        lines.setdefault(context.nets.of[edge.a], []).append(edge)
    for edges in lines.values():
        loads = [edge for edge in edges if _what(edge) == "load"]
        if len(loads) > 1:  # one wire bridges them all: a line joined with its own earth
            yield _finding(context, loads)
            edges = [edge for edge in edges if edge not in loads]
        for edge in edges:
            yield _finding(context, [edge])


def _finding(context: RuleContext, edges: list[Edge]) -> Diagnostic:
    first = edges[0]
    what = _what(first)
    assert what is not None
    between = wire_on_net_between(context, first.a, first.b)
    guilty = _guilty(context, first, between)
    part = context.vehicle.parts[first.part]
    if len(edges) > 1:
        names = [edge.part for edge in edges]
        message = (f"{len(edges)} loads ({listed(names)}) are bridged: their supply and their "
                   f"earth are joined, so they get no voltage; see {wire_words(guilty)}")
        related = tuple(Related("bridged", context.vehicle.parts[name].name_span)
                        for name in names[:6])
    else:
        message = (f"{part_words(part)} is bridged from {first.a} to {first.b} by "
                   + listed([wire_words(wire) for wire in between], 3)
                   + f", {_EFFECTS[what]}")
        related = route_related((e for e in context.topology.edges
                                 if e.wire in between and e.wire is not guilty),
                                "part of the bridge")
    return Diagnostic(
        Severity.WARNING if what == "contact" else Severity.ERROR, "bypassed-part", message,
        guilty.span, "take the bridge out, or move one of its ends", related,
        first.part if len(edges) == 1 else guilty.name)


def _guilty(context: RuleContext, edge: Edge, between: list[Wire]) -> Wire:
    """Return the wire without which the least is bridged and the most works."""
    suspects = sorted(between, key=lambda wire: wire.span, reverse=True)

    def left(trial: RuleContext) -> int | None:
        now = trial.once(bridged)
        return None if edge.part in now else len(now)

    return culprit(context, suspects, left) or suspects[0]
