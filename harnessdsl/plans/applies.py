"""To which cars a fact applies: chassis ranges, build dates, options and one-of choices.

`when option air-conditioning { ... }` holds for a block of facts, `only chassis 41200..` at the end
of a fact for this one. Terms are joined by `and`, values by `or`, and `no` turns a term round.
"""

from __future__ import annotations

import calendar
import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Item
from harnessdsl.model.reading import Cursor
from harnessdsl.text import NOWHERE, Span

Key = tuple[str, int]
"""A chassis number as (letters, number), or a day as ('', ordinal): both can be compared."""

_CHASSIS = re.compile(r"(\S*?)(\d+)")


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of chassis numbers or days, both ends included; None is open."""

    low: Key | None
    high: Key | None
    text: str = field(default="", compare=False)

    def holds(self, key: Key) -> bool:
        return (self.low is None or self.low <= key) and (self.high is None or key <= self.high)


@dataclass(frozen=True, slots=True)
class Term:
    """One thing that must hold: `dimension` is option, chassis, built or the name of a choice."""

    dimension: str
    values: tuple[str | Band, ...]
    negated: bool = False
    span: Span = field(default=NOWHERE, compare=False)

    def __str__(self) -> str:
        shown = " or ".join(v.text if isinstance(v, Band) else v for v in self.values)
        return f"{'no ' if self.negated else ''}{self.dimension} {shown}"


@dataclass(frozen=True, slots=True)
class Build:
    """One car of all that a file describes: everything that terms can ask for is settled."""

    options: frozenset[str] = frozenset()
    choices: Mapping[str, str] = field(default_factory=dict)
    chassis: Key | None = None
    built: Key | None = None

    def key_of(self, dimension: str) -> Key | None:
        return self.chassis if dimension == "chassis" else self.built

    def meets(self, term: Term) -> bool:
        """Say whether this car is one that `term` asks for."""
        if term.dimension == "option":
            found = any(value in self.options for value in term.values)
        elif term.dimension in ("chassis", "built"):
            key = self.key_of(term.dimension)
            found = key is not None and any(
                isinstance(value, Band) and value.holds(key) for value in term.values)
        else:
            found = self.choices.get(term.dimension) in term.values
        return found != term.negated


def read_chassis(text: str) -> Key | None:
    """Return a chassis number such as 41200 or BT41200 as a key; None when it is none."""
    match = _CHASSIS.fullmatch(text)
    return (match[1], int(match[2])) if match else None


def read_day(text: str, last: bool = False) -> Key | None:
    """Return a date as a key; a month alone is its first day, or its last when `last`."""
    match = re.fullmatch(r"(\d{4})-(\d{2})(?:-(\d{2}))?", text)
    if not match:
        return None
    year, month = int(match[1]), int(match[2])
    if not (1 <= month <= 12 and year >= 1):
        return None
    days = calendar.monthrange(year, month)[1]
    day = int(match[3]) if match[3] else (days if last else 1)
    return ("", datetime.date(year, month, day).toordinal()) if 1 <= day <= days else None


def day_text(key: Key) -> str:
    """Return a day's key as written: 1986-03-14."""
    return datetime.date.fromordinal(key[1]).isoformat()


def chassis_text(key: Key) -> str:
    """Return a chassis number's key as written."""
    return f"{key[0]}{key[1]}"


def read_band(dimension: str, text: str) -> Band | None:
    """Return `41200..`, `..1986-02`, `41200..41999` or a single value as a band, or None."""
    low_text, dots, high_text = text.partition("..")
    if not dots:
        high_text = low_text
    if not low_text and not high_text:
        return None

    def key(word: str, last: bool) -> Key | None:
        return read_chassis(word) if dimension == "chassis" else read_day(word, last)

    low = key(low_text, False) if low_text else None
    high = key(high_text, True) if high_text else None
    if (low_text and low is None) or (high_text and high is None):
        return None
    if low is not None and high is not None and low > high:
        return None
    return Band(low, high, text)


BAND_EXAMPLES = {"chassis": "chassis 41200.. (from), ..41199 (up to) or 41200..41999",
                 "built": "built 1986-03.. (from), ..1986-02 (up to) or 1986-03..1987-06"}


@dataclass(frozen=True, slots=True)
class Words:
    """What terms may ask for: declared options, and choices with their values."""

    options: tuple[str, ...] = ()
    choices: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def dimensions(self) -> list[str]:
        return ["option", "chassis", "built", *self.choices]


def _value(cursor: Cursor, dimension: str, words: Words) -> str | Band | None:
    item = cursor.peek()
    if item is None or item.type in ("arrow", "equals", "comma"):
        example = BAND_EXAMPLES.get(dimension, f"{dimension} NAME")
        cursor.error(f"'{dimension}' needs to say which", f"write for example: {example}")
        return None
    cursor.take()
    if dimension in BAND_EXAMPLES:
        band = read_band(dimension, item.text)
        if band is None:
            cursor.error(f"'{item.text}' is no range of {_PLURALS[dimension]}",
                         f"write for example: {BAND_EXAMPLES[dimension]}", item.span, "bad-range")
        return band
    known = words.options if dimension == "option" else words.choices[dimension]
    if item.text not in known:
        what = "option" if dimension == "option" else dimension
        where = ("declare it in the vehicle's block: option "
                 f'{item.text} "..."' if dimension == "option"
                 else f"it is one of: {', '.join(known)}")
        cursor.error(f"there is no {what} '{item.text}'", did_you_mean(item.text, known, where),
                     item.span, f"unknown-{'option' if dimension == 'option' else 'choice'}")
        return None
    return item.text


_PLURALS = {"chassis": "chassis numbers", "built": "dates"}


def read_terms(cursor: Cursor, words: Words, head: Item) -> tuple[Term, ...] | None:
    """Return the terms from the cursor on, or None when they make no sense (which is reported).

    Reading stops behind the last value: what follows belongs to the fact.
    """
    terms: list[Term] = []
    good = True
    while True:
        start = cursor.here
        negated = cursor.take_word("no") or cursor.take_word("not")
        dimension = cursor.peek()
        if dimension is None or dimension.text not in words.dimensions():
            hint = None if dimension is None else did_you_mean(
                dimension.text, words.dimensions())
            cursor.error(f"'{head.text}' does not say for which cars",
                         hint or f"write for example: {head.text} option NAME, {head.text} "
                         f"chassis 41200.., {head.text} built 1986-03..",
                         dimension.span if dimension else head.span)
            return None
        cursor.take()
        values: list[str | Band] = []
        while True:
            value = _value(cursor, dimension.text, words)
            if value is None:
                good = False
            else:
                values.append(value)
            if not cursor.take_word("or"):
                break
        terms.append(Term(dimension.text, tuple(values), negated, start.to(dimension.span)))
        if not cursor.take_word("and"):
            return tuple(terms) if good else None
