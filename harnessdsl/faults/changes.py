"""What a fault changes in one condition, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from harnessdsl.faults.entries import LINEAR, Array, Index, Spec


@dataclass(slots=True)
class Change:
    """What a fault changes in one condition."""

    specs: dict[int, Spec] = field(default_factory=dict)
    """Port -> how it behaves now. Contacts are not here."""
    contacts: dict[int, Spec] = field(default_factory=dict)
    """Contacts that conduct otherwise when closed."""
    switched: dict[int, bool] = field(default_factory=dict)
    """Contacts whose switch lets them close, or does not, against what the condition says."""
    inverted: frozenset[int] = frozenset()
    opened: tuple[int, ...] = ()
    """Protection that is open from the start."""

    @property
    def only(self) -> tuple[int, float] | None:
        """(port, siemens) when all that changes is the conductance of one port."""
        if len(self.specs) != 1 or self.contacts or self.switched or self.inverted or self.opened:
            return None
        (port, spec), = self.specs.items()
        return (port, spec.figures[0]) if spec.kind == LINEAR else None


@dataclass(slots=True)
class Answer:
    """One fault in one condition: the source beside each port that is not as it was."""

    ports: Index
    amperes: Array
    """Extra current from a to b of each port, in amperes."""
    volts: Array
    slopes: Array
    """How the port's conductance differs now from the healthy one, in siemens."""
    energised: np.ndarray | None = None
    """Coils, where they differ from the healthy ones."""
    opened: tuple[int, ...] = ()
    """Ports of protection that opened."""
    chattering: bool = False
    failed: bool = False
    load_shift: tuple[Index, Array] | None = None
    """Loads that feel it and the change of their voltage, in volts; None where none does."""


NOTHING = Answer(np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0), np.zeros(0))
FAILED = Answer(np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0), np.zeros(0), failed=True)
"""For the long way of computing."""
NO_SHIFT: tuple[Index, Array] = (np.zeros(0, dtype=np.intp), np.zeros(0))
"""Of a fault in a load itself that no other load feels."""
