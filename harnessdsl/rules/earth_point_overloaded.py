"""An earth point that carries more than it is made for, or loses voltage to the metal.

What
    The current that goes to metal at each earth point, in every condition, is compared with the
    point's own `max` when the file gives one, and the voltage between its ring terminals and the
    metal with 0.1 V.

Why
    A poor earth point shifts everything on it: lamps get dim together, gauges read wrong, and
    current looks for another way home through the lamps that share the point. More than 0.1 V
    under load is a bad joint or too much current for it.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Front stud" 15 mohm
    blade-fuse F1 "Fan"  30 A
    toggle-switch S1 "Fan switch" { contact 1 -> 2 closed-when on max 30 A }
    fan-motor M3 "Radiator fan"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.4 m
    wire F1.2 -> S1.1  4 mm2 RD 0.6 m
    wire S1.2 -> M3.+  4 mm2 BK 0.6 m
    wire M3.- -> E2  4 mm2 BN 0.4 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Front stud"
    blade-fuse F1 "Fan"  30 A
    toggle-switch S1 "Fan switch" { contact 1 -> 2 closed-when on max 30 A }
    fan-motor M3 "Radiator fan"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.4 m
    wire F1.2 -> S1.1  4 mm2 RD 0.6 m
    wire S1.2 -> M3.+  4 mm2 BK 0.6 m
    wire M3.- -> E2  4 mm2 BN 0.4 m

Source
    0.1 V across an earth under load: a voltage-drop test described in an automotive encyclopedia.
    Ring terminal on metal 0.1 to 0.5 mohm good, above 5 mohm bad: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import amperes, in_condition, volts
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

MOST_V = 0.1


@rule("earth-point-overloaded", Severity.WARNING, ELECTRIC)
def earth_point_overloaded(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    for element in study.elements.values():
        peak = study.all_peaks.get(element.id)
        part = context.vehicle.parts.get(element.part)
        if element.role != "bond" or part is None or part.family != "earth" or peak is None:
            continue
        given = part.figures.get(("max", "current"))
        lost = abs(study.points[peak.condition].across_v(element.id))
        where = in_condition(study, peak.condition)
        if given is not None and peak.current_a > given.value:
            yield Diagnostic(
                Severity.WARNING, "earth-point-overloaded",
                f"earth point {part_words(part)} carries {amperes(peak.current_a)} {where}; it is "
                f"made for {amperes(given.value)}", part.name_span,
                "move some circuits to another earth point", (), part.name)
        elif lost > MOST_V:
            yield Diagnostic(
                Severity.WARNING, "earth-point-overloaded",
                f"earth point {part_words(part)} is {volts(lost)} off the metal that it sits on "
                f"{where}, at {amperes(peak.current_a)}; 0.1 V is the most", part.name_span,
                "clean it to bright metal, and tighten it", (), part.name)
