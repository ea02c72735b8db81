"""What a fault does to the loads, relays and fuses in one condition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from harnessdsl.faults.entries import Array

DEAD_SHARE = 0.05
"""Below this share of its healthy power a load counts as dead."""
DIM_SHARE = 0.75
"""Below this share a lamp looks dim beside its twin, a motor turns slowly (common practice)."""
GLOW_SHARE = 0.02
"""Above this share of its rated power a load that should be off can be seen or heard."""
LIT_SHARE = 0.3

DEAD, DIM, WORKS, OFF, GLOWS, STAYS = range(6)
WORDS = ("dead", "dim", "works", "off", "glows", "stays on")
"""What a load does: the first three when it should work, the last three when it should not."""


@dataclass(frozen=True, slots=True)
class Effect:
    """One fault in one condition. Loads by their number in `Sweep.loads`."""

    states: Mapping[int, int]
    """Loads that do not do what they do in the healthy car -> what they do."""
    opened: tuple[str, ...] = ()
    """Ids of protection that the fault opens here."""
    chattering: bool = False
    failed: bool = False
    moved: Mapping[int, bool] = field(default_factory=dict)
    """Relay coils (by number) that stand otherwise than in the healthy car."""


SAME = Effect({})


def load_states(power: Array, healthy: Array, on: np.ndarray, rated_w: Array) -> np.ndarray:
    """Return what each load does, from its power and what it is in the healthy car."""
    share = power / np.maximum(healthy, 1e-9)
    rated = power / np.maximum(rated_w, 1e-9)
    works = np.where(share < DEAD_SHARE, DEAD, np.where(share < DIM_SHARE, DIM, WORKS))
    rests = np.where(rated < GLOW_SHARE, OFF, np.where(rated < LIT_SHARE, GLOWS, STAYS))
    # what only trickles in the healthy car is off there, and no change that small counts
    rests = np.where(power < 1.5 * healthy, OFF, rests)
    return np.where(on, works, rests)
