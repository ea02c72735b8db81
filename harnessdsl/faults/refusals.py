"""What the person can't do: a place, part or plug out of reach, a condition that can't be brought
about, an instrument that is not there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.cautions import may_be_done
from harnessdsl.faults.circumstances import fits_when
from harnessdsl.faults.next_measurement import Action
from harnessdsl.faults.ranking import Weights
from harnessdsl.faults.refusal_words import WAYS
from harnessdsl.faults.wiggle import wiggles


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
    """Return the actions that nothing refused and no airbag stands against, wiggling among them,
    the best first: what is there only when it is hot (or moving) is looked for then."""
    vehicle = weights.predictor.bench.vehicle
    more = wiggles(weights, case)
    found = [action for action in [*actions, *more] if allowed(case, action.observation)
             and may_be_done(vehicle, action.observation)]
    bound = weights.bound_share()
    if bound < 0.2 and not more:
        return found
    conditions = vehicle.conditions

    def worth(action: Action) -> float:
        name = action.observation.condition
        there = not name or fits_when(conditions.get(name), weights.when)
        return action.score * (1.0 if there or bound < 0.2 else 1.0 - bound)

    return sorted(found, key=lambda action: -worth(action))


def look_of(seen: Observation) -> tuple[str, str]:
    """Return what two steps have in common that are one to the person: the way and the thing."""
    return seen.kind, seen.subject.partition(".")[0]


def different(actions: Iterable[Action]) -> list[Action]:
    """Return the actions without those that repeat an earlier one at the same part."""
    found: dict[tuple[str, str], Action] = {}
    for action in actions:
        found.setdefault(look_of(action.observation), action)
    return list(found.values())
