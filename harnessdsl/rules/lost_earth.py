"""A lost or poor earth that sends current back through other lamps.

What
    In every condition current is followed that comes out of one load, finds its way to earth open
    or poor, and goes backwards through another load to get home. Named are the load whose earth is
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

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.electric.stray_current import Stray, joined_nodes, strays
from harnessdsl.electric.study import Study
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.amounts import in_condition, sentence, volts
from harnessdsl.rules.analysis.wording import listed, node_words, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, rule

_BRIGHT_SHARE = 0.3
"""Of the rated power: a lamp that looks lit rather than glowing."""


@rule("lost-earth", Severity.ERROR, ELECTRIC)
def lost_earth(context: RuleContext) -> Iterator[Diagnostic]:
    study: Study = context.electric
    shared: dict[str, tuple[str, ...]] = {}
    groups: dict[str, list[Stray]] = {}
    for stray in strays(study):
        if stray.node not in shared:
            joined = joined_nodes(study, stray.node)
            shared.update(dict.fromkeys(joined, joined))
        groups.setdefault(shared[stray.node][0], []).append(stray)
    for key, found in groups.items():
        yield _finding(context, study, found, shared[key])


def _finding(context: RuleContext, study: Study, found: list[Stray], joined: tuple[str, ...]
             ) -> Diagnostic:
    parts = context.vehicle.parts
    by_condition: dict[str, list[Stray]] = {}
    for stray in found:
        by_condition.setdefault(stray.condition, []).append(stray)
    worst, here = max(by_condition.items(), key=lambda item: (
        len(_glowing(item[1])), max(s.share for s in item[1])))
    chief = max(here, key=lambda s: (s.node_v, s.share))
    fed = parts[chief.fed.part]
    glowing = _glowing(here)
    bright = max(s.share for s in here if s.glowing.part in glowing) > _BRIGHT_SHARE
    several = len(glowing) > 1
    does = (("come" if several else "comes") + " on" if bright
            else ("glow" if several else "glows") + " faintly")
    culprit = _culprit(context, joined) or fed
    at = "" if culprit is fed else f" at {part_words(culprit)}"
    lost = f"has no way to earth{at}" if chief.open else f"has a poor earth{at}"
    back = parts[chief.reversed.part]
    through = "its other filament" if back.name == fed.name else part_words(back)
    others = [name for name in by_condition if name != worst]
    more = f"{len(others)} more condition{'s' if len(others) > 1 else ''}"
    also = f" (and {more})" if others else ""
    what = listed([part_words(parts[name]) for name in glowing], 3)
    return Diagnostic(
        Severity.ERROR, "lost-earth",
        f"{sentence(in_condition(study, worst))}{also} "
        f"{what} {does} though not switched on: "
        f"{part_words(fed)} {lost}, so that {node_words(context, chief.node)} stands at "
        f"{volts(chief.node_v)} instead of 0 and the current goes home backwards through {through}",
        culprit.name_span,
        "give it a sound earth on bright metal; until then nothing on it can be trusted",
        () if culprit is fed else (Related("its current has no way home", fed.name_span),),
        culprit.name)


def _glowing(strays_here: list[Stray]) -> list[str]:
    """Return the parts that glow besides those whose earth is lost, else these."""
    fed = {s.fed.part for s in strays_here}
    names = list(dict.fromkeys(s.glowing.part for s in strays_here))
    return [name for name in names if name not in fed] or names


def _culprit(context: RuleContext, joined: tuple[str, ...]) -> Part | None:
    """Return the earth point, else the splice, that the lost earths share."""
    parts = context.vehicle.parts
    owners = [parts[name] for node in joined
              if (name := context.topology.part_of.get(node, "")) in parts]
    for family in ("earth", "splice"):
        for part in owners:
            if part.family == family:
                return part
    return None
