"""Two batteries joined by a switch, or for good.

What
    The plus poles of two batteries (the minus poles with positive earth) are joined by wires and
    fuses alone, or through a hand switch. A relay or diode between them is split charging and is
    fine.

Why
    The fuller battery pours into the emptier one, limited by the wire only, and the emptier one
    drags the other down over night. Batteries in parallel on purpose (big diesels) are accepted
    with `accept batteries-joined G2 "reason"`.

Wrong
    battery G1 "Starter battery"
    second-battery G2 "Living battery"
    earth E1 "Body stud"
    strip-fuse F1 "At G1"  50 A
    strip-fuse F2 "At G2"  50 A
    toggle-switch S1 "Join batteries"
    wire G1.- -> E1  25 mm2 BK
    wire G2.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  10 mm2 RD
    wire F1.2 -> S1.1  10 mm2 RD
    wire S1.2 -> F2.2  10 mm2 RD
    wire F2.1 -> G2.+  10 mm2 RD

Right
    battery G1 "Starter battery"
    second-battery G2 "Living battery"
    earth E1 "Body stud"
    strip-fuse F1 "At G1"  50 A
    strip-fuse F2 "At G2"  50 A
    blade-fuse F3 "Split charge control"  5 A
    toggle-switch S1 "Join batteries"
    split-charge-relay K1 "Split charge"
    wire G1.- -> E1  25 mm2 BK
    wire G2.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  10 mm2 RD
    wire F1.2 -> K1.30  10 mm2 RD
    wire K1.87 -> F2.2  10 mm2 RD
    wire F2.1 -> G2.+  10 mm2 RD
    wire G1.+ -> F3.1  1 mm2 RD
    wire F3.2 -> S1.1  1 mm2 RD
    wire S1.2 -> K1.86  1 mm2 BU
    wire K1.85 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.nets import Link
from harnessdsl.rules.analysis.supply import is_protection
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("batteries-joined", Severity.WARNING)
def batteries_joined(context: RuleContext) -> Iterator[Diagnostic]:
    parts = context.vehicle.parts
    poles = [pole for pole in context.supply.live_poles
             if parts[pole.part].family != "alternator"]
    for index, first in enumerate(poles):
        for second in poles[index + 1:]:
            links = _joined(context, first.net, second.net)
            if links is None:
                continue
            switches = [link for link in links if link.edge.type == "contact"]
            by = (f"through the switch {part_words(parts[switches[0].edge.part])}" if switches
                  else "for good")
            yield Diagnostic(
                Severity.WARNING, "batteries-joined",
                f"{part_words(parts[first.part])} and {part_words(parts[second.part])} are joined "
                f"{by}: {first.node} with {second.node}",
                parts[second.part].name_span,
                "put a split-charge relay or a diode between them",
                (Related("the other battery", parts[first.part].name_span),
                 *(Related("the switch", parts[link.edge.part].name_span)
                   for link in switches[:1])), second.part)


def _joined(context: RuleContext, start: int, goal: int) -> list[Link] | None:
    """Return the links of a way between two nets that no relay and no diode guards, or None."""
    came: dict[int, tuple[int, Link] | None] = {start: None}
    queue = [start]
    for net in queue:
        if net == goal:
            links = []
            while (step := came[net]) is not None:
                links.append(step[1])
                net = step[0]
            return links[::-1]
        if net in context.supply.earth_nets:
            continue
        for link in context.nets.at[net]:
            primitive = link.edge.primitive
            guarded = primitive is not None and any(
                clause.actuator == "coil" for clause in primitive.clauses)
            free = is_protection(link.edge) or (link.edge.type == "contact" and not guarded)
            far = link.other(net)
            if free and far not in came:
                came[far] = (net, link)
                queue.append(far)
    return None
