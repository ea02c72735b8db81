"""What the files say about the cars that they describe: options, choices, ranges, milestones, and
the car that they choose."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.reading import Cursor, Messages
from harnessdsl.plans.applies import (
    Band,
    Key,
    Term,
    Words,
    chassis_text,
    day_text,
    read_band,
    read_chassis,
    read_day,
    read_terms,
)
from harnessdsl.text import NOWHERE, Span

LINE_WORDS = ("option", "choice", "chassis", "built", "milestone", "with", "without")
"""Lines of the vehicle's block that this module reads; the vehicle itself never sees them."""
_RESERVED = ("option", "chassis", "built", "no", "not", "and", "or")


@dataclass(frozen=True, slots=True)
class Option:
    """Something that a car may or may not have, and the cars that it was made for."""

    name: str
    label: str = ""
    terms: tuple[Term, ...] = ()
    span: Span = NOWHERE


@dataclass(slots=True)
class Chosen:
    """What is settled so far; None where nothing was said."""

    options: dict[str, bool] = field(default_factory=dict)
    choices: dict[str, str] = field(default_factory=dict)
    chassis: Key | None = None
    built: Key | None = None
    spans: dict[str, Span] = field(default_factory=dict)
    """Where chassis and built were chosen."""


@dataclass(slots=True)
class Catalogue:
    """Everything that the files say about the cars that they describe."""

    options: dict[str, Option] = field(default_factory=dict)
    choices: dict[str, tuple[str, ...]] = field(default_factory=dict)
    ranges: dict[str, Band] = field(default_factory=dict)
    milestones: list[tuple[Key, Key]] = field(default_factory=list)
    """(chassis number, day on which it was built)"""
    chosen: Chosen = field(default_factory=Chosen)
    terms: list[Term] = field(default_factory=list)
    """Every term that some fact asks for."""
    span: Span = NOWHERE

    def words(self) -> Words:
        return Words(tuple(self.options), self.choices)

    def asks_for(self, dimension: str) -> bool:
        """Say whether any fact depends on the dimension."""
        return any(term.dimension == dimension for term in self.all_terms())

    def all_terms(self) -> Iterator[Term]:
        yield from self.terms
        for option in self.options.values():
            yield from option.terms

    def points(self, dimension: str) -> list[tuple[Key | None, str]]:
        """Return one value out of each stretch in which nothing changes, with its name."""
        starts: set[Key] = set()
        for term in self.all_terms():
            if term.dimension == dimension:
                for value in term.values:
                    if isinstance(value, Band):
                        if value.low is not None:
                            starts.add(value.low)
                        if value.high is not None:
                            starts.add((value.high[0], value.high[1] + 1))
        other = "built" if dimension == "chassis" else "chassis"
        if starts and self.asks_for(other):
            starts |= {pair[0 if dimension == "chassis" else 1] for pair in self.milestones}
        if not starts:
            return [(None, "")]
        whole = self.ranges.get(dimension)
        shown = chassis_text if dimension == "chassis" else day_text
        cuts = sorted(starts)
        below = (cuts[0][0], cuts[0][1] - 1)
        found: list[tuple[Key | None, str]] = []
        for low, high in itertools.pairwise([None, *cuts, None]):
            last = None if high is None else (high[0], high[1] - 1)
            key = low if low is not None else below
            if whole is not None:
                if (last is not None and whole.low is not None and last < whole.low) or (
                        low is not None and whole.high is not None and low > whole.high):
                    continue
                if whole.low is not None and key < whole.low:
                    key = whole.low
                if low is None and whole.low is not None:
                    key = whole.low
            if key[1] < 0:
                continue
            name = (f"{dimension} {'' if low is None else shown(low)}.."
                    f"{'' if last is None else shown(last)}")
            found.append((key, name))
        return found

    def fits_milestones(self, chassis: Key | None, built: Key | None) -> bool:
        """Say whether a car of this number can have been built on this day."""
        if chassis is None or built is None:
            return True
        return all((chassis >= number) == (built >= day) for number, day in self.milestones)


def read_catalogue(blocks: Iterable[Sequence[Fact]], messages: Messages, span: Span) -> Catalogue:
    """Return what the blocks of the vehicle and of its variants say, a later one overriding."""
    catalogue = Catalogue(span=span)
    lines = [line for block in blocks for line in block if line.word in LINE_WORDS]
    # names first, so that a line may speak of an option that is declared further down
    for line in lines:
        if line.word == "option":
            _declare_option(line, catalogue, messages)
        elif line.word == "choice":
            _declare_choice(line, catalogue, messages)
    for line in lines:
        cursor = Cursor(line, messages)
        if line.word == "option":
            _option_terms(cursor, catalogue)
        elif line.word in ("chassis", "built"):
            _range_or_value(cursor, catalogue)
        elif line.word == "milestone":
            _milestone(cursor, catalogue)
        elif line.word in ("with", "without"):
            _with(cursor, line.word == "with", catalogue)
        if cursor and line.word != "choice":
            cursor.unknown(cursor.take(), (), f"'{line.word}'")
    return catalogue


def _declare_option(line: Fact, catalogue: Catalogue, messages: Messages) -> None:
    cursor = Cursor(line, messages)
    name = cursor.name("an option")
    if name is None:
        return
    if name.text in catalogue.options:
        messages.duplicate("options", name.text, name.span, catalogue.options[name.text].span)
        return
    catalogue.options[name.text] = Option(name.text, cursor.label(), (), name.span)


def _option_terms(cursor: Cursor, catalogue: Catalogue) -> None:
    name = cursor.take_if("word", "number")
    if name is None or name.text not in catalogue.options:
        cursor.at = len(cursor.items)
        return
    cursor.label()
    head = cursor.peek()
    if head is not None and cursor.take_word("only"):
        terms = read_terms(cursor, catalogue.words(), head)
        before = catalogue.options[name.text]
        catalogue.options[name.text] = Option(before.name, before.label, terms or (), before.span)
        if terms is None:
            cursor.at = len(cursor.items)


def _declare_choice(line: Fact, catalogue: Catalogue, messages: Messages) -> None:
    cursor = Cursor(line, messages)
    name = cursor.name("a choice")
    if name is None:
        return
    if name.text in _RESERVED or name.text in catalogue.choices:
        cursor.error(f"a choice can't be called '{name.text}'" if name.text in _RESERVED else
                     f"there are two choices called '{name.text}'", "give it another name",
                     name.span, "duplicate-name")
        return
    values = [item.text for item in cursor.rest_names()]
    if len(values) < 2:
        cursor.error(f"choice '{name.text}' needs at least two values",
                     "write for example: choice market home continental", name.span)
        return
    catalogue.choices[name.text] = tuple(dict.fromkeys(values))


def _range_or_value(cursor: Cursor, catalogue: Catalogue) -> None:
    dimension = cursor.fact.word
    item = cursor.take_if("word", "number", "range", "date")
    band = read_band(dimension, item.text) if item is not None else None
    if item is None or band is None:
        what = "number" if dimension == "chassis" else "date"
        cursor.error(f"'{dimension}' needs a {what} or a range of them",
                     "write: chassis 38000..52999 for all cars of this file, chassis 41388 for "
                     "this very car" if dimension == "chassis" else
                     "write: built 1985-09..1987-06 for all cars of this file, built 1986-04 for "
                     "this very car", item.span if item else None, "bad-range")
        cursor.at = len(cursor.items)
    elif ".." in item.text:
        catalogue.ranges[dimension] = band
    else:
        catalogue.chosen.spans[dimension] = item.span
        if dimension == "chassis":
            catalogue.chosen.chassis = band.low
        else:
            catalogue.chosen.built = band.low


def _milestone(cursor: Cursor, catalogue: Catalogue) -> None:
    number = day = None
    while cursor:
        word = cursor.take()
        item = cursor.take_if("word", "number", "date")
        if word.text == "chassis" and item is not None:
            number = read_chassis(item.text)
        elif word.text == "built" and item is not None:
            day = read_day(item.text)
    if number is None or day is None:
        cursor.error("a milestone says which chassis number was built when",
                     "write: milestone chassis 41200 built 1986-03", cursor.fact.span)
    else:
        catalogue.milestones.append((number, day))


def _with(cursor: Cursor, wanted: bool, catalogue: Catalogue) -> None:
    while cursor:
        cursor.skip_commas()
        item = cursor.take_if("word", "number")
        if item is None:
            if cursor:
                cursor.unknown(cursor.take(), (), f"'{cursor.fact.word}'")
            continue
        if item.text in catalogue.choices and wanted:
            value = cursor.name(item.text)
            if value is not None:
                _choose(item.text, value, catalogue, cursor)
        elif item.text in catalogue.options:
            catalogue.chosen.options[item.text] = wanted
        else:
            known = [*catalogue.options, *catalogue.choices]
            cursor.error(f"there is no option '{item.text}'",
                         did_you_mean(item.text, known,
                                      f'declare it here: option {item.text} "..."'),
                         item.span, "unknown-option")


def _choose(name: str, value: Item, catalogue: Catalogue, cursor: Cursor) -> None:
    values = catalogue.choices[name]
    if value.text in values:
        catalogue.chosen.choices[name] = value.text
    else:
        cursor.error(f"there is no {name} '{value.text}'",
                     did_you_mean(value.text, values, f"it is one of: {', '.join(values)}"),
                     value.span, "unknown-choice")
