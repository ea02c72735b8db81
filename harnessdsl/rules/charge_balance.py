"""Loads that take more than the alternator gives.

What
    In every condition with the engine running that may last, the battery should take current. Where
    it gives current instead, the alternator (or dynamo) is at its limit or its line too thin.

Why
    The lights stay bright and nobody notices, until the battery is flat at the end of the drive. At
    idling speed an alternator gives about half of its rating, a dynamo next to nothing, so that
    even a balance that is just met by the figures is not met in town.

Wrong
    battery G1 "Battery"  60 Ah
    earth E1 "Body stud"
    alternator G2 "Alternator" on engine  30 A unfused "as built"
    earth E2 "Engine strap" on engine
    strip-fuse F1 "Heaters"  60 A
    charge-warning-lamp H1 "Charge warning" unfused "fed by the alternator too"
    blade-fuse F2 "Ignition"  5 A
    toggle-switch S2 "Ignition"
    toggle-switch S1 "Heater switch" { contact 1 -> 2 closed-when on max 60 A }
    heater E5 "Cab heater"  520 W
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire E1 -> E2  25 mm2 BN 0.5 m
    wire G2.B+ -> G1.+  10 mm2 RD 0.8 m
    wire G1.+ -> F1.1  10 mm2 RD 0.4 m
    wire F1.2 -> S1.1  10 mm2 RD 0.6 m
    wire S1.2 -> E5.1  10 mm2 GY 0.6 m
    wire E5.2 -> E1  10 mm2 BN 0.4 m
    wire G1.+ -> F2.1  1.5 mm2 RD 0.4 m
    wire F2.2 -> S2.1  0.75 mm2 RD 0.4 m
    wire S2.2 -> H1.1  0.75 mm2 BK 0.4 m
    wire H1.2 -> G2.D+  0.75 mm2 BU 1 m
    condition heating "Heater on" { S1 = on; S2 = on; engine running }

Right
    battery G1 "Battery"  60 Ah
    earth E1 "Body stud"
    alternator G2 "Alternator" on engine  70 A unfused "as built"
    earth E2 "Engine strap" on engine
    strip-fuse F1 "Heaters"  60 A
    charge-warning-lamp H1 "Charge warning" unfused "fed by the alternator too"
    blade-fuse F2 "Ignition"  5 A
    toggle-switch S2 "Ignition"
    toggle-switch S1 "Heater switch" { contact 1 -> 2 closed-when on max 60 A }
    heater E5 "Cab heater"  520 W
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire E1 -> E2  25 mm2 BN 0.5 m
    wire G2.B+ -> G1.+  10 mm2 RD 0.8 m
    wire G1.+ -> F1.1  10 mm2 RD 0.4 m
    wire F1.2 -> S1.1  10 mm2 RD 0.6 m
    wire S1.2 -> E5.1  10 mm2 GY 0.6 m
    wire E5.2 -> E1  10 mm2 BN 0.4 m
    wire G1.+ -> F2.1  1.5 mm2 RD 0.4 m
    wire F2.2 -> S2.1  0.75 mm2 RD 0.4 m
    wire S2.2 -> H1.1  0.75 mm2 BK 0.4 m
    wire H1.2 -> G2.D+  0.75 mm2 BU 1 m
    condition heating "Heater on" { S1 = on; S2 = on; engine running }

Source
    Sum of currents; half the rating at idle: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.battery_life import USABLE_SHARE, capacity_ah
from harnessdsl.electric.elements import Alternator
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import amperes, in_condition, sentence
from harnessdsl.rules.analysis.wording import listed, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

LEAST_A = 0.5


@rule("charge-balance", Severity.WARNING, ELECTRIC)
def charge_balance(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    generators = [e for e in study.elements.values() if e.role == "alternator"]
    if not generators:
        return
    worst: dict[str, tuple[float, str]] = {}
    for name, point in study.steady_points.items():
        if not study.conditions[name].engine_running:
            continue
        for battery, _, _ in study.battery_poles:
            gives_a = study.battery_current_a(point, battery)
            if gives_a > max(LEAST_A, worst.get(battery, (0.0, ""))[0]):
                worst[battery] = (gives_a, name)
    for battery, (gives_a, name) in worst.items():
        part = context.vehicle.parts[battery]
        made = []
        for element in generators:
            most = element.law.limit_a if isinstance(element.law, Alternator) else 0.0
            current_a = study.points[name].current_a(element.id)
            made.append(f"{part_words(context.vehicle.parts[element.part])} gives "
                        f"{amperes(current_a)} of its {amperes(most)}")
        hours = USABLE_SHARE * capacity_ah(part) / gives_a
        yield Diagnostic(
            Severity.WARNING, "charge-balance",
            f"{sentence(in_condition(study, name))} {part_words(part)} gives "
            f"{amperes(gives_a)} although the engine runs: {listed(made)}. After {hours:.2g} hours "
            "like that the engine does not start again", part.name_span,
            "a larger alternator, or less load at the same time", (), battery)
