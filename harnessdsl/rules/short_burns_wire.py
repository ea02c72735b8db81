"""A fuse that opens on a short, but after the wire is burnt.

What
    For a dead short at the far end of every wire, the longest time that the fuse's curve allows is
    compared with the time in which that current heats each wire behind the fuse from 70 C to what
    its insulation bears for seconds (PVC 160 C). Up to 5 s no heat is taken to leave the wire;
    beyond that it warms up towards the temperature it would settle at.

Why
    A fuse is chosen by its rating, but a short is a race between fuse and wire. Slow protection
    (maxi and strip fuses, links, breakers) before a thin wire loses it. The time is an estimate
    with a margin; the maker's data, local codes and licensed practice go first.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Tail stud"
    maxi-fuse F1 "Rear circuits"  40 A
    toggle-switch S1 "Switch"
    heater E5 "Rear heater"  100 W
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.3 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.3 m
    wire S1.2 -> E5.1  1 mm2 GY 4 m
    wire E5.2 -> E2  1 mm2 BN 0.3 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Tail stud"
    blade-fuse F1 "Rear circuits"  15 A
    toggle-switch S1 "Switch"
    heater E5 "Rear heater"  100 W
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  6 mm2 RD 0.3 m
    wire F1.2 -> S1.1  2.5 mm2 RD 0.3 m
    wire S1.2 -> E5.1  1.5 mm2 GY 4 m
    wire E5.2 -> E2  1.5 mm2 BN 0.3 m

Source
    I2t = k2 S2 with k by IEC 60949 (PVC 70 to 160 C: 115, as in IEC 60364-5-54); opening times:
    ISO 8820-3 and SAE standards, from memory.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.electric.short_circuits import Danger
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import amperes, seconds, size_words
from harnessdsl.rules.analysis.wording import node_words, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule
from harnessdsl.rules.short_not_cleared import SLOW_S


@rule("short-burns-wire", Severity.ERROR, ELECTRIC)
def short_burns_wire(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    worst: dict[tuple[str, str], Danger] = {}
    for danger in study.shorts.dangers():
        fuse = danger.short.protection
        if fuse is None or danger.short.band.longest_s > SLOW_S or danger.overshoot <= 1:
            continue
        key = (fuse.id, danger.wire.chain or danger.wire.name)
        if key not in worst or danger.overshoot > worst[key].overshoot:
            worst[key] = danger
    for danger in worst.values():
        yield _finding(context, danger)


def _finding(context: RuleContext, danger: Danger) -> Diagnostic:
    short, wire, fuse = danger.short, danger.wire, danger.short.protection
    assert fuse is not None
    part = context.vehicle.parts[fuse.part]
    return Diagnostic(
        Severity.ERROR, "short-burns-wire",
        f"a short at {node_words(context, short.node)} burns wire '{wire.name}' "
        f"({size_words(wire)}) before {fuse.role} {part_words(part)} of {fuse.rated_a:g} A opens: "
        f"{amperes(short.current_a)} flow, the fuse may take {seconds(short.band.longest_s)}, the "
        f"wire is at {danger.insulation.short_c:.0f} C after {seconds(danger.bears_s)}",
        wire.area_span if wire.area_span.line else wire.span,
        "a smaller or quicker fuse, or a thicker wire",
        (Related(f"{fuse.role} {part.name}", part.name_span),), wire.name)
