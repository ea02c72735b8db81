"""A blown fuse hides what blew it: with it out, the car looks the same. A sound one tells, in the
condition in which the causes differ most."""

from __future__ import annotations

import math

import numpy as np

from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.effort import NEW_FUSE_MIN, Effort, places_of_node
from harnessdsl.faults.next_measurement import Action
from harnessdsl.faults.ranking import Verdict, Weights

LEAST_BITS = 0.2
SHOWN_SHARE = 0.02
"""Causes with less than this of the likeliest one's weight are not asked about."""


def fuse_question(weights: Weights, verdict: Verdict, case: Case) -> Action | None:
    """Return the step that tells the likeliest causes apart by a sound fuse; None when they have
    no blown fuse in common, or it would not tell."""
    if not verdict.classes:
        return None
    predictor = weights.predictor
    group = [verdict.causes[i] for i in verdict.classes[0]]
    group = [c for c in group if c.weight >= SHOWN_SHARE * group[0].weight]
    candidates = [c.candidate for c in group]
    share = np.asarray([c.weight for c in group])
    share = share / share.sum()
    effort = Effort.of(predictor.bench.vehicle, case)
    done = {(o.subject, o.condition) for o in case.observations if o.kind == "fuse"}
    best: Action | None = None
    for part in predictor.fuse_ids:
        if not all(predictor.fuse_blown(c, part) for c in candidates):
            continue
        for condition in predictor.bench.conditions:
            if (part, condition.name) in done:
                continue
            again = np.asarray(predictor.blows_again(condition.name, candidates, part))
            chance = float(share[again].sum())
            bits = -sum(p * math.log2(p) for p in (chance, 1 - chance) if p > 0)
            minutes = (NEW_FUSE_MIN + effort.condition(condition.name)
                       + effort.reach(places_of_node(predictor.bench.vehicle, part)))
            action = Action(Observation("fuse", part, condition=condition.name), bits, minutes)
            if bits >= LEAST_BITS and (best is None or action.score > best.score):
                best = action
    return best


def same_words(weights: Weights, verdict: Verdict, rank: int) -> str:
    """Return what it takes to tell the causes of a class apart."""
    predictor = weights.predictor
    first = verdict.causes[verdict.classes[rank][0]].weight
    candidates = [verdict.causes[i].candidate for i in verdict.classes[rank]
                  if verdict.causes[i].weight >= SHOWN_SHARE * first]
    for part in predictor.fuse_ids:
        if all(predictor.fuse_blown(c, part) for c in candidates) and any(
                len(set(predictor.blows_again(c.name, candidates, part))) > 1
                for c in predictor.bench.conditions):
            return f"the same until a sound {part} is put in"
    return "the same until opened"
