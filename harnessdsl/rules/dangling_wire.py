"""A wire that ends in a plug with nothing on the other side.

What
    A wire goes to a cavity of an in-line connector, and no wire is on the other half of that
    cavity. When a whole half has no wires, that is said once. A connector marked `spare` may be
    open.

Why
    The circuit ends there. Either the cavity's number is wrong, or the wire behind the plug is
    still to be written.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    connector X1 "Lamp plug"  2 way
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> X1.1  1 mm2 GY
    wire X1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    connector X1 "Lamp plug"  2 way
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> X1.1  1 mm2 GY
    wire X1.1 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import ConnectorBody, Part, Wire
from harnessdsl.rules.analysis.wording import part_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule
from harnessdsl.text import Span


@rule("dangling-wire", Severity.WARNING)
def dangling_wire(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        body = part.connector
        if body is None or body.of or "spare" in part.flags or (
                part.name not in context.wired_parts):
            continue
        used = {half: [c for c in body.cavities if f"{part.name}.{half}.{c}" in context.wired]
                for half in ("a", "b")}
        bare = [half for half in ("a", "b") if not used[half]]
        if bare:
            yield Diagnostic(
                Severity.WARNING, "dangling-wire",
                f"no wire is on half {bare[0]} of {part_words(part)}, so what comes to the other "
                "half ends there",
                part.name_span, f"write the wires behind it (from {part.name}.{bare[0]}."
                f"{body.cavities[0] if body.cavities else 1}), or mark the plug: spare",
                subject=part.name)
            continue
        yield from _single_cavities(context, part, body, used)


def _single_cavities(context: RuleContext, part: Part, body: ConnectorBody,
                     used: dict[str, list[str]]) -> Iterator[Diagnostic]:
    for half, other in (("a", "b"), ("b", "a")):
        open_there = [c for c in used[other] if c not in used[half]]
        for cavity in used[half]:
            if cavity in used[other]:
                continue
            wire = context.wires_at[f"{part.name}.{half}.{cavity}"][0]
            hint = f"write the wire from {part.name}.{other}.{cavity}"
            if len(open_there) == 1:
                hint = (f"cavity {open_there[0]} has a wire on half {other} only: is one of the "
                        "numbers wrong?")
            yield Diagnostic(
                Severity.WARNING, "dangling-wire",
                f"{wire_words(wire)} ends in cavity {cavity} of {part_words(part)}: no wire is on "
                f"half {other} of that cavity",
                _end_span(wire, part.name, cavity), hint, (Related("the plug", part.name_span),),
                wire.name)


def _end_span(wire: Wire, part: str, cavity: str) -> Span:
    for end in (wire.a, wire.b):
        if end.part == part and end.terminal == cavity and end.span.line:
            return end.span
    return wire.span
