"""Which cars a file describes: declared options, choices and ranges, the one car that is chosen,
and all the combinations that exist."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from harnessdsl.diagnostics import Diagnostic, Severity, did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.reading import Cursor, Messages
from harnessdsl.plans.applies import (
    Band,
    Build,
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
MAX_BUILDS = 1024
_RESERVED = ("option", "chassis", "built", "no", "not", "and", "or")


@dataclass(frozen=True, slots=True)
class Selection:
    """What was chosen on the command line, as written: `with_names` holds options, and choices as
    NAME=VALUE."""

    with_names: tuple[str, ...] = ()
    without_names: tuple[str, ...] = ()
    chassis: str = ""
    built: str = ""


NOTHING_CHOSEN = Selection()


@dataclass(frozen=True, slots=True)
class Option:
    """Something that a car may or may not have, and the cars that it was made for."""

    name: str
    label: str = ""
    terms: tuple[Term, ...] = ()
    span: Span = NOWHERE


@dataclass(slots=True)
class _Chosen:
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
    chosen: _Chosen = field(default_factory=_Chosen)
    terms: list[Term] = field(default_factory=list)
    """Every term that some fact asks for."""
    span: Span = NOWHERE

    def words(self) -> Words:
        return Words(tuple(self.options), self.choices)

    def asks_for(self, dimension: str) -> bool:
        """Say whether any fact depends on the dimension."""
        return any(term.dimension == dimension for term in self._all_terms())

    def _all_terms(self) -> Iterator[Term]:
        yield from self.terms
        for option in self.options.values():
            yield from option.terms

    def points(self, dimension: str) -> list[tuple[Key | None, str]]:
        """Return one value out of each stretch in which nothing changes, with its name."""
        starts: set[Key] = set()
        for term in self._all_terms():
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


def _selected(catalogue: Catalogue, selection: Selection, messages: Messages) -> _Chosen:
    """Return what the files choose, overridden by the command line."""
    before = catalogue.chosen
    chosen = _Chosen(dict(before.options), dict(before.choices), before.chassis, before.built,
                     dict(before.spans))
    for name in selection.with_names:
        key, equals, value = name.partition("=")
        if equals and key in catalogue.choices:
            if value not in catalogue.choices[key]:
                messages.error("unknown-choice", f"there is no {key} '{value}'", catalogue.span,
                               did_you_mean(value, catalogue.choices[key], "it is one of: "
                                            + ", ".join(catalogue.choices[key])))
            else:
                chosen.choices[key] = value
        elif name in catalogue.options:
            chosen.options[name] = True
        else:
            _no_such_option(name, catalogue, messages)
    for name in selection.without_names:
        if name in catalogue.options:
            chosen.options[name] = False
        else:
            _no_such_option(name, catalogue, messages)
    if selection.chassis:
        chosen.spans.pop("chassis", None)
        chosen.chassis = read_chassis(selection.chassis)
        if chosen.chassis is None:
            messages.error("bad-range", f"'{selection.chassis}' is no chassis number",
                           catalogue.span, "give a number, such as 41388")
        elif not selection.built:
            chosen.built = None if before.chassis != chosen.chassis else before.built
    if selection.built:
        chosen.spans.pop("built", None)
        chosen.built = read_day(selection.built)
        if chosen.built is None:
            messages.error("bad-range", f"'{selection.built}' is no date", catalogue.span,
                           "write year-month or year-month-day, such as 1986-04")
        elif not selection.chassis:
            chosen.chassis = None
    return chosen


def _no_such_option(name: str, catalogue: Catalogue, messages: Messages) -> None:
    known = [*catalogue.options,
             *(f"{choice}={value}" for choice, values in catalogue.choices.items()
               for value in values)]
    messages.error("unknown-option", f"there is no option '{name}'", catalogue.span,
                   did_you_mean(name, known, "this file knows: " + ", ".join(known) if known
                                else "this file declares no options"))


def _dates_and_numbers(catalogue: Catalogue, chosen: _Chosen
                       ) -> Iterator[tuple[Key | None, str, Key | None, str]]:
    """Yield (chassis, its name, day, its name) for each pair that can belong to one car."""
    numbers = ([(chosen.chassis, f"chassis {chassis_text(chosen.chassis)}")]
               if chosen.chassis is not None else catalogue.points("chassis"))
    days = ([(chosen.built, f"built {day_text(chosen.built)}")]
            if chosen.built is not None else catalogue.points("built"))
    for number, number_name in numbers:
        for day, day_name in days:
            if catalogue.fits_milestones(number, day):
                yield number, number_name, day, day_name


def choose_build(catalogue: Catalogue, selection: Selection, messages: Messages) -> Build:
    """Return the one car that the files and the command line choose.

    What is left open becomes: options not fitted, the first value of a choice, the earliest
    chassis numbers and days that go with the rest; a note says so.
    """
    chosen = _selected(catalogue, selection, messages)
    _check_ranges(catalogue, chosen, messages)
    options = frozenset(name for name, wanted in chosen.options.items() if wanted)
    choices = {name: chosen.choices.get(name, values[0])
               for name, values in catalogue.choices.items()}
    first: Build | None = None
    missing: tuple[str, Term] | None = None
    for number, _, day, _ in _dates_and_numbers(catalogue, chosen):
        build = Build(options, choices, number, day)
        lacking = [(name, term) for name in sorted(options)
                   for term in catalogue.options[name].terms if not build.meets(term)]
        if not lacking:
            first = build
            break
        missing = missing or lacking[0]
    if first is None:
        if missing is not None:
            name, term = missing
            messages.error("no-such-build", f"no such car was made: option '{name}' exists only "
                           f"with {term}", catalogue.options[name].span,
                           "choose the two so that they go together")
        else:
            messages.error("no-such-build", "no such car was made: the chassis number and the "
                           "build date do not go together", catalogue.span,
                           "compare them with the milestones in the vehicle's block")
        return Build(options, choices, chosen.chassis, chosen.built)
    for dimension, key in (("chassis", chosen.chassis), ("built", chosen.built)):
        if key is None and len(catalogue.points(dimension)) > 1 and not (
                catalogue.milestones and (chosen.chassis or chosen.built)):
            what, example = (("chassis number", "chassis 41388, or --chassis 41388")
                             if dimension == "chassis" else
                             ("build date", "built 1986-04, or --built 1986-04"))
            messages.found.append(Diagnostic(
                Severity.NOTE, "build-not-chosen",
                f"facts depend on the {what}, and none is chosen: the earliest cars are shown",
                catalogue.span, f"write in the vehicle's block: {example}"))
    return first


def _check_ranges(catalogue: Catalogue, chosen: _Chosen, messages: Messages) -> None:
    for dimension, key in (("chassis", chosen.chassis), ("built", chosen.built)):
        whole = catalogue.ranges.get(dimension)
        if key is not None and whole is not None and not whole.holds(key):
            shown = chassis_text(key) if dimension == "chassis" else day_text(key)
            messages.error("no-such-build", f"{dimension} {shown} lies outside the cars of this "
                           f"file, {whole.text}", chosen.spans.get(dimension, catalogue.span),
                           "choose one of them, or widen the range in the vehicle's block")


@dataclass(frozen=True, slots=True)
class NamedBuild:
    """One combination that exists: `marks` are the things that tell it from others."""

    build: Build
    marks: tuple[str, ...]

    @property
    def name(self) -> str:
        return ", ".join(self.marks) if self.marks else "the only build"


def all_builds(catalogue: Catalogue, selection: Selection, messages: Messages
               ) -> list[NamedBuild]:
    """Return every combination that exists and goes with the command line, in a fixed order.

    Only what some fact depends on is varied. What the file itself chooses is not held fast: the
    question is about all cars, not this one.
    """
    open_catalogue = Catalogue(catalogue.options, catalogue.choices, catalogue.ranges,
                               catalogue.milestones, _Chosen(), catalogue.terms, catalogue.span)
    chosen = _selected(open_catalogue, selection, messages)
    _check_ranges(open_catalogue, chosen, messages)
    asked = {value for term in open_catalogue._all_terms() if term.dimension == "option"
             for value in term.values}
    varied = [name for name in catalogue.options if name in asked]
    count = 2 ** len([name for name in varied if name not in chosen.options])
    for values in catalogue.choices.values():
        count *= len(values)
    pairs = list(_dates_and_numbers(open_catalogue, chosen))
    if count * max(1, len(pairs)) > MAX_BUILDS:
        messages.error("too-many-builds", f"there are {count * len(pairs):,} combinations, more "
                       f"than {MAX_BUILDS:,}", catalogue.span,
                       "hold some of them fast with --with, --without, --chassis or --built")
        return []
    fixed = frozenset(n for n, wanted in chosen.options.items() if wanted and n not in varied)
    option_sets = itertools.product(*(
        [chosen.options[name]] if name in chosen.options else [False, True] for name in varied))
    value_sets = list(itertools.product(*(
        [chosen.choices[name]] if name in chosen.choices else values
        for name, values in catalogue.choices.items())))
    found: list[NamedBuild] = []
    for fitted in option_sets:
        options = fixed | {name for name, yes in zip(varied, fitted, strict=True) if yes}
        for values in value_sets:
            choices = dict(zip(catalogue.choices, values, strict=True))
            for number, number_name, day, day_name in pairs:
                build = Build(options, choices, number, day)
                if any(not build.meets(term) for name in options
                       for term in catalogue.options[name].terms):
                    continue
                marks = [("with " if name in options else "without ") + name for name in varied]
                marks += [f"{name} {value}" for name, value in choices.items()
                          if open_catalogue.asks_for(name)]
                marks += [name for name in (number_name, day_name) if name]
                found.append(NamedBuild(build, tuple(marks)))
    distinct: dict[tuple[str, ...], NamedBuild] = {}
    for each in found:
        distinct.setdefault(each.marks, each)
    return list(distinct.values())
