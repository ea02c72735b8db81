"""A load that runs with the key out and every switch at rest.

What
    With all switches at rest, relays following and the engine stopped and cold, current flows
    through a load or coil. Loads that only have voltage on one side and wait for a switch in their
    earth are not meant.

Why
    It empties the battery. Where it is meant (a clock, a radio's memory, an alarm, a control module
    with a memory), write `always-live` on the part.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Work lamp"  10 A
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Clock"  5 A
    clock P1 "Clock"  always-live
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> P1.30  0.5 mm2 RD
    wire P1.31 -> E1  0.5 mm2 BN

Source
    A parked car should draw no more than some 50 mA: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.model.topology import Edge
from harnessdsl.rules.analysis.blame import free_of_faults
from harnessdsl.rules.analysis.nets import is_solid
from harnessdsl.rules.analysis.simulation import Settled
from harnessdsl.rules.analysis.tracing import walk
from harnessdsl.rules.analysis.wording import part_words, route_related, route_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("always-fed", Severity.WARNING)
def always_fed(context: RuleContext) -> Iterator[Diagnostic]:
    if not context.has_sound_supply:
        return
    context = context.once(free_of_faults)
    settled = context.at_rest
    released = context.simulation.released(context.states.rest)
    done: set[str] = set()
    for load in context.loads:
        part = load.part
        if part.name in done or "always-live" in part.flags or load.type == "outlet":
            continue
        if not settled.works(load.a, load.b):
            continue
        if load.type != "coil" and not released.works(load.a, load.b):
            continue  # a relay that should not be energised turns it on, and is named itself
        done.add(part.name)
        net = load.a if load.a in settled.live else load.b
        end = load.node(net)
        edges = _way(context, settled, end)
        yield Diagnostic(
            Severity.WARNING, "always-fed",
            f"{part_words(part)} runs with the key out and every switch at rest"
            + (f": {route_words(context, edges, end)}" if edges else ""),
            part.name_span,
            "feed it from a switched terminal (15, 75 or behind a switch), or write on it: "
            "always-live",
            route_related(edges, "its feed"), part.name)


def _way(context: RuleContext, settled: Settled, end: str) -> list[Edge]:
    """Return the way from a battery to the load in the state at rest."""
    passable = {id(way.link.edge) for ways in context.supply.live_ways for way in ways
                if not settled.state & ~way.condition}
    for pole in context.supply.live_poles:
        if context.vehicle.parts[pole.part].family == "alternator":
            continue
        found = walk(context, pole.node, lambda node: node == end,
                     lambda edge: is_solid(edge) or id(edge) in passable)
        if found is not None:
            return found
    return []
