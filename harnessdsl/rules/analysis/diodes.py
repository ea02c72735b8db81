"""Diodes that stand the wrong way round."""

from __future__ import annotations

from harnessdsl.rules.analysis.nets import Link
from harnessdsl.rules.context import RuleContext

_NO_WAY = frozenset({"capacitor", "source", "alternator"})


def _spread(context: RuleContext, starts: frozenset[int], stops: frozenset[int], without: Link
            ) -> set[int]:
    """Return the nets that hang together with `starts` through anything, loads too, without going
    on from the nets of `stops`."""
    found = set(starts)
    queue = sorted(starts)
    first = len(queue)
    for index, net in enumerate(queue):
        if index >= first and net in stops:
            continue
        for link in context.nets.at[net]:
            if link is without or link.suppressor or link.edge.type in _NO_WAY:
                continue
            far = link.other(net)
            if far not in found:
                found.add(far)
                queue.append(far)
    return found


def can_conduct(context: RuleContext, link: Link) -> tuple[bool, bool]:
    """Say whether current could ever run from `a` to `b` of a diode, and from `b` to `a`."""
    supply = context.supply
    live = _spread(context, supply.live_nets, supply.earth_nets, link)
    earth = _spread(context, supply.earth_nets, supply.live_nets, link)
    plus, minus = (earth, live) if context.vehicle.positive_earth else (live, earth)
    return (link.a in plus and link.b in minus), (link.b in plus and link.a in minus)


def reversed_diodes(context: RuleContext) -> list[Link]:
    """Return the diodes in a feed or return that can never conduct, and would if turned round."""
    found = []
    for link in context.nets.links:
        if link.edge.type == "diode" and link.a != link.b and not link.suppressor:
            forward, backward = can_conduct(context, link)
            if backward and not forward:
                found.append(link)
    return found
