"""The facts of a file: what the parser makes, before any word has a meaning."""

from __future__ import annotations

from dataclasses import dataclass

from harnessdsl.text import Span


@dataclass(frozen=True, slots=True)
class Item:
    """One item of a fact. `type` is word, text, number, quantity, range, date, arrow, equals
    or comma; `text` is the item as written, without quotes for type text."""

    type: str
    text: str
    path: str
    line: int
    column: int
    end_column: int

    @property
    def span(self) -> Span:
        return Span(self.path, self.line, self.column, self.end_column)


@dataclass(frozen=True, slots=True)
class Fact:
    """A line of items, with the facts in its braces (None when it has no braces)."""

    items: tuple[Item, ...]
    block: tuple[Fact, ...] | None
    end_line: int
    """The last line of the fact, braces included."""

    @property
    def head(self) -> Item:
        return self.items[0]

    @property
    def word(self) -> str:
        """The first word of the fact."""
        return self.items[0].text

    @property
    def span(self) -> Span:
        first, last = self.items[0], self.items[-1]
        return first.span.to(last.span)
