"""A wire that gets hotter in use than its insulation bears.

What
    In every condition that may last, the temperature at which each wire settles is worked out from
    its current, its area, the air around it (30 C, in places that are said to be hot 50 C, or as
    the condition says) and the loaded wires in the same run, and compared with what its insulation
    bears for good: 70 C for PVC and where nothing is said, else the class that the file gives. In
    conditions that last for moments the current density is compared with 30 A/mm2.

Why
    A wire that is hot for hours goes hard, cracks and takes its neighbours in the loom along, all
    with the fuse whole. Three quarters of the load make half of the heat, so a little more area
    helps a lot. The figure holds for a single wire in still air as in the standard; the maker's
    data, local codes and licensed practice go first.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Heater"  30 A
    toggle-switch S1 "Heater switch" { contact 1 -> 2 closed-when on max 30 A }
    heater E5 "Heater"  320 W
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  4 mm2 RD 0.4 m
    wire F1.2 -> S1.1  4 mm2 RD 0.5 m
    wire S1.2 -> E5.1  1 mm2 GY 0.5 m
    wire E5.2 -> E1  4 mm2 BN 0.3 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Heater"  30 A
    toggle-switch S1 "Heater switch" { contact 1 -> 2 closed-when on max 30 A }
    heater E5 "Heater"  320 W
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  4 mm2 RD 0.4 m
    wire F1.2 -> S1.1  4 mm2 RD 0.5 m
    wire S1.2 -> E5.1  4 mm2 GY 0.5 m
    wire E5.2 -> E1  4 mm2 BN 0.3 m

Source
    Continuous currents, bundles: DIN VDE 0298-4 (tables 11 and 26); dependence on temperature:
    IEC 60287, from memory; wires below 30 % not counted: IEC 60364-5-52, from memory; 30 A/mm2
    for short times: automotive handbook, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.heating import AREAS_MM2, Insulation, insulation_of, may_carry_a, steady_c
from harnessdsl.electric.study import Study
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.amounts import amperes, celsius, in_condition
from harnessdsl.rules.analysis.surroundings import Bundles, Surroundings
from harnessdsl.rules.analysis.wording import wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

SHORT_TIME_A_PER_MM2 = 30.0
_MUCH_K = 30.0
"""So far above its limit an insulation fails within days, not years (common practice)."""


@rule("wire-runs-hot", Severity.ERROR, ELECTRIC)
def wire_runs_hot(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    bundles = Bundles(context.vehicle)
    said: set[tuple[str, float]] = set()
    for wire in context.vehicle.wires.values():
        if not wire.area_mm2 or (wire.chain and (wire.chain, wire.area_mm2) in said):
            continue
        found = _steady(study, bundles, wire, wire.area_mm2) or _short_time(
            study, wire, wire.area_mm2)
        if found is not None:
            said.add((wire.chain, wire.area_mm2))
            yield found


def _steady(study: Study, bundles: Bundles, wire: Wire, area_mm2: float) -> Diagnostic | None:
    insulation = insulation_of(wire.insulation, wire.temperature_class_c)
    worst: tuple[float, float, str, Surroundings] | None = None
    for name, point in study.steady_points.items():
        current_a = abs(point.current_a(wire.name))
        if current_a < 0.2 * may_carry_a(area_mm2, material=wire.material):
            continue
        around = bundles.around(wire, study.conditions[name], point)
        reached = steady_c(current_a, area_mm2, around.ambient_c, around.loaded, wire.material)
        if worst is None or reached > worst[0]:
            worst = (reached, current_a, name, around)
    if worst is None or worst[0] <= insulation.steady_c:
        return None
    reached, current_a, name, around = worst
    severity = (Severity.ERROR if reached > insulation.steady_c + _MUCH_K else Severity.WARNING)
    beside = (f", {around.loaded - 1} loaded wire{'s' if around.loaded > 2 else ''} beside it in "
              f"'{around.run}'" if around.loaded > 1 else "")
    settles = ("heats up without end" if celsius(reached) == "no end"
               else f"gets {celsius(reached)} hot")
    return Diagnostic(
        severity, "wire-runs-hot",
        f"{wire_words(wire)} {settles} {in_condition(study, name)}: it carries "
        f"{amperes(current_a)} in air of {around.ambient_c:.0f} C{beside}; its insulation "
        f"({insulation.name}) bears {insulation.steady_c:.0f} C",
        wire.area_span if wire.area_span.line else wire.span,
        _hint(wire, current_a, around, insulation), (), wire.name)


def _hint(wire: Wire, current_a: float, around: Surroundings, insulation: Insulation) -> str:
    for area in AREAS_MM2:
        if may_carry_a(area, around.ambient_c, around.loaded, insulation.steady_c,
                       wire.material) >= current_a:
            return (f"{area:g} mm2 may carry it here, by the continuous currents of DIN VDE "
                    "0298-4; the maker's data go first")
    return "share the load out over several wires, or take it out of the bundle"


def _short_time(study: Study, wire: Wire, area_mm2: float) -> Diagnostic | None:
    peak = study.all_peaks.get(wire.name)
    if peak is None or peak.current_a <= SHORT_TIME_A_PER_MM2 * area_mm2:
        return None
    return Diagnostic(
        Severity.WARNING, "wire-runs-hot",
        f"{wire_words(wire)} carries {amperes(peak.current_a)} "
        f"{in_condition(study, peak.condition)}: {peak.current_a / area_mm2:.0f} A/mm2, and 30 "
        "A/mm2 is the most even for moments",
        wire.area_span if wire.area_span.line else wire.span,
        f"at least {peak.current_a / SHORT_TIME_A_PER_MM2:.2g} mm2", (), wire.name)
