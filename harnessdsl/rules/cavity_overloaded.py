"""A plug's cavity that carries more than its terminal bears.

What
    The current through each cavity, in conditions that may last, is compared with the plug's own
    `max` when the file gives one, else with what terminals of the size usual for the wire bear:
    14 A up to 1 mm2, 24 A up to 2.5 mm2, 40 A up to 6 mm2, 70 A above.

Why
    A terminal is the thinnest place of a circuit. Overloaded, it heats, its spring loses force, the
    joint gets worse and hotter, and the housing melts: brown cavities are found on the circuit with
    the most current. Old terminals bear less than new ones.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Seat heating"  15 A
    toggle-switch S1 "Seat heating switch"
    seat-heater E5 "Seat heating"  120 W
    connector X5 "Seat plug"  2 way max 6 A
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  4 mm2 RD 0.4 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.6 m
    wire S1.2 -> X5.1 -> E5.1  2.5 mm2 GY 1 m
    wire E5.2 -> X5.b.2 -> E1  2.5 mm2 BN 1 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Seat heating"  15 A
    toggle-switch S1 "Seat heating switch"
    seat-heater E5 "Seat heating"  120 W
    connector X5 "Seat plug"  2 way max 16 A
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  4 mm2 RD 0.4 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.6 m
    wire S1.2 -> X5.1 -> E5.1  2.5 mm2 GY 1 m
    wire E5.2 -> X5.b.2 -> E1  2.5 mm2 BN 1 m

Source
    Common practice, no source: 2.8 mm blades 10 to 20 A, 6.3 mm blades 20 to 40 A. The maker's data
    go first; write them on the plug: max 16 A.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.figures import by_area
from harnessdsl.electric.study import Study
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.amounts import amperes, in_condition
from harnessdsl.rules.analysis.wording import node_words, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

TERMINAL_A = ((1.0, 14.0), (2.5, 24.0), (6.0, 40.0), (float("inf"), 70.0))


@rule("cavity-overloaded", Severity.WARNING, ELECTRIC)
def cavity_overloaded(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    for element in study.elements.values():
        peak = study.steady_peaks.get(element.id)
        if element.role != "plug" or peak is None:
            continue
        part = context.vehicle.parts[element.part]
        own, most = _limit(context, part, element.a, element.b)
        if peak.current_a <= most:
            continue
        made_for = ("the plug is made for" if own else
                    "terminals of the size usual for this wire bear about")
        yield Diagnostic(
            Severity.WARNING, "cavity-overloaded",
            f"cavity {node_words(context, element.a)} of plug {part_words(part)} carries "
            f"{amperes(peak.current_a)} {in_condition(study, peak.condition)}; {made_for} "
            f"{amperes(most)}", part.name_span,
            f"two cavities side by side, a larger terminal, or its own figure: {part.name} ... "
            "max 30 A", (), part.name)


def _limit(context: RuleContext, part: Part, a: str, b: str) -> tuple[bool, float]:
    given = part.figures.get(("max", "current"))
    if given is not None:
        return True, given.value
    areas = [w.area_mm2 for node in (a, b) for w in context.wires_at.get(node, ()) if w.area_mm2]
    return False, by_area(TERMINAL_A, max(areas, default=1.0))
