"""Other stable states of the relays in one condition: latches, and how each state is reached."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from harnessdsl.electric.circuit import Start
from harnessdsl.electric.settle import opened_indexes, settle, start_states

if TYPE_CHECKING:
    from harnessdsl.electric.operating_point import OperatingPoint, StableState

MOST_STATES = 16
"""Enough for four independent latches; a circuit with more says so by reaching the bound."""


def find_other_states(point: OperatingPoint) -> tuple[StableState, ...]:
    """Return the stable states other than the point's own.

    Each armature in turn is pushed to its other side by hand, from every stable state found; where
    it stays there, or takes others along, that is another state. All pulled in at once and all let
    go at once are tried too.
    """
    from harnessdsl.electric.operating_point import StableState

    network = point.network
    circuit = network.circuit
    coils = [circuit.elements[i] for i in circuit.coils]
    if not coils or point.failure or point.chattering:
        return ()
    names = [coil.id for coil in coils]
    own = start_states(circuit, [Start(point.energised)])[:, 0]
    opened = opened_indexes(circuit, point.opened)
    found: dict[bytes, str] = {own.tobytes(): ""}
    queue = [own]
    order: list[np.ndarray] = []
    first = True
    while queue and len(found) <= MOST_STATES:
        base = queue.pop(0)
        trials: list[tuple[np.ndarray, str]] = []
        for i, coil in enumerate(coils):
            pushed = base.copy()
            pushed[i] = not pushed[i]
            who = coil.part or coil.id
            moved = "pulled in" if pushed[i] else "let go"
            trials.append((pushed, f"{who} has {moved} for a moment"))
        if first:
            trials.append((np.ones_like(base), "all relays have pulled in for a moment"))
            trials.append((np.zeros_like(base), "all relays have let go for a moment"))
            first = False
        columns = np.stack([state for state, _ in trials], axis=1)
        outcomes, _ = settle([network] * len(trials), columns, [opened] * len(trials))
        for (_, how), outcome in zip(trials, outcomes, strict=True):
            key = outcome.energised.tobytes()
            if key in found or outcome.chattering or outcome.failure:
                continue
            before = found[base.tobytes()]
            found[key] = f"{before}, then {how}" if before else how
            order.append(outcome.energised)
            queue.append(outcome.energised)
    result = []
    for state in order:
        energised = frozenset(n for n, on in zip(names, state, strict=True) if on)
        result.append(StableState(energised, _words(point, coils, state, own,
                                                    found[state.tobytes()])))
    return tuple(result)


def _words(point: OperatingPoint, coils: list, state: np.ndarray,  # type: ignore[type-arg]
           own: np.ndarray, how: str) -> str:
    parts = []
    for coil, here, there in zip(coils, own, state, strict=True):
        if here != there:
            parts.append(f"{coil.part or coil.id} {'stays in' if there else 'stays out'}")
    return f"once {how}: {', '.join(parts)} in this same condition"
