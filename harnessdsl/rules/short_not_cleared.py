"""A fuse that does not see a short at the far end of its wires.

What
    A dead short to the body is put at the far end of every wire. What then flows is the battery's
    voltage over the resistance of battery, wires (warm), contacts, fuses and the way back. When the
    fuse's curve lets that current pass for good, or for more than a minute, the fuse does not
    protect the wire.

Why
    A long thin wire limits the current of its own short so much that a fuse rated for a larger load
    never opens: the wire glows along its whole length with the fuse whole. It is the case that
    burns cars. A chafe makes worse contact than a dead short, so that keeping well above the limit
    matters. The maker's data, local codes and licensed practice go before this estimate.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Tail stud"
    blade-fuse F1 "Trailer lamps"  30 A
    toggle-switch S1 "Switch"
    lamp E5 "Trailer lamp"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.4 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.3 m
    wire S1.2 -> E5.1  0.75 mm2 GY 11 m
    wire E5.2 -> E2  0.75 mm2 BN 0.3 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Tail stud"
    blade-fuse F1 "Trailer lamps"  7.5 A
    toggle-switch S1 "Switch"
    lamp E5 "Trailer lamp"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.4 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.3 m
    wire S1.2 -> E5.1  1 mm2 GY 11 m
    wire E5.2 -> E2  1 mm2 BN 0.3 m

Source
    Opening times: ISO 8820-3 for blade fuses, from memory (the longer of two figures where sources
    differ); conductor resistance: ISO 6722. One minute: common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.electric.short_circuits import Danger
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import amperes, celsius, seconds, size_words
from harnessdsl.rules.analysis.wire_limits import RATINGS_A
from harnessdsl.rules.analysis.wording import node_words, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

SLOW_S = 60.0


@rule("short-not-cleared", Severity.ERROR, ELECTRIC)
def short_not_cleared(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    blind: dict[str, list[Danger]] = {}
    for danger in study.shorts.dangers():
        if danger.short.band.longest_s > SLOW_S and danger.short.protection is not None:
            blind.setdefault(danger.short.protection.id, []).append(danger)
    for dangers in blind.values():
        yield _finding(context, dangers)


def _finding(context: RuleContext, dangers: list[Danger]) -> Diagnostic:
    worst = min(dangers, key=lambda d: (d.short.current_a, d.wire.name))
    short, fuse = worst.short, worst.short.protection
    assert fuse is not None
    part = context.vehicle.parts[fuse.part]
    opens = ("never opens" if math.isinf(short.band.longest_s)
             else f"may take {seconds(short.band.longest_s)} to open")
    burns = worst.overshoot > 1
    fate = (f", and wire '{worst.wire.name}' ({size_words(worst.wire)}) glows after "
            f"{seconds(worst.bears_s)}" if burns else
            f"; wire '{worst.wire.name}' ({size_words(worst.wire)}) settles at "
            f"{celsius(worst.steady_c)}")
    fits = max((r for r in RATINGS_A if fuse.curve is not None
                and fuse.curve.band(short.current_a / r).longest_s <= 5.0), default=None)
    hint = "thicker wire, or a fuse of its own where the wire begins"
    if fits is not None:
        hint = f"a fuse of at most {fits:g} A opens within 5 s there; or {hint}"
    return Diagnostic(
        Severity.ERROR if burns else Severity.WARNING, "short-not-cleared",
        f"{fuse.role} {part_words(part)} of {fuse.rated_a:g} A does not see a short at "
        f"{node_words(context, short.node)}: the wire is so long and thin that only "
        f"{amperes(short.current_a)} flow there, {short.current_a / fuse.rated_a:.2g} times the "
        f"rating. The fuse {opens}{fate}",
        part.name_span, hint, (Related("the long way to the short", worst.wire.span),), part.name)
