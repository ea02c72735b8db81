"""A fuse that carries more of its rating, for long, than it should.

What
    In every condition that may last, the current through each fuse, breaker and link is compared
    with its rating: above 80 % is a warning, above the rating an error. In conditions that last for
    moments, a current at which the fuse opens in any case is an error.

Why
    A fuse that works near its rating gets hot, ages and opens one day for no reason that anyone
    finds; its holder browns. Three quarters of the rating (at 25 C) is the usual rule, and a hot
    fuse box takes another 5 to 10 %. Do not just fit a larger one: the wire behind has to bear it.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Work lamps"  5 A
    lamp E5 "Work lamp"  62 W
    toggle-switch S1 "Work lamp switch"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  4 mm2 RD 0.3 m
    wire F1.2 -> S1.1  1.5 mm2 RD 0.5 m
    wire S1.2 -> E5.1  1.5 mm2 GY 0.5 m
    wire E5.2 -> E1  1.5 mm2 BN 0.3 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Work lamps"  7.5 A
    lamp E5 "Work lamp"  62 W
    toggle-switch S1 "Work lamp switch"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  4 mm2 RD 0.3 m
    wire F1.2 -> S1.1  1.5 mm2 RD 0.5 m
    wire S1.2 -> E5.1  1.5 mm2 GY 0.5 m
    wire E5.2 -> E1  1.5 mm2 BN 0.3 m

Source
    At most 75 % of the rating for good at 25 C: a fuse maker's guide; 80 %: common practice.
    Opening times: ISO 8820-3, from memory, for blade fuses.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.elements import Element
from harnessdsl.electric.study import Peak, Study
from harnessdsl.rules.analysis.amounts import amperes, in_condition, seconds
from harnessdsl.rules.analysis.wire_limits import RATINGS_A
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

GOOD_SHARE = 0.75
MOST_SHARE = 0.80
_FAULT_SHARE = 3.0
"""Nobody picks a fuse for a third of the load (common practice)."""


@rule("fuse-overloaded", Severity.ERROR, ELECTRIC)
def fuse_overloaded(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    opened = _opened(study)
    for element in study.elements.values():
        if element.role not in ("fuse", "breaker", "link") or not element.rated_a:
            continue
        if element.id in opened:
            yield _finding(context, study, element, *opened[element.id])
            continue
        peak = study.steady_peaks.get(element.id)
        if peak is not None and peak.current_a > MOST_SHARE * element.rated_a:
            yield _finding(context, study, element, peak, "")


def _opened(study: Study) -> dict[str, tuple[Peak, str]]:
    """Return fuses that some condition opens, with the current that did it."""
    from harnessdsl.electric.operating_point import solve

    found: dict[str, tuple[Peak, str]] = {}
    for name, point in study.points.items():
        if not point.bands:
            continue
        whole = solve(point.network, open_fuses=False)
        for fuse, band in point.bands.items():
            current_a = abs(whole.current_a(fuse))
            if fuse not in found or current_a > found[fuse][0].current_a:
                found[fuse] = (Peak(current_a, name), seconds(band.longest_s))
    return found


def _finding(context: RuleContext, study: Study, element: Element, peak: Peak, within: str
             ) -> Diagnostic:
    part = context.vehicle.parts[element.part]
    share = peak.current_a / element.rated_a
    tail = (f": it opens within {within}" if within else
            ", more than it carries for good" if share > 1 else
            "; three quarters is the rule, 80 % the most")
    severity = Severity.ERROR if within or share > 1 else Severity.WARNING
    wanted = next((r for r in RATINGS_A if GOOD_SHARE * r >= peak.current_a), None)
    hint = "share the loads out over more fuses"
    if share > _FAULT_SHARE:
        hint = "no load draws that much: look for a short behind it, and fit no larger fuse"
    elif wanted is not None:
        hint = (f"a fuse of {wanted:g} A, if every wire behind it may be protected with that much; "
                "else share the loads out over two fuses")
    return Diagnostic(
        severity, "fuse-overloaded",
        f"{element.role} {part_words(part)} of {element.rated_a:g} A carries "
        f"{amperes(peak.current_a)} {in_condition(study, peak.condition)}, {share:.0%} of its "
        f"rating{tail}", part.name_span, hint, (), part.name)
