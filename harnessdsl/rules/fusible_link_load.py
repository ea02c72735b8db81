"""A fusible link that is too long, or works near its limit.

What
    Every fusible link and every wire that is `fusible`: its length, and the current through it in
    conditions that may last, compared with what wire of its area carries for good.

Why
    A link melts where it likes within its length: kept short, it melts where nothing else is near.
    A link that runs hot all the time goes brittle inside its cover and opens one day without a
    fault. Its area is four gauge numbers thinner than the wire that it protects.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    splice J1 "Link end"
    blade-fuse F1 "Heater"  20 A
    toggle-switch S1 "Heater switch"
    heater E5 "Heater"  100 W
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> J1  1 mm2 BK 1.2 m fusible
    wire J1 -> F1.1  2.5 mm2 RD 0.4 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.6 m
    wire S1.2 -> E5.1  2.5 mm2 GY 0.6 m
    wire E5.2 -> E1  2.5 mm2 BN 0.4 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    splice J1 "Link end"
    blade-fuse F1 "Heater"  20 A
    toggle-switch S1 "Heater switch"
    heater E5 "Heater"  100 W
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> J1  1 mm2 BK 0.15 m fusible
    wire J1 -> F1.1  2.5 mm2 RD 0.4 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.6 m
    wire S1.2 -> E5.1  2.5 mm2 GY 0.6 m
    wire E5.2 -> E1  2.5 mm2 BN 0.4 m

Source
    About 6 inches, never over 9 inches (0.23 m); four gauge numbers: link tables of wiring
    suppliers. Continuous currents: DIN VDE 0298-4.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.heating import table_current_a
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import amperes, in_condition
from harnessdsl.rules.analysis.wording import part_words, wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule
from harnessdsl.text import Span

LONGEST_M = 0.23


@rule("fusible-link-load", Severity.WARNING, ELECTRIC)
def fusible_link_load(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    for wire in context.vehicle.wires.values():
        if not wire.fusible:
            continue
        if wire.length_m is not None and wire.length_m > LONGEST_M:
            yield Diagnostic(
                Severity.WARNING, "fusible-link-load",
                f"fusible {wire_words(wire)} is {wire.length_m:g} m long; {LONGEST_M} m is the "
                "most, so that it melts where nothing else is near",
                wire.length_span if wire.length_span.line else wire.span,
                "about 0.15 m of link, ordinary wire from there", (), wire.name)
        if wire.area_mm2:
            yield from _load(study, wire.name, wire.name, wire.area_mm2,
                             f"fusible {wire_words(wire)}", wire.span)
    for element in study.elements.values():
        if element.role != "link":
            continue
        part = context.vehicle.parts[element.part]
        area = part.figures.get(("", "area"))
        if area is not None:
            yield from _load(study, element.id, part.name, area.value,
                             f"fusible link {part_words(part)}", part.name_span)


def _load(study: Study, element: str, subject: str, area_mm2: float, what: str, span: Span
          ) -> Iterator[Diagnostic]:
    peak = study.steady_peaks.get(element)
    most = table_current_a(area_mm2)
    if peak is not None and peak.current_a > most:
        yield Diagnostic(
            Severity.WARNING, "fusible-link-load",
            f"{what} carries {amperes(peak.current_a)} {in_condition(study, peak.condition)}; "
            f"{area_mm2:g} mm2 carries {amperes(most)} for good, and a link in its cover less",
            span, "a thicker link with thicker wire behind it, or a bolted fuse", (), subject)
