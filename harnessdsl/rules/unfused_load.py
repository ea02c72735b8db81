"""A load that the supply reaches without any fuse.

What
    From every battery and generator, through every contact that can close, the way to a load, a
    relay coil, a control module or a socket passes no fuse, circuit breaker or fusible link.

Why
    A chafed wire on that way is fed by the whole battery: hundreds of amperes, and the insulation
    of everything in the same loom burns before anything opens. Where the maker left a load without
    a fuse on purpose (the starter cable, often the ignition), say so: `unfused "reason"` on the
    part, or `accept unfused-load PART "reason"`.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Work lamp"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Source
    Common practice in vehicle wiring: every circuit but the starter's has its overcurrent
    protection near the source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.blame import free_of_shorts
from harnessdsl.rules.analysis.tracing import wires_of
from harnessdsl.rules.analysis.unfused import Unfused, unfused
from harnessdsl.rules.analysis.wording import listed, part_words, route_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

_MANY = 4
"""From so many loads on, one message about the wire says more than one about each load."""


@rule("unfused-load", Severity.ERROR)
def unfused_load(context: RuleContext) -> Iterator[Diagnostic]:
    context = context.once(free_of_shorts)
    groups: dict[str, list[Unfused]] = {}
    for each in context.once(unfused):
        groups.setdefault(each.wire.name if each.wire is not None else "", []).append(each)
    for members in groups.values():
        wire = members[0].wire
        if wire is not None and len(members) >= _MANY:
            parts = [each.load.part for each in members]
            yield Diagnostic(
                Severity.ERROR, "unfused-load",
                f"{wire_words(wire)} brings supply past the fuse to {len(parts)} loads: "
                + listed([part.name for part in parts]),
                wire.span, "take it from the fuse's other terminal",
                tuple(Related(f"fed without a fuse: {part.name}", part.name_span)
                      for part in parts[:6]), wire.name)
            continue
        for each in members:
            yield _finding(context, each)


def _finding(context: RuleContext, each: Unfused) -> Diagnostic:
    part, wire = each.load.part, each.wire
    way = route_words(context, each.edges, each.end)
    message = f"no fuse between the supply and {part_words(part)}: {way}"
    if wire is not None:
        return Diagnostic(
            Severity.ERROR, "unfused-load", message + f"; {wire_words(wire)} passes the fuse by",
            wire.span, "take the feed from the fuse's other terminal",
            (Related("the load", part.name_span),), part.name)
    return Diagnostic(
        Severity.ERROR, "unfused-load", message, part.name_span,
        f"put a fuse near the battery, or write on '{part.name}': unfused \"why not\"",
        tuple(Related("the feed", w.span) for w in wires_of(each.edges)[:1]), part.name)
