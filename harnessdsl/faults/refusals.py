"""What the person can't do: a place, part or plug out of reach, a condition that can't be brought
about, an instrument that is not there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.circumstances import fits_when
from harnessdsl.faults.next_measurement import Action
from harnessdsl.faults.ranking import Weights
from harnessdsl.faults.refusal_words import WAYS


def allowed(case: Case, seen: Observation) -> bool:
    """Return whether nothing that was refused keeps the person from this step; places and parts are
    looked at where steps are made."""
    refused = {r.subject for r in case.refusals}
    if not refused:
        return True
    if seen.condition in refused or WAYS.get(seen.kind) in refused:
        return False
    return not (seen.unplugged and WAYS["unplug"] in refused)


def possible(case: Case, weights: Weights, actions: Iterable[Action]) -> Sequence[Action]:
    """Return the actions that nothing refused stands against, the best first: what is there only
    when it is hot (or moving) is looked for then."""
    found = [action for action in actions if allowed(case, action.observation)]
    bound = weights.bound_share()
    if bound < 0.2:
        return found
    conditions = weights.predictor.bench.vehicle.conditions

    def worth(action: Action) -> float:
        name = action.observation.condition
        there = not name or fits_when(conditions.get(name), weights.when)
        return action.score * (1.0 if there else 1.0 - bound)

    return sorted(found, key=lambda action: -worth(action))
