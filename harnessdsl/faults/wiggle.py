"""Wiggling plugs and looms: a way of looking for what comes and goes."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from harnessdsl.faults.case import BATTERY_OFF, Case, Observation
from harnessdsl.faults.effort import Effort, places_of_node
from harnessdsl.faults.next_measurement import Action
from harnessdsl.faults.ranking import Weights
from harnessdsl.faults.usual import enclosing

WIGGLE_MIN = 0.5
UNCLEAR = 0.3
"""How often wiggling the right thing shows nothing, or the wrong one something."""
WORTH_FROM = 0.1
"""Chance that the fault comes and goes, from which on one wiggles."""
MOST_CAUSES, MOST_THINGS = 60, 8
LEAST_WIGGLE_BITS = 0.03
"""Wiggling costs next to nothing."""


def wiggles(weights: Weights, case: Case) -> list[Action]:
    """Return the plugs and runs worth wiggling while someone watches what was seen to be wrong."""
    if weights.changing_share() < WORTH_FROM:
        return []
    watched = next((o.condition for o in reversed(case.observations)
                    if o.kind in ("load", "relay") and o.condition not in ("", BATTERY_OFF)), "")
    if not watched:
        return []
    normal = weights.normal()
    order = np.argsort(-normal, kind="stable")[:MOST_CAUSES]
    share = normal[order] / normal[order].sum()
    effort = Effort.of(weights.predictor.bench.vehicle, case)
    refused = {r.subject for r in case.refusals}
    done = {o.subject for o in case.observations if o.kind == "wiggle"}
    found = []
    for name, touched in _things(weights, order.tolist()):
        places = _places(weights, name)
        if name in done or refused & {name, *(p for place in places for p in enclosing(
                weights.predictor.bench.vehicle, place))}:
            continue
        helps = float(share[touched].sum())
        bits = _entropy(UNCLEAR + helps * (1 - 2 * UNCLEAR)) - _entropy(UNCLEAR)
        if bits >= LEAST_WIGGLE_BITS:
            minutes = WIGGLE_MIN + effort.reach(places[:1]) + effort.condition(watched)
            found.append(Action(Observation("wiggle", name, condition=watched), bits, minutes))
    return sorted(found, key=lambda a: -a.score)[:MOST_THINGS]


def _entropy(chance: float) -> float:
    """Return the bits of one of two outcomes."""
    return -sum(p * math.log2(p) for p in (chance, 1 - chance) if p > 0)


def _things(weights: Weights, order: list[int]) -> Iterator[tuple[str, np.ndarray]]:
    """Yield the plugs and runs of some causes, each with the causes that it touches."""
    vehicle = weights.predictor.bench.vehicle
    faults = weights.predictor.bench.faults
    candidates = [weights.candidates[i] for i in order]
    names: dict[str, None] = {}
    for candidate in candidates:
        for i in candidate:
            part = vehicle.parts.get(faults[i].part)
            if part is not None and part.connector is not None:
                names[part.name] = None
            names.update(dict.fromkeys(run.name for run in vehicle.runs.values()
                                       if faults[i].wire in run.wires))
    for name in names:
        yield name, np.asarray([weights.touches(c, name) for c in candidates])


def _places(weights: Weights, name: str) -> list[str]:
    vehicle = weights.predictor.bench.vehicle
    run = vehicle.runs.get(name)
    return list(run.places) if run is not None else list(places_of_node(vehicle, name))
