"""What is live and what is earthed in one state of the switches, relays following their coils."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from harnessdsl.model.topology import terminal_node
from harnessdsl.rules.analysis.nets import Link, Nets
from harnessdsl.rules.analysis.states import States, Variable
from harnessdsl.rules.analysis.supply import Supply, Way

MAX_ROUNDS = 20
"""Relays that have not settled by then chatter, like a buzzer."""
MAX_RECIPES = 24
_MAX_DEPTH = 4


@dataclass(frozen=True, slots=True)
class Settled:
    """A state once the relays have followed."""

    state: int
    live: frozenset[int]
    earthed: frozenset[int]
    steady: bool
    """False for a chattering relay."""

    def works(self, a: int, b: int) -> bool:
        """Say whether current flows through what lies between two nets."""
        a_live = a in self.live and a not in self.earthed
        b_live = b in self.live and b not in self.earthed
        return (a_live and b in self.earthed) or (b_live and a in self.earthed)


class Simulation:
    """Plays states through. `live_starts` are the nets that are live by themselves."""

    def __init__(self, nets: Nets, states: States, supply: Supply,
                 live_starts: Sequence[int]) -> None:
        self._states = states
        self._supply = supply
        self._live_starts = tuple(live_starts)
        self._earth_starts = tuple(sorted(supply.earth_nets))
        self._coils: list[tuple[Variable, int, int]] = []
        for variable in states.variables.values():
            if variable.coil is not None:
                ends = (terminal_node(variable.part, end)
                        for end in (variable.coil.a, variable.coil.b))
                a, b = (nets.of[node] for node in ends)
                self._coils.append((variable, a, b))

    def settle(self, state: int, without: Link | None = None) -> Settled:
        """Return what `state` settles to; `without` is a link taken out."""
        for round_number in range(MAX_ROUNDS):
            live = self._flood(self._live_starts, self._supply.live_ways, state, without,
                               self._supply.earth_nets)
            earthed = self._flood(self._earth_starts, self._supply.earth_ways, state, without,
                                  self._supply.live_nets)
            following = state
            for variable, a, b in self._coils:
                pulled = (a in live and b in earthed) or (b in live and a in earthed)
                bit = variable.bit("energised" if pulled else "released")
                following = following & ~variable.mask | bit
            if following == state or round_number == MAX_ROUNDS - 1:
                return Settled(state, frozenset(live), frozenset(earthed), following == state)
            state = following
        raise AssertionError("not reached")

    def released(self, state: int) -> Settled:
        """Return what `state` does while no relay follows."""
        live = self._flood(self._live_starts, self._supply.live_ways, state, None,
                           self._supply.earth_nets)
        earthed = self._flood(self._earth_starts, self._supply.earth_ways, state, None,
                              self._supply.live_nets)
        return Settled(state, frozenset(live), frozenset(earthed), True)

    @staticmethod
    def _flood(starts: Sequence[int], ways: Sequence[Sequence[Way]], state: int,
               without: Link | None, stops: frozenset[int]) -> set[int]:
        found = set(starts)
        queue = list(starts)
        first = len(queue)
        for index, net in enumerate(queue):
            if index >= first and net in stops:
                continue
            for way in ways[net]:
                if way.far not in found and not state & ~way.condition and (
                        way.link is not without):
                    found.add(way.far)
                    queue.append(way.far)
        return found

    def state_for(self, condition: int) -> int:
        """Return the state nearest to rest that `condition` allows."""
        state = self._states.rest
        for variable in self._states.restricted(condition):
            if not variable.rest & condition:
                allowed = condition & variable.mask
                state = state & ~variable.mask | (allowed & -allowed)
        return state

    def recipes(self, condition: int) -> Iterator[int]:
        """Yield conditions that bring `condition` about: each relay that it wants energised has
        its coil's own conditions added."""
        yield from itertools.islice(self._expand(condition, frozenset(), _MAX_DEPTH), MAX_RECIPES)

    def _expand(self, condition: int, done: frozenset[str], depth: int) -> Iterator[int]:
        wanted = next(
            (entry for entry in self._coils
             if condition & entry[0].mask == entry[0].bit("energised")
             and f"{entry[0].part} {entry[0].name}" not in done), None)
        if wanted is None or depth == 0:
            yield condition
            return
        variable, a, b = wanted
        after = done | {f"{variable.part} {variable.name}"}
        supply = self._supply
        for plus, minus in ((a, b), (b, a)):
            if not supply.fed(plus):
                continue
            for feed in supply.live[plus]:
                for back in supply.earth[minus]:
                    joined = condition & feed.condition & back.condition
                    if self._states.possible(joined):
                        yield from self._expand(joined, after, depth - 1)

    def reach(self, condition: int) -> Settled | None:
        """Return a settled state in which `condition` holds, or None when the relays never allow
        it (found from rest, with only the switches moved that the condition needs)."""
        for recipe in self.recipes(condition):
            settled = self.settle(self.state_for(recipe))
            if settled.steady and not settled.state & ~condition:
                return settled
        return None
