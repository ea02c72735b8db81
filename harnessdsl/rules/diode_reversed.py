"""A diode the wrong way round.

What
    A diode across a coil whose cathode is not on the plus side of the coil; and a diode in a feed
    or return that can never let current through, while turned round it would.

Why
    Across a coil a reversed diode is a short: the fuse blows or the diode bursts when the relay is
    switched. In a feed it is an open circuit.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Horn"  15 A
    push-switch S1 "Horn push"
    relay K1 "Horn relay"
    diode V1 "Across the coil"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> K1.30  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> K1.86  1 mm2 BU
    wire K1.85 -> E1  1 mm2 BN
    wire K1.86 -> V1.A  1 mm2 BU
    wire K1.85 -> V1.K  1 mm2 BN
    wire K1.87 -> H1.+  1.5 mm2 BK
    wire H1.- -> E1  1.5 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Horn"  15 A
    push-switch S1 "Horn push"
    relay K1 "Horn relay"
    diode V1 "Across the coil"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> K1.30  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> K1.86  1 mm2 BU
    wire K1.85 -> E1  1 mm2 BN
    wire K1.86 -> V1.K  1 mm2 BU
    wire K1.85 -> V1.A  1 mm2 BN
    wire K1.87 -> H1.+  1.5 mm2 BK
    wire H1.- -> E1  1.5 mm2 BN

Source
    Relay catalogues: the diode's cathode is at 86, which makes 86 strictly plus (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.coils import Coil, coils, plus_side
from harnessdsl.rules.analysis.diodes import reversed_diodes
from harnessdsl.rules.analysis.nets import Link
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("diode-reversed", Severity.ERROR)
def diode_reversed(context: RuleContext) -> Iterator[Diagnostic]:
    for coil in context.once(coils):
        yield from _across(context, coil)
    for link in context.once(reversed_diodes):
        part = context.vehicle.parts[link.edge.part]
        yield Diagnostic(
            Severity.ERROR, "diode-reversed",
            f"the diode {part_words(part)} is the wrong way round: its cathode {link.edge.b} is on "
            f"the side that the current comes from",
            part.name_span, f"swap the wires at {link.edge.a} and {link.edge.b}",
            tuple(Related("its wire", wire.span) for node in (link.edge.a, link.edge.b)
                  for wire in context.wires_at.get(node, ())[:1]), part.name)


def _across(context: RuleContext, coil: Coil) -> Iterator[Diagnostic]:
    plus = plus_side(context, coil)
    if plus is None:
        return
    for link in coil.suppressors:
        edge = link.edge
        if edge.type != "diode" or link.b == plus or _is_swapped_wiring(coil, link, plus):
            continue
        part = context.vehicle.parts[edge.part]
        inside = edge.part == coil.part.name
        span = part.name_span
        if inside and edge.primitive is not None and edge.primitive.span.path == span.path:
            span = edge.primitive.span
        yield Diagnostic(
            Severity.ERROR, "diode-reversed",
            f"the diode across the coil of {part_words(coil.part)} is the wrong way round: its "
            f"anode {edge.a} is on the coil's plus side, so it shorts the coil",
            span, "the cathode (the ring) belongs on the plus side, usually 86",
            (Related("the relay", coil.part.name_span),), part.name)


def _is_swapped_wiring(coil: Coil, link: Link, plus: int) -> bool:
    """Say whether the diode is right inside the relay and the wires at 85 and 86 are swapped,
    which is named as a misuse of the relay's terminals."""
    edge = link.edge
    return (edge.part == coil.part.name and edge.b.endswith(".86")
            and coil.net("86") is not None and coil.net("86") != plus)
