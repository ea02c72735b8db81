"""A drain that empties the battery of the parked vehicle.

What
    With the key out and every switch at rest the current that the battery gives is compared with 50
    mA, or with the battery's own figure: `battery G1 60 Ah quiescent 80 mA`. The message names what
    draws it, and the days until the engine does not start: when 40 % of the capacity is gone.

Why
    A clock and a radio's memory take some milliamperes, and the battery lasts for months. A lamp
    that stays on behind a panel, a relay that never lets go or a module wired to a permanent supply
    empties it in a week. An old battery has less than is written on it, and frost takes more.

Wrong
    battery G1 "Battery"  60 Ah
    earth E1 "Body stud"
    blade-fuse F1 "Radio"  10 A
    load E5 "Amplifier"  150 mA always-live
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  2.5 mm2 RD 0.4 m
    wire F1.2 -> E5.1  1 mm2 RD 0.8 m
    wire E5.2 -> E1  1 mm2 BN 0.8 m

Right
    battery G1 "Battery"  60 Ah
    earth E1 "Body stud"
    blade-fuse F1 "Radio"  10 A
    load E5 "Clock"  8 mA always-live
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  2.5 mm2 RD 0.4 m
    wire F1.2 -> E5.1  1 mm2 RD 0.8 m
    wire E5.2 -> E1  1 mm2 BN 0.8 m

Source
    50 mA: common practice (others: below 35 mA, above 100 mA surely a fault). No start after about
    40 % of the capacity: a maker's bulletin.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.electric.battery_life import Drain, drains
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import amperes
from harnessdsl.rules.analysis.wording import listed, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

SOON_DAYS = 10.0


@rule("key-off-drain", Severity.ERROR, ELECTRIC)
def key_off_drain(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    if study.rest is None:
        return
    for drain in drains(study, study.rest):
        if drain.current_a > drain.limit_a:
            yield _finding(context, drain)


def _finding(context: RuleContext, drain: Drain) -> Diagnostic:
    parts = context.vehicle.parts
    battery = parts[drain.battery]
    takers = [f"{part_words(parts[c.part])} {amperes(c.current_a)}" for c in drain.consumers]
    days = drain.days
    lasts = (f"after {days:.0f} days" if days >= 1.5 else f"after {days * 24:.0f} hours")
    culprit = parts[drain.consumers[0].part] if drain.consumers else battery
    return Diagnostic(
        Severity.ERROR if days < SOON_DAYS else Severity.WARNING, "key-off-drain",
        f"parked with the key out, {amperes(drain.current_a)} flow out of {part_words(battery)} "
        f"({drain.capacity_ah:g} Ah), and {amperes(drain.limit_a)} is the most: the engine does "
        f"not start {lasts}. It goes into {listed(takers, 3)}",
        culprit.name_span, "feed it from a switched terminal, or find why it never switches off",
        (Related("the battery", battery.name_span),), culprit.name)
