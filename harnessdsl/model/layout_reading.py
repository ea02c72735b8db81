"""Reads the items of one layout fact from left to right: words, lengths, points."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from harnessdsl.diagnostics import Diagnostic, Severity, did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.layout import Point3
from harnessdsl.model.outline import Point
from harnessdsl.model.quantity import Quantity
from harnessdsl.text import Span


class BadFact(Exception):
    """A fact that can't be read; carries its message to where the facts are looped over."""

    def __init__(self, diagnostic: Diagnostic) -> None:
        super().__init__(diagnostic.message)
        self.diagnostic = diagnostic


def bad(message: str, span: Span, hint: str | None = None, code: str = "layout-syntax") -> BadFact:
    return BadFact(Diagnostic(Severity.ERROR, code, message, span, hint))


class Items:
    """Reads the items of one fact from left to right."""

    def __init__(self, fact: Fact, form: str) -> None:
        self.fact = fact
        self.form = form
        """How the whole fact is written, for messages."""
        self.position = 1

    def peek(self) -> Item | None:
        items = self.fact.items
        return items[self.position] if self.position < len(items) else None

    def take(self, what: str) -> Item:
        item = self.peek()
        if item is None:
            last = self.fact.items[-1]
            raise bad(f"'{self.fact.word}' lacks {what}", last.span, f"write: {self.form}")
        self.position += 1
        return item

    def name(self, what: str) -> Item:
        item = self.take(what)
        if item.type not in ("word", "text"):
            raise bad(f"'{item.text}' stands where {what} belongs", item.span,
                       f"write: {self.form}")
        return item

    def label(self, otherwise: str) -> str:
        item = self.peek()
        if item is not None and item.type == "text":
            self.position += 1
            return item.text
        return otherwise

    def word(self, *words: str) -> bool:
        """Take the next item when it is one of the words."""
        item = self.peek()
        if item is not None and item.type == "word" and item.text in words:
            self.position += 1
            return True
        return False

    def expect(self, word: str) -> None:
        item = self.take(f"'{word}'")
        if item.text != word:
            raise bad(f"'{item.text}' stands where '{word}' belongs", item.span,
                       f"write: {self.form}")

    def number(self, what: str) -> float:
        """Take a bare number, in the view's own unit."""
        item = self.take(what)
        if item.type == "quantity":
            raise bad(f"'{item.text}' has a unit, but points are in the view's own unit",
                       item.span, "leave the unit out: 'scale' or 'ruler' says how long one is")
        if item.type != "number":
            raise bad(f"'{item.text}' stands where {what} belongs", item.span,
                       f"write: {self.form}")
        return float(item.text)

    def length_mm(self, what: str) -> float:
        """Take a length: millimetres unless it has a unit."""
        item = self.take(what)
        if item.type == "number":
            return float(item.text)
        millimetres = _length_mm(item)
        if millimetres is None:
            raise bad(f"'{item.text}' stands where {what} belongs, a length", item.span,
                       f"write: {self.form}")
        return millimetres

    def point(self, what: str, size: int, read: Callable[[str], float]) -> list[float]:
        """Take `size` figures with commas between them."""
        figures = [read(what)]
        while len(figures) < size:
            item = self.peek()
            if item is None or item.type != "comma":
                where = self.fact.items[self.position - 1].span
                raise bad(f"{what} needs {size} figures with commas between them, "
                           f"this has {len(figures)}", where, f"write: {self.form}")
            self.position += 1
            figures.append(read(what))
        return figures

    def pair(self, what: str) -> Point:
        first, second = self.point(what, 2, self.number)
        return (first, second)

    def triple_mm(self, what: str) -> Point3:
        start = self.position
        x, y, z = self.point(what, 3, self.length_mm)
        items = self.fact.items[start : self.position]
        unit = _length_unit_mm(items[-1])
        if unit != 1.0:  # `1.2, 0.4, 0.9 m`: the unit behind the last counts for all
            x, y = (
                value * unit if item.type == "number" else value
                for value, item in ((x, items[0]), (y, items[2]))
            )
        return (x, y, z)

    def done(self, known: Iterable[str] = ()) -> None:
        item = self.peek()
        if item is not None:
            raise bad(f"'{self.fact.word}' does not understand '{item.text}' here", item.span,
                       did_you_mean(item.text, known, f"write: {self.form}"))


def _length_mm(item: Item) -> float | None:
    if item.type != "quantity":
        return None
    digits = len(item.text.rstrip("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ%²µΩ°"))
    # a unit such as mm2 ends in a digit: then what is left is no number
    try:
        quantity = Quantity.of(float(item.text[:digits]), item.text[digits:].strip())
    except (ValueError, KeyError):
        return None
    return quantity.value * 1000 if quantity.dimension == "length" else None


def _length_unit_mm(item: Item) -> float:
    millimetres = _length_mm(item)
    if millimetres is None:
        return 1.0
    number = float(item.text.rstrip("cm ") or 1)
    return millimetres / number if number else 1.0
