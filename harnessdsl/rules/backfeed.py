"""Two supplies joined behind their fuses or switches.

What
    Current can run the wrong way into a supply line that should be dead, or two supply lines are
    one without meaning to:

    - the outputs of two fuses are joined;
    - a wire joins the outputs of two switches or relays, each with loads of its own;
    - in some position a closed contact or a fuse is fed from behind, and loads on its other side
      come on that should be off;
    - a load lies between two supplies and has no way to earth of its own.

    A diode between the two ends the finding. So does a relay between two batteries, which is how
    split charging is done. A tell-tale lamp between the two sides of the turn lamps is no fault.

Why
    Pulling the fuse or turning the key no longer makes the circuit dead, the wire is protected by
    the sum of two fuses, and things run that nobody switched on.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    blade-fuse F2 "Horn"  15 A
    toggle-switch S1 "Light switch"
    push-switch S2 "Horn push"
    lamp E5 "Work lamp"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire G1.+ -> F2.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire F2.2 -> S2.1  1.5 mm2 RD/BK
    wire F1.2 -> F2.2  1.5 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire S2.2 -> H1.+  1.5 mm2 BK/YE
    wire E5.2 -> E1  1 mm2 BN
    wire H1.- -> E1  1.5 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    blade-fuse F2 "Horn"  15 A
    toggle-switch S1 "Light switch"
    push-switch S2 "Horn push"
    lamp E5 "Work lamp"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire G1.+ -> F2.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire F2.2 -> S2.1  1.5 mm2 RD/BK
    wire S1.2 -> E5.1  1 mm2 GY
    wire S2.2 -> H1.+  1.5 mm2 BK/YE
    wire E5.2 -> E1  1 mm2 BN
    wire H1.- -> E1  1.5 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.blame import blamed_joins, free_of_bypasses
from harnessdsl.rules.analysis.joins import Join, Way
from harnessdsl.rules.analysis.wording import listed, part_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule
from harnessdsl.text import Span


@rule("backfeed", Severity.ERROR)
def backfeed(context: RuleContext) -> Iterator[Diagnostic]:
    found, _ = context.once(blamed_joins)
    for join, wire in found:
        yield _finding(context, join, wire)


def _finding(context: RuleContext, join: Join, wire: Wire | None) -> Diagnostic:
    parts = context.vehicle.parts
    first = part_words(parts[join.first])
    second = part_words(parts[join.second]) if join.second else ""
    severity, hint = Severity.ERROR, "take the joining wire out, or put a diode there"
    related = [Related("the one", parts[join.first].name_span)]
    if join.second:
        related.append(Related("the other", parts[join.second].name_span))
    if join.way is Way.FUSES:
        message = (f"the outputs of {first} and {second} are joined: each feeds the other's loads "
                   "when it is pulled or its supply is off")
    elif join.way is Way.SWITCHES:
        severity = Severity.WARNING
        message = (f"what {first} switches is joined with what {second} switches: each turns on "
                   "the other's loads")
    elif join.way is Way.LOAD:
        assert join.load is not None
        message = (f"{first} lies between two supplies and has no way to earth: "
                   f"{join.load.node_a} and {join.load.node_b} are both fed, so one feeds the "
                   "other through it")
        hint = "earth one side of it, or put a diode in series"
    else:
        when = context.once(free_of_bypasses).states.describe(join.condition)
        message = ((f"with {when} " if when else "at rest ")
                   + f"current runs backwards through {first}, fed by {second}, and turns on "
                   + listed(join.victims))
        hint = "put a diode into the feed, or separate the two"
    span: Span = parts[join.second or join.first].name_span
    subject = join.second or join.first
    if wire is not None and join.way is not Way.LOAD:
        message += f"; {wire_words(wire)} joins them"
    if wire is not None:
        span, subject = wire.span, join.first if join.way is Way.LOAD else wire.name
    return Diagnostic(severity, "backfeed", message, span, hint, tuple(related), subject)
