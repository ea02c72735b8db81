"""Ways from the supply to earth without a load, that can really come about."""

from __future__ import annotations

from harnessdsl.rules.analysis.states import PURE
from harnessdsl.rules.analysis.supply import Entry
from harnessdsl.rules.context import RuleContext


def shorts(context: RuleContext) -> tuple[Entry, ...]:
    """Return the ways from a live pole to earth without resistance for which the relays, following
    the switches, leave some state open."""
    supply = context.supply
    batteries = {pole.net for pole in supply.live_poles
                 if context.vehicle.parts[pole.part].family != "alternator"}
    turned = _nets_of_turned_batteries(context)
    found = []
    for net in sorted(supply.earth_nets):
        for entry in supply.live[net]:
            if not entry.condition & PURE:
                continue
            if batteries and entry.start not in batteries and (
                    entry.link is not None or entry.net in turned):
                continue  # a generator that is joined to a battery: found from there
            if context.simulation.reach(entry.condition) is not None:
                found.append(entry)
    return tuple(found)


def _nets_of_turned_batteries(context: RuleContext) -> set[int]:
    """Return the nets where a battery's wrong pole is earthed: that alone is the fault there."""
    wrong = "b" if context.vehicle.positive_earth else "a"
    poles = {edge.a if wrong == "a" else edge.b for edge in context.topology.edges
             if edge.type == "source"}
    return {pole.net for pole in context.supply.return_poles if pole.node in poles}
