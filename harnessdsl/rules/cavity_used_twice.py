"""Two wires in one cavity of a plug.

What
    Two wires are on the same half of the same cavity.

Why
    A cavity takes one contact with one wire. Usually a cavity's number is wrong; where a maker
    really crimped two wires into one contact, write a splice before the plug or accept it.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    connector X1 "Lamp plug"  2 way
    lamp E5 "Work lamp"
    lamp E6 "Work lamp"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> X1.1 -> E5.1  1 mm2 GY
    wire X1.b.1 -> E6.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN
    wire E6.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    connector X1 "Lamp plug"  2 way
    splice J1 "Lamp feed"
    lamp E5 "Work lamp"
    lamp E6 "Work lamp"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> X1.1 -> J1  1 mm2 GY
    wire J1 -> E5.1  1 mm2 GY
    wire J1 -> E6.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN
    wire E6.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.wording import listed, part_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule
from harnessdsl.text import Span


@rule("cavity-used-twice", Severity.ERROR)
def cavity_used_twice(context: RuleContext) -> Iterator[Diagnostic]:
    wires_at: dict[str, list[Wire]] = {}
    for wire in context.written.wires.values():
        for end in (wire.a, wire.b):
            if end.half:
                wires_at.setdefault(end.node, []).append(wire)
    for part in context.written.parts.values():
        body = part.connector
        if body is None or body.of:
            continue
        for cavity in body.cavities:
            for half in ("a", "b"):
                node = f"{part.name}.{half}.{cavity}"
                wires = wires_at.get(node, [])
                if len(wires) < 2 or (half == "b" and _same_chains(
                        wires, wires_at.get(f"{part.name}.a.{cavity}", []))):
                    continue
                last = wires[-1]
                free = [c for c in body.cavities if f"{part.name}.{half}.{c}" not in context.wired]
                yield Diagnostic(
                    Severity.ERROR, "cavity-used-twice",
                    f"cavity {cavity} of {part_words(part)} has {len(wires)} wires on half {half}: "
                    + listed([wire_words(wire) for wire in wires], 3),
                    _end_span(last, node),
                    (f"free cavities on that half: {', '.join(free[:12])}; " if free else "")
                    + "or join the wires in a splice before the plug",
                    tuple(Related("also here", _end_span(wire, node)) for wire in wires[:-1]),
                    part.name)


def _same_chains(wires: list[Wire], others: list[Wire]) -> bool:
    """Say whether the wires are those of the other half going on: named there already."""
    return all(w.chain for w in wires) and [w.chain for w in wires] == [w.chain for w in others]


def _end_span(wire: Wire, node: str) -> Span:
    for end in (wire.a, wire.b):
        if end.node == node and end.span.line:
            return end.span
    return wire.span
