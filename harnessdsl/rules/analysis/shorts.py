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
    found = []
    for net in sorted(supply.earth_nets):
        for entry in supply.live[net]:
            if not entry.condition & PURE:
                continue
            if batteries and entry.start not in batteries:
                continue  # a generator that is joined to a battery: found from there
            if context.simulation.reach(entry.condition) is not None:
                found.append(entry)
    return tuple(found)
