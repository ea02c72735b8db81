"""Whether each load can work at all: fed on one side and earthed on the other, at the same time."""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass

from harnessdsl.rules.analysis.diodes import reversed_diodes
from harnessdsl.rules.analysis.islands import lost_earth_terminal
from harnessdsl.rules.analysis.loads import Load
from harnessdsl.rules.analysis.partners import fed_through_partner, returns_through_partner
from harnessdsl.rules.analysis.shorts import shorts
from harnessdsl.rules.analysis.supply import Way
from harnessdsl.rules.context import RuleContext


class Trouble(enum.Enum):
    """Why a load can't work."""

    NONE = "works"
    NEVER_FED = "no supply on either side"
    CONFLICT = "fed and earthed, but never at the same time"
    FLOATING = "fed, but without a way to earth"
    BETWEEN = "supply on both sides, earth on none"


@dataclass(frozen=True, slots=True)
class Service:
    """What a load gets."""

    load: Load
    trouble: Trouble
    net: int
    """The side that lacks something."""
    gap: str = ""
    """The earth terminal of the switch that should earth it by turns, where that is what lacks."""


def _flood(starts: Sequence[int], ways: Sequence[Sequence[Way]], extra: dict[int, list[int]]
           ) -> set[int]:
    found = set(starts)
    queue = list(starts)
    for net in queue:
        for far in [way.far for way in ways[net]] + extra.get(net, []):
            if far not in found:
                found.add(far)
                queue.append(far)
    return found


class Services:
    """Judges loads; rare causes are looked at only when needed."""

    def __init__(self, context: RuleContext) -> None:
        self._context = context
        self._turned: tuple[set[int], set[int]] | None = None

    def judge(self, load: Load) -> Service:
        """Return what `load` gets."""
        supply = self._context.supply
        if load.a == load.b:
            return Service(load, Trouble.NONE, load.a)  # bridged, which is named on its own
        fed = {net: supply.fed(net) for net in (load.a, load.b)}
        returned = {net: supply.returned(net) for net in (load.a, load.b)}
        sides = ((load.a, load.b), (load.b, load.a))
        conflict = False
        for one, other in sides:
            if fed[one] and returned[other]:
                if self._together(one, other):
                    return Service(load, Trouble.NONE, one)
                conflict = True
        if conflict:
            return Service(load, Trouble.CONFLICT, load.a)
        for one, other in sides:
            if fed[one] and returns_through_partner(self._context, load, other) and (
                    not fed[other] or self._independent(load)):
                return Service(load, Trouble.NONE, one)
            if returned[other] and fed_through_partner(self._context, load, one):
                return Service(load, Trouble.NONE, one)
        for one, other in sides:
            if (fed[one] or self._at_pin(load, one)) and (
                    returned[other] or self._at_pin(load, other)):
                return Service(load, Trouble.NONE, one)
        if self._behind_reversed_diode(load):
            return Service(load, Trouble.NONE, load.a)
        if fed[load.a] and fed[load.b]:
            gap = lost_earth_terminal(self._context, load)
            return (Service(load, Trouble.BETWEEN, load.b) if gap is None else
                    Service(load, Trouble.FLOATING, self._context.nets.of[gap], gap))
        for one, other in sides:
            if fed[one]:
                return Service(load, Trouble.FLOATING, other)
        if returned[load.a] and returned[load.b] and self._context.once(shorts):
            return Service(load, Trouble.NONE, load.a)  # its feed is shorted, which is named
        lacking = load.b if returned[load.a] and not returned[load.b] else load.a
        return Service(load, Trouble.NEVER_FED, lacking)

    def _independent(self, load: Load) -> bool:
        """Say whether each side can be live while the other is dead, as with a tell-tale between
        two turn lamps; a lamp between 30 and 15 lights by feeding what hangs on 15."""
        if self._inside(load, load.a) or self._inside(load, load.b):
            return True

        def alone(one: int, other: int) -> bool:
            for entry in self._context.supply.live[one]:
                settled = self._context.simulation.reach(entry.condition)
                if settled is not None and one in settled.live and other not in settled.live:
                    return True
            return False

        return alone(load.a, load.b) and alone(load.b, load.a)

    def _inside(self, load: Load, net: int) -> bool:
        """Say whether a net lies wholly inside the load's part, such as a starter's field."""
        return all(self._context.topology.part_of[node] == load.part.name
                   for node in self._context.nets.members[net])

    def _together(self, one: int, other: int) -> bool:
        possible = self._context.states.possible
        return any(possible(feed.condition & back.condition)
                   for feed in self._context.supply.live[one]
                   for back in self._context.supply.earth[other])

    def _at_pin(self, load: Load, net: int) -> bool:
        """Say whether a net holds nothing but loads and pins of electronics: then the module feeds
        or earths the sensor there, in a way that a pin's role does not tell."""
        supply = self._context.supply
        if any(way.link.edge.part != load.part.name
               for way in (*supply.live_ways[net], *supply.earth_ways[net])):
            return False
        return any("electronic" in link.edge.primitive.flags
                   for link in self._context.nets.at[net] if link.edge.primitive is not None
                   and link.edge.type == "resistor" and link.edge.part != load.part.name)

    def _behind_reversed_diode(self, load: Load) -> bool:
        """Say whether the load would work if the diodes that are found to stand the wrong way round
        were turned: those are named on their own."""
        if self._turned is None:
            context = self._context
            extra: dict[int, list[int]] = {}
            for link in context.once(reversed_diodes):
                extra.setdefault(link.a, []).append(link.b)
                extra.setdefault(link.b, []).append(link.a)
            supply = context.supply
            live = [net for net in range(len(supply.live)) if supply.fed(net)]
            back = [net for net in range(len(supply.earth)) if supply.returned(net)]
            self._turned = (
                _flood(live, supply.live_ways, extra) - supply.earth_nets,
                _flood(back, supply.earth_ways, extra) - supply.live_nets) if extra else (
                set(), set())
        fed, returned = self._turned
        return (load.a in fed and load.b in returned) or (load.b in fed and load.a in returned)


def services(context: RuleContext) -> tuple[Service, ...]:
    """Return what every load gets, in the order of the file."""
    judge = Services(context).judge
    return tuple(judge(load) for load in context.loads)
