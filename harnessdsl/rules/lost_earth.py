"""A lost or poor earth that sends current back through other lamps.

What
    In every condition current is followed that comes out of one load, finds its way to earth open or
    poor, and goes backwards through another load to get home. Named are the load whose earth is
    lost, the point that stands at a voltage where it should stand at none, and what glows or runs
    though nobody switched it on.

Why
    It is the classic of old cars: you brake, and the dash lights glow; you indicate, and all tail
    lamps flash. Bulbs are changed, switches are blamed, and the fault is one rusty ring terminal.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Stop lamps"  10 A
    blade-fuse F2 "Side lamps"  10 A
    toggle-switch S1 "Light switch"
    push-switch S2 "Stop-lamp switch"
    stop-tail-lamp E5 "Tail lamp"
    instrument-lamp E6 "Dash lamp"
    splice J1 "Side-lamp line"
    earth E2 "Tail stud" 200 ohm
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  2.5 mm2 RD 0.4 m
    wire G1.+ -> F2.1  2.5 mm2 RD 0.4 m
    wire F1.2 -> S2.1  1.5 mm2 RD 1 m
    wire F2.2 -> S1.1  1 mm2 RD 1 m
    wire S2.2 -> E5.54  1.5 mm2 BK 3 m
    wire S1.2 -> J1  1 mm2 GY 0.3 m
    wire J1 -> E5.58  1 mm2 GY 3 m
    wire J1 -> E6.1  0.75 mm2 GY 0.4 m
    wire E6.2 -> E1  0.75 mm2 BN 0.4 m
    wire E5.31 -> E2  1.5 mm2 BN 0.3 m

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Stop lamps"  10 A
    blade-fuse F2 "Side lamps"  10 A
    toggle-switch S1 "Light switch"
    push-switch S2 "Stop-lamp switch"
    stop-tail-lamp E5 "Tail lamp"
    instrument-lamp E6 "Dash lamp"
    splice J1 "Side-lamp line"
    earth E2 "Tail stud"
    wire G1.- -> E1  25 mm2 BK 0.4 m
    wire G1.+ -> F1.1  2.5 mm2 RD 0.4 m
    wire G1.+ -> F2.1  2.5 mm2 RD 0.4 m
    wire F1.2 -> S2.1  1.5 mm2 RD 1 m
    wire F2.2 -> S1.1  1 mm2 RD 1 m
    wire S2.2 -> E5.54  1.5 mm2 BK 3 m
    wire S1.2 -> J1  1 mm2 GY 0.3 m
    wire J1 -> E5.58  1 mm2 GY 3 m
    wire J1 -> E6.1  0.75 mm2 GY 0.4 m
    wire E6.2 -> E1  0.75 mm2 BN 0.4 m
    wire E5.31 -> E2  1.5 mm2 BN 0.3 m

Source
    Kirchhoff's laws; what glows is told by its share of power (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.electric.stray_current import Stray, strays
from harnessdsl.electric.study import Study
from harnessdsl.rules.analysis.amounts import in_condition, sentence, volts
from harnessdsl.rules.analysis.wording import listed, node_words, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

_BRIGHT_SHARE = 0.3
"""Of the rated power: a lamp that looks lit rather than glowing."""


@rule("lost-earth", Severity.ERROR, ELECTRIC)
def lost_earth(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    by_fed: dict[tuple[str, str], list[Stray]] = {}
    for stray in strays(study):
        by_fed.setdefault((stray.node, stray.fed.id), []).append(stray)
    for found in by_fed.values():
        yield _finding(context, study, found)


def _finding(context: RuleContext, study: Study, found: list[Stray]) -> Diagnostic:
    parts = context.vehicle.parts
    worst = max(found, key=lambda s: (s.share, s.glowing.id))
    fed = parts[worst.fed.part]
    back = parts[worst.reversed.part]
    here = [s for s in found if s.condition == worst.condition]
    others = [s for s in here if s.glowing.part != fed.name] or here
    names = listed([part_words(parts[name])
                    for name in dict.fromkeys(s.glowing.part for s in others)], 3)
    several = len({s.glowing.part for s in others}) > 1
    bright = max(s.share for s in others) > _BRIGHT_SHARE
    does = (("come" if several else "comes") + " on" if bright
            else ("glow" if several else "glows") + " faintly")
    lost = "has no way to earth" if worst.open else "has a poor earth"
    through = "its other filament" if back.name == fed.name else part_words(back)
    return Diagnostic(
        Severity.ERROR, "lost-earth",
        f"{sentence(in_condition(study, worst.condition))} {names} {does} though not "
        f"switched on: {part_words(fed)} {lost}, {node_words(context, worst.node)} stands at "
        f"{volts(worst.node_v)} instead of 0, and its current goes home backwards through {through}",
        fed.name_span, f"earth {node_words(context, worst.node)} on bright metal; until then "
        "nothing on it can be trusted", (), fed.name)
