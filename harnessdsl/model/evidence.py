"""How sure one is of a fact, and who says so."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Trust(enum.IntEnum):
    """From guessed to measured; higher is surer."""

    GUESSED = 0
    COPIED = 1
    TRACED = 2
    MEASURED = 3

    @property
    def word(self) -> str:
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Evidence:
    """The trust in a fact, with source or note, date (ISO text) and person."""

    trust: Trust = Trust.GUESSED
    note: str = ""
    date: str = ""
    by: str = ""
    stated: bool = False
    """False when the file says nothing, which counts as guessed."""

    @property
    def verified(self) -> bool:
        """Seen on this very car: measured or traced."""
        return self.trust >= Trust.TRACED


UNSTATED = Evidence()
