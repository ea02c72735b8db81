"""The last question before something is opened: what tells causes apart that look the same.

A blown fuse hides what blew it: with it out, the car looks the same; a sound one tells, in the
condition in which the causes differ most. A relay that does not switch may still click.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from harnessdsl.faults.case import BATTERY_OFF, Case, Observation
from harnessdsl.faults.effort import LOOK_MIN, NEW_FUSE_MIN, Effort, places_of_node
from harnessdsl.faults.next_measurement import Action, answer_as
from harnessdsl.faults.ranking import Cause, Verdict, Weights

LEAST_BITS = 0.2
SHOWN_SHARE = 0.02
"""Causes with less than this of the likeliest one's weight are not asked about."""


def last_question(weights: Weights, verdict: Verdict, case: Case) -> Action | None:
    """Return the step that tells the causes of the likeliest class apart, None when there is none
    that is worth it."""
    if not verdict.classes:
        return None
    group = _shown(verdict, 0)
    found = [*_fuses(weights, group, case), *_relays(weights, group, case)]
    found = [action for action in found if action.bits >= LEAST_BITS]
    return max(found, key=lambda action: action.score, default=None)


def same_words(weights: Weights, verdict: Verdict, rank: int) -> str:
    """Return what it takes to tell the causes of a class apart."""
    group = _shown(verdict, rank)
    seen = Case(observations=tuple(weights.seen))
    for action in _fuses(weights, group, seen):
        if action.bits > 0 and not any(o.kind == "fuse" and o.condition and o.subject == (
                action.observation.subject) for o in weights.seen):
            return f"the same until a sound {action.observation.subject} is put in"
    for action in _relays(weights, group, seen):
        if action.bits > 0:
            return f"the same but for the click of {action.observation.subject}"
    return "the same until opened"


def _shown(verdict: Verdict, rank: int) -> list[Cause]:
    group = [verdict.causes[i] for i in verdict.classes[rank]]
    return [c for c in group if c.weight >= SHOWN_SHARE * group[0].weight]


def _bits(outcomes: list[str], group: list[Cause]) -> float:
    """Return the entropy of plain outcomes, weighted by the causes."""
    shares: dict[str, float] = {}
    for outcome, cause in zip(outcomes, group, strict=True):
        shares[outcome] = shares.get(outcome, 0.0) + cause.weight
    total = sum(shares.values())
    return -sum(w / total * math.log2(w / total) for w in shares.values() if w > 0)


def _fuses(weights: Weights, group: list[Cause], case: Case) -> Iterator[Action]:
    """Yield a sound fuse in each condition, for a fuse that all of the causes leave blown."""
    predictor = weights.predictor
    candidates = [c.candidate for c in group]
    effort = Effort.of(predictor.bench.vehicle, case)
    done = {(o.subject, o.condition) for o in case.observations if o.kind == "fuse"}
    for part in predictor.fuse_ids:
        if not all(predictor.fuse_blown(c, part) for c in candidates):
            continue
        for condition in predictor.bench.conditions:
            if (part, condition.name) in done:
                continue
            again = np.asarray(predictor.blows_again(condition.name, candidates, part))
            minutes = (NEW_FUSE_MIN + effort.condition(condition.name)
                       + effort.reach(places_of_node(predictor.bench.vehicle, part)))
            yield Action(Observation("fuse", part, condition=condition.name),
                         _bits([str(bool(one)) for one in again], group), minutes)


def _relays(weights: Weights, group: list[Cause], case: Case) -> Iterator[Action]:
    """Yield listening to the relays that the causes are about, in the conditions seen."""
    predictor = weights.predictor
    vehicle = predictor.bench.vehicle
    effort = Effort.of(vehicle, case)
    done = {(o.subject, o.condition) for o in case.observations if o.kind == "relay"}
    names = dict.fromkeys(o.condition for o in reversed(case.observations)
                          if o.condition not in ("", BATTERY_OFF))
    parts = dict.fromkeys(predictor.bench.faults[i].part for c in group for i in c.candidate)
    for part in parts:
        if part not in predictor.coil_numbers:
            continue
        for name in names:
            seen = Observation("relay", part, condition=name)
            if (part, name) in done or name not in vehicle.conditions:
                continue
            words = [answer_as(predictor, seen, c.candidate).says for c in group]
            yield Action(seen, _bits(words, group), LOOK_MIN + effort.condition(name)
                         + effort.reach(places_of_node(vehicle, part)))
