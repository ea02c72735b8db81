"""What the person can't do: a place, part or plug out of reach, a condition that can't be brought
about, an instrument that is not there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.next_measurement import Action
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


def possible(case: Case, actions: Iterable[Action]) -> Sequence[Action]:
    """Return the actions that nothing refused stands against, in their order."""
    return [action for action in actions if allowed(case, action.observation)]
