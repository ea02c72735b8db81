"""A fault: one thing that can be wrong, as changes to elements of the network."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from harnessdsl.electric.elements import Element, Law


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that can be wrong."""

    id: str
    mode: str
    words: str
    """What is wrong, in words: 'K2 Radiator fan relay: contact 30-87 does not close'."""
    part: str = ""
    wire: str = ""
    likelihood: float = 1.0
    laws: Mapping[str, Law] = field(default_factory=dict)
    added: tuple[Element, ...] = ()
    closed: Mapping[str, bool] = field(default_factory=dict)
    """Contacts whose switch side is held open (False) or closed (True)."""
    inverted: tuple[str, ...] = ()
    """Contacts whose relay works the other way round: the wrong relay is fitted."""
    only_when: str = ""
    """'' always, 'hot' or 'moving' only then."""
    thermal_shift_c: float = 0.0

    @property
    def subject(self) -> str:
        """The part or wire that it is about."""
        return self.part or self.wire

    def elements(self) -> list[str]:
        """Return the ids of elements that the fault touches."""
        return sorted({*self.laws, *self.closed, *self.inverted, *(e.id for e in self.added)})
