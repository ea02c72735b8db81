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

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.rules.analysis.blame import Short, blamed_shorts
from harnessdsl.rules.analysis.tracing import to_first_metal
from harnessdsl.rules.analysis.wording import route_related, route_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("direct-short", Severity.ERROR)
def direct_short(context: RuleContext) -> Iterator[Diagnostic]:
    found, _ = context.once(blamed_shorts)
    for short in found:
        yield _finding(context, short)


def _finding(context: RuleContext, short: Short) -> Diagnostic:
    edges, end = to_first_metal(short.edges, short.end)
    wire = short.wire
    message = "short: " + (f"with {short.condition_words} " if short.condition_words else "") + (
        f"the supply is joined to earth without a load: {route_words(context, edges, end)}")
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
