"""A switch or relay contact that carries more than it is made for.

What
    In every condition the current through each contact is compared with the `max` of its kind or
    part: above it is a warning, above one and a half times an error.

Why
    An overloaded contact burns: first it loses voltage, then it welds and the load stays on, or it
    melts the switch. A relay near the load takes the current off a switch. The data sheet's figure
    falls with heat: a relay for 40 A at 23 C carries about 25 to 30 A in a hot engine bay.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Driving lamps"  15 A
    toggle-switch S1 "Driving lamp switch" { contact 1 -> 2 closed-when on max 6 A }
    driving-lamp E5 "Left driving lamp"
    driving-lamp E6 "Right driving lamp"
    splice J1 "Driving lamps"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  4 mm2 RD 0.4 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.8 m
    wire S1.2 -> J1  2.5 mm2 WH 1 m
    wire J1 -> E5.1  1.5 mm2 WH 0.3 m
    wire J1 -> E6.1  1.5 mm2 WH 0.3 m
    wire E5.2 -> E1  1.5 mm2 BN 0.3 m
    wire E6.2 -> E1  1.5 mm2 BN 0.3 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Driving lamps"  15 A
    toggle-switch S1 "Driving lamp switch" { contact 1 -> 2 closed-when on max 16 A }
    driving-lamp E5 "Left driving lamp"
    driving-lamp E6 "Right driving lamp"
    splice J1 "Driving lamps"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  4 mm2 RD 0.4 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.8 m
    wire S1.2 -> J1  2.5 mm2 WH 1 m
    wire J1 -> E5.1  1.5 mm2 WH 0.3 m
    wire J1 -> E6.1  1.5 mm2 WH 0.3 m
    wire E5.2 -> E1  1.5 mm2 BN 0.3 m
    wire E6.2 -> E1  1.5 mm2 BN 0.3 m

Source
    The figure on the part or kind. Fall with heat: data sheets of mini relays (50 A at 23 C, 35 A
    at 85 C for one series).
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.assembly import element_id
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import amperes, in_condition
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

_MUCH = 1.5
TOLERANCE = 1.02


def contact_limits(context: RuleContext) -> dict[str, float]:
    """Return element id -> `max` of every contact that has one, in amperes."""
    found: dict[str, float] = {}
    for edge in context.topology.edges:
        if edge.type == "contact" and edge.primitive is not None:
            most = edge.primitive.figure("current", "max")
            if most:
                found[element_id(edge)] = most
    return found


@rule("contact-overloaded", Severity.ERROR, ELECTRIC)
def contact_overloaded(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    for name, most in contact_limits(context).items():
        peak, element = study.all_peaks.get(name), study.elements[name]
        if peak is None or peak.current_a <= most * TOLERANCE:
            continue
        part = context.vehicle.parts[element.part]
        severity = Severity.ERROR if peak.current_a > _MUCH * most else Severity.WARNING
        yield Diagnostic(
            severity, "contact-overloaded",
            f"contact {element.a} to {element.b} of {part_words(part)} carries "
            f"{amperes(peak.current_a)} {in_condition(study, peak.condition)}; it is made for "
            f"{amperes(most)}", part.name_span,
            "let a relay carry the current, or share it out", (), part.name)
