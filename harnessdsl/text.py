"""Source text and positions in it: the ground floor, importing nothing of ours."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One file as read: the path as the user would write it, and its text."""

    path: str
    text: str

    def line(self, number: int) -> str:
        """Return line `number` (from 1) without its line end; empty past the end."""
        lines = self.text.split("\n")
        return lines[number - 1].rstrip("\r") if 0 < number <= len(lines) else ""


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of one line: lines and columns count from 1, `end_column` is exclusive."""

    path: str = ""
    line: int = 0
    column: int = 0
    end_column: int = 0

    def __str__(self) -> str:
        return f"{self.path}:{self.line}:{self.column}"

    def to(self, other: Span) -> Span:
        """Return the span from this one to the end of `other` (on this line only)."""
        if other.line != self.line or other.path != self.path:
            return self
        return Span(self.path, self.line, self.column, max(self.end_column, other.end_column))


NOWHERE = Span()
