"""The rush of current when lamps and motors start, against contact and fuse.

What
    In every condition everything that is on is taken to start at the same moment: filaments cold,
    at
    a tenth of their hot resistance, motors standing still. A contact may take five times its `max`
    for the milliseconds of cold lamps, three times while motors start. A fuse must not be able to
    open within the tenth of a second that a motor starts in.

Why
    The rush welds contacts that are large enough for the running current, and wears fuses out. A
    relay for lamps or motors is chosen by what it can make, not by what it carries.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Fan"  10 A
    toggle-switch S1 "Fan switch" { contact 1 -> 2 closed-when on max 8 A }
    fan-motor M3 "Radiator fan"  7 A stalls 70 A
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.4 m
    wire F1.2 -> S1.1  4 mm2 RD 0.6 m
    wire S1.2 -> M3.+  4 mm2 BK 0.6 m
    wire M3.- -> E1  4 mm2 BN 0.4 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Fan"  20 A
    toggle-switch S1 "Fan switch" { contact 1 -> 2 closed-when on max 30 A }
    fan-motor M3 "Radiator fan"  7 A stalls 28 A
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.4 m
    wire F1.2 -> S1.1  4 mm2 RD 0.6 m
    wire S1.2 -> M3.+  4 mm2 BK 0.6 m
    wire M3.- -> E1  4 mm2 BN 0.4 m

Source
    Cold filament a tenth of the hot resistance, below twice the current after 3 to 5 ms: lamp
    driver notes. Making limit 120 A of a relay for 40 A: a data sheet; five times for lamps, and
    switches like relays: common practice, no source. Fuse times: ISO 8820-3, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.inrush import MOTOR_START_S, largest, started
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import amperes, in_condition, seconds
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.contact_overloaded import contact_limits
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

LAMPS_TIMES = 5.0
MOTORS_TIMES = 3.0


@rule("inrush", Severity.WARNING, ELECTRIC)
def inrush(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    all_cold, motors = started(study.points), started(study.points, cold_lamps=False)
    limits = contact_limits(context)
    said: set[str] = set()
    for found, times, what in ((largest(motors, list(limits)), MOTORS_TIMES, "while motors start"),
                               (largest(all_cold, list(limits)), LAMPS_TIMES,
                                "in the first milliseconds")):
        for name, (current_a, condition) in found.items():
            element = study.elements[name]
            if current_a <= times * limits[name] or name in said:
                continue
            said.add(name)
            part = context.vehicle.parts[element.part]
            yield Diagnostic(
                Severity.WARNING, "inrush",
                f"contact {element.a} to {element.b} of {part_words(part)} makes "
                f"{amperes(current_a)} {what} ({in_condition(study, condition)}); it is made for "
                f"{amperes(limits[name])}, and {times:g} times that is the most for so short",
                part.name_span, "a relay made for lamps and motors takes the rush off it", (),
                part.name)
    fuses = [e.id for e in study.elements.values() if e.curve is not None and e.rated_a]
    for name, (current_a, condition) in largest(motors, fuses).items():
        element = study.elements[name]
        assert element.curve is not None
        band = element.curve.band(current_a / element.rated_a)
        if band.shortest_s >= MOTOR_START_S:
            continue
        part = context.vehicle.parts[element.part]
        yield Diagnostic(
            Severity.WARNING, "inrush",
            f"{element.role} {part_words(part)} of {element.rated_a:g} A may open when motors "
            f"start {in_condition(study, condition)}: {amperes(current_a)} flow, and it may open "
            f"after {seconds(band.shortest_s)}", part.name_span,
            "a slower fuse, or a larger one if every wire behind it may be protected with it", (),
            part.name)
