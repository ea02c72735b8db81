"""What loads and relays are seen to do under every single fault, as tables of small numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from harnessdsl.faults.effects import DEAD, DIM, GLOWS, OFF, STAYS, WORKS, Effect
from harnessdsl.faults.sweep import Sweep

States = NDArray[np.int8]
UNSEEN = frozenset({"module", "sender", "alternator", "ignition", "relay", "solenoid"})
"""Families whose work nobody sees or hears with the bonnet open."""
CLICKS, SILENT, BUZZES = range(3)
RELAY_STATES = ("clicks", "silent", "buzzes")


class Looks:
    """The effects of one set of candidates in one condition: a row a candidate."""

    def __init__(self, usual: States, coils: NDArray[np.bool_], effects: Sequence[Effect]) -> None:
        self.usual = usual
        self.states = np.repeat(usual[None, :], len(effects), axis=0)
        self.coils = np.repeat(coils[None, :], len(effects), axis=0)
        self.buzzes = np.zeros(len(effects), dtype=bool)
        for row, effect in enumerate(effects):
            if effect.states:
                for load, state in effect.states.items():
                    self.states[row, load] = state
            if effect.moved:
                for coil, pulled in effect.moved.items():
                    self.coils[row, coil] = pulled
            if effect.chattering:
                self.buzzes[row] = True

    def rows(self, chosen: NDArray[np.intp]) -> Looks:
        """Return some of the candidates."""
        found = Looks.__new__(Looks)
        found.usual = self.usual
        found.states, found.coils = self.states[chosen], self.coils[chosen]
        found.buzzes = self.buzzes[chosen]
        return found

    def part(self, loads: Sequence[int]) -> States:
        """Return what a part is seen to do: of several loads in it, those that should work."""
        numbers = np.asarray(loads, dtype=np.intp)
        if not len(numbers):
            return np.full(len(self.states), OFF, dtype=np.int8)
        on = self.usual[numbers] == WORKS
        return part_states(self.states[:, numbers[on] if on.any() else numbers])

    def relay(self, coils: Sequence[int]) -> States:
        """Return whether a relay clicks, is silent or buzzes."""
        pulled = self.coils[:, np.asarray(coils, dtype=np.intp)].any(axis=1)
        return np.where(self.buzzes, BUZZES, np.where(pulled, CLICKS, SILENT)).astype(np.int8)


def part_states(states: States) -> States:
    """Return what one sees of a part with several loads in it, a row a candidate."""
    dead, works = states == DEAD, states == WORKS
    alive = dead | works | (states == DIM)
    mixed = np.where((states == DIM).any(axis=1) | dead.any(axis=1), DIM, WORKS)
    rests = np.where((states == STAYS).any(axis=1), STAYS,
                     np.where((states == GLOWS).any(axis=1), GLOWS, OFF))
    found = np.where(dead.all(axis=1), DEAD, np.where(works.all(axis=1), WORKS, np.where(
        alive.any(axis=1), mixed, rests)))
    return found.astype(np.int8)


class AllLooks:
    """The looks of every single fault in every condition."""

    def __init__(self, sweep: Sweep) -> None:
        self.sweep = sweep
        self._known: dict[int, Looks] = {}
        self._signatures: NDArray[np.intp] | None = None

    def sound(self, condition: int) -> tuple[States, NDArray[np.bool_]]:
        """Return what loads and relay coils do in the sound car."""
        bench = self.sweep.bench
        on = bench.healthy_loads(condition)[1]
        return (np.where(on, WORKS, OFF).astype(np.int8),
                np.asarray(bench.base(condition).energised, dtype=bool))

    def of(self, condition: int) -> Looks:
        """Return a row for every single fault, then one for the sound car."""
        found = self._known.get(condition)
        if found is None:
            effects = [row[condition] for row in self.sweep.found]
            found = self._known[condition] = Looks(*self.sound(condition), [*effects, Effect({})])
        return found

    def symptoms(self, watched: Mapping[str, Sequence[int]]
                 ) -> list[list[tuple[int, str]]]:
        """Return for every single fault what is seen to be wrong: (condition, part)."""
        found: list[list[tuple[int, str]]] = [[] for _ in self.sweep.found]
        for condition in range(len(self.sweep.bench.conditions)):
            looks = self.of(condition)
            for part, loads in watched.items():
                states = looks.part(loads)
                for fault in np.flatnonzero(states[:-1] != states[-1]).tolist():
                    found[fault].append((condition, part))
        return found

    def signatures(self) -> NDArray[np.intp]:
        """Return a number for every single fault, the same for faults under which every load does
        the same in every condition."""
        if self._signatures is None:
            known: dict[tuple[tuple[tuple[int, int], ...], ...], int] = {}
            self._signatures = np.asarray([
                known.setdefault(tuple(tuple(sorted(e.states.items())) for e in row), len(known))
                for row in self.sweep.found], dtype=np.intp)
        return self._signatures
