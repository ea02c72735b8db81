"""Too much voltage lost between the battery and a load, or on the way back.

What
    In every condition, for every load that works, the voltage at the load is compared with that at
    the battery's terminals, and the loss with the handbook's limit for that kind of circuit. The
    wires from the switch or relay to the load have a limit of their own. The charging line is
    judged
    too. A load whose current passes a resistor, electronics or another load by design is left out.

Why
    A lamp with a tenth less voltage gives a third less light; a starter on long thin cables turns
    slowly though the battery is good. Losses come from wire that is too thin or too long and from
    joints, on the earth side as often as on the plus side. Limits at 12 V, whole circuit: lamps
    below 15 W 0.6 V (a telltale on a lamp's line as that lamp), other lamps and heaters 0.9 V,
    headlamps 0.6 V, relays, horns and other controls 1.5 V, line to terminal 50 1.9 V, starter 0.8
    V, motors 1 V; charging line 0.4 V on the plus side.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Tailgate stud"
    blade-fuse F1 "Heated window"  20 A
    toggle-switch S1 "Heated window switch" { contact 1 -> 2 closed-when on max 25 A }
    heated-window E5 "Heated rear window"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.5 m
    wire F1.2 -> S1.1  4 mm2 RD 0.5 m
    wire S1.2 -> E5.1  1.5 mm2 BK 6 m
    wire E5.2 -> E2  1.5 mm2 BN 1.5 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Tailgate stud"
    blade-fuse F1 "Heated window"  20 A
    toggle-switch S1 "Heated window switch" { contact 1 -> 2 closed-when on max 25 A }
    heated-window E5 "Heated rear window"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.5 m
    wire F1.2 -> S1.1  4 mm2 RD 0.5 m
    wire S1.2 -> E5.1  6 mm2 BK 6 m
    wire E5.2 -> E2  4 mm2 BN 1.5 m

Source
    Automotive handbook, recommended largest voltage drops (columns for the whole circuit from
    memory); starter 0.5 V plus side, 0.8 V in all: a battery tester's manual; 1 V as surely a
    fault: advice quoted in service manuals. For heaters the row of large lamps is taken.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.electric.heating import AREAS_MM2
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.electric.study import Study, Way
from harnessdsl.electric.voltage_drop import CHARGING, Drop, battery_pole, drops
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.amounts import in_condition, size_words, volts
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

TOLERANCE_V = 0.005
"""Less than a meter shows."""


@rule("voltage-drop", Severity.WARNING, ELECTRIC)
def voltage_drop(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    nominal_v = context.vehicle.nominal_v
    worst: dict[str, tuple[float, Drop, bool]] = {}
    for drop in drops(study):
        whole, line = drop.limit.whole(nominal_v), drop.limit.line(nominal_v)
        for lost, limit, is_line in ((drop.whole_v, whole, False), (drop.line_v, line, True)):
            if lost is None or limit is None or lost <= limit + TOLERANCE_V:
                continue
            before = worst.get(drop.load.part)
            if before is None or lost / limit > before[0]:
                worst[drop.load.part] = (lost / limit, drop, is_line)
    for _, drop, is_line in worst.values():
        yield _finding(context, study, drop, is_line)
    yield from _charging(context, study)


def _finding(context: RuleContext, study: Study, drop: Drop, is_line: bool) -> Diagnostic:
    nominal_v = context.vehicle.nominal_v
    part = context.vehicle.parts[drop.load.part]
    limit = drop.limit.line(nominal_v) if is_line else drop.limit.whole(nominal_v)
    lost = drop.line_v if is_line else drop.whole_v
    assert limit is not None and lost is not None
    lost_where = f"on the line from {drop.line_from}" if is_line else "on the way there and back"
    causes = []
    for step in drop.worst_steps(2):
        wire = context.vehicle.wires.get(step.element.id)
        name = (f"wire '{wire.name}' ({size_words(wire)})" if wire is not None
                else f"{step.element.role} of '{step.element.part}'")
        causes.append(f"{volts(step.drop_v)} in {name}")
    return Diagnostic(
        Severity.WARNING, "voltage-drop",
        f"{part_words(part)} gets {volts(drop.load.voltage_v)} of the battery's "
        f"{volts(drop.battery_v)} {in_condition(study, drop.condition)}: {volts(lost)} are lost "
        f"{lost_where}, and {volts(limit)} is the most for {drop.limit.circuit}; "
        + ", ".join(causes), part.name_span, _hint(context, drop, lost - limit),
        _related(context, drop.way), part.name)


def _related(context: RuleContext, way: Way) -> tuple[Related, ...]:
    steps = sorted((*way.out, *way.back), key=lambda s: (-s.drop_v, s.element.id))
    wires = [context.vehicle.wires[s.element.id] for s in steps
             if s.element.id in context.vehicle.wires][:2]
    spans = list(dict.fromkeys(w.span for w in wires))
    return tuple(Related("much of it here", span) for span in spans)


def _hint(context: RuleContext, drop: Drop, excess_v: float) -> str:
    """Return the area that the worst wire would need."""
    for step in drop.worst_steps(1):
        wire: Wire | None = context.vehicle.wires.get(step.element.id)
        if wire is None or not wire.area_mm2:
            break
        left = step.drop_v - excess_v
        if left > 0.1 * step.drop_v:
            needed = wire.area_mm2 * step.drop_v / left
            area = next((a for a in AREAS_MM2 if a >= needed), None)
            if area is not None:
                return f"'{wire.name}' of {area:g} mm2 would bring it within the limit"
    return "thicker wire on the whole way, a shorter way, or a relay near the load"


def _charging(context: RuleContext, study: Study) -> Iterator[Diagnostic]:
    limit = CHARGING.line(context.vehicle.nominal_v)
    assert limit is not None
    worst: dict[str, tuple[float, str, str]] = {}
    for name, point in study.points.items():
        if not study.conditions[name].engine_running or not study.battery_poles:
            continue
        for element in study.elements.values():
            # only while the battery takes current does the line carry what it is meant to
            if element.role != "alternator" or abs(point.current_a(element.id)) < 1.0:
                continue
            live = (element.b if abs(point.voltage_v(element.b)) > abs(point.voltage_v(element.a))
                    else element.a)
            pole, _ = battery_pole(study, point, Way((), (), live))
            lost = abs(point.voltage_v(live)) - abs(point.voltage_v(pole)) - _in_cut_out(
                study, point, abs(point.current_a(element.id)))
            if lost > limit + TOLERANCE_V and lost > worst.get(element.part, (0.0, "", ""))[0]:
                worst[element.part] = (lost, name, pole)
    for part_name, (lost, name, pole) in worst.items():
        part = context.vehicle.parts[part_name]
        yield Diagnostic(
            Severity.WARNING, "voltage-drop",
            f"between {part_words(part)} and the battery's {pole} {volts(lost)} are lost "
            f"{in_condition(study, name)}; {volts(limit)} is the most for {CHARGING.circuit}: the "
            "battery is never quite full", part.name_span,
            "thicker wire from the alternator to the battery, or a better joint", (), part_name)


def _in_cut_out(study: Study, point: OperatingPoint, current_a: float) -> float:
    """Return the voltage across contacts that carry the generator's current and that nobody moves:
    a dynamo's cut-out belongs to the dynamo, not to the line."""
    return sum(
        abs(point.across_v(e.id)) for e in study.elements.values()
        if e.role == "contact" and not study.vehicle.parts[e.part].kind.actuators
        and not e.gate and abs(point.current_a(e.id)) > 0.5 * current_a)
