"""The car that is chosen of those that the files describe, and all combinations that exist."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from harnessdsl.diagnostics import Diagnostic, Severity, did_you_mean
from harnessdsl.model.reading import Messages
from harnessdsl.plans.applies import (
    Build,
    Key,
    Term,
    chassis_text,
    day_text,
    read_chassis,
    read_day,
)
from harnessdsl.plans.catalogue import Catalogue, Chosen

MAX_BUILDS = 1024


@dataclass(frozen=True, slots=True)
class Selection:
    """What was chosen on the command line, as written: `with_names` holds options, and choices as
    NAME=VALUE."""

    with_names: tuple[str, ...] = ()
    without_names: tuple[str, ...] = ()
    chassis: str = ""
    built: str = ""


NOTHING_CHOSEN = Selection()


def _selected(catalogue: Catalogue, selection: Selection, messages: Messages) -> Chosen:
    """Return what the files choose, overridden by the command line."""
    before = catalogue.chosen
    chosen = Chosen(dict(before.options), dict(before.choices), before.chassis, before.built,
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


def _dates_and_numbers(catalogue: Catalogue, chosen: Chosen
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


def _check_ranges(catalogue: Catalogue, chosen: Chosen, messages: Messages) -> None:
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
                               catalogue.milestones, Chosen(), catalogue.terms, catalogue.span)
    chosen = _selected(open_catalogue, selection, messages)
    _check_ranges(open_catalogue, chosen, messages)
    asked = {value for term in open_catalogue.all_terms() if term.dimension == "option"
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
