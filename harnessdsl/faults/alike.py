"""Causes that look alike until something is opened: no meter and no eye tells them apart.

Alike are causes under which every load does the same in every condition, the same fuses are blown,
and every point reads about the same: the voltages in the conditions looked at and in those in which
the causes differ most, the resistances with the battery off.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from harnessdsl.faults.behind_diodes import meter_shows
from harnessdsl.faults.case import BATTERY_OFF, Observation
from harnessdsl.faults.entries import Array
from harnessdsl.faults.predictions import Candidate, Predictor, State

SAME_V, SAME_SHARE = 0.15, 0.06
"""Voltages as near as this read the same (common practice)."""
SAME_OHM, SAME_OHM_SHARE = 0.5, 0.15
MOST_OHM = 1e6
MOST_SEEN = 6
OHMS = State(BATTERY_OFF)


def classes_of(predictor: Predictor, seen: Sequence[Observation],
               candidates: Sequence[Candidate]) -> list[tuple[int, ...]]:
    """Group candidates (by number) that no reading tells apart, in the order of the candidates."""
    if not candidates:
        return []
    signatures = predictor.looks.signatures()
    keys: dict[object, list[int]] = {}
    for i, candidate in enumerate(candidates):
        key = (tuple(sorted(int(signatures[k]) for k in candidate)),
               predictor.fuses_gone(candidate))
        keys.setdefault(key, []).append(i)
    unsure = sorted(i for group in keys.values() if len(group) > 1 for i in group)
    if not unsure:
        return [(i,) for i in range(len(candidates))]
    read, limit, share = _readings(predictor, seen, [candidates[i] for i in unsure])
    row_of = {i: row for row, i in enumerate(unsure)}
    groups: list[list[int]] = []
    for members in keys.values():
        firsts: list[list[int]] = []
        for i in members:
            for group in firsts:
                a, b = read[row_of[group[0]]], read[row_of[i]]
                if bool((np.abs(a - b) <= limit + share * np.minimum(np.abs(a), np.abs(b))).all()):
                    group.append(i)
                    break
            else:
                firsts.append([i])
        groups += firsts
    return sorted(tuple(group) for group in groups)


def _readings(predictor: Predictor, seen: Sequence[Observation],
              candidates: Sequence[Candidate]) -> tuple[Array, Array, Array]:
    """Return (readings, limit, share): a row a candidate, a column a point that is not the same
    for all of them, with how far readings that pass for the same may be apart."""
    states = list(dict.fromkeys(
        [predictor.state_of(o) for o in seen
         if o.condition and not o.unplugged and not o.pulled and o.condition in predictor.numbers]
    ))[:MOST_SEEN]
    states = list(dict.fromkeys([*states, *busy_states(predictor, candidates), OHMS]))
    found, limits, shares = [], [], []
    for state in states:
        volts, ohms = predictor.nodes(state, candidates)
        if state == OHMS:
            shown, limit, share = np.minimum(ohms, MOST_OHM), SAME_OHM, SAME_OHM_SHARE
        else:
            shown, limit, share = meter_shows(volts, ohms), SAME_V, SAME_SHARE
        wide = np.flatnonzero(np.ptp(shown, axis=0) > limit)
        found.append(shown[:, wide].astype(float))
        limits.append(np.full(len(wide), limit))
        shares.append(np.full(len(wide), share))
    return np.concatenate(found, axis=1), np.concatenate(limits), np.concatenate(shares)


def busy_states(predictor: Predictor, candidates: Sequence[Candidate], most: int = 2
                ) -> list[State]:
    """Return the conditions in which these candidates differ most from each other and from the
    sound car."""
    singles = [c for c in candidates if len(c) == 1]
    found = []
    for number, condition in enumerate(predictor.bench.conditions):
        looks = predictor.looks_of(State(condition.name), singles)
        usual = predictor.looks.sound(number)[0].tobytes()
        rows = [row.tobytes() for row in looks.states]
        found.append((-len(set(rows)), -sum(row != usual for row in rows)))
    ranked = sorted(range(len(found)), key=lambda i: (*found[i], i))
    return [State(predictor.bench.conditions[i].name) for i in ranked[:most]]
