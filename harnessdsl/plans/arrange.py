"""A stack of files -> the facts of one car: chooses the facts that apply to it and applies the
overlays in order. The stage between loading and building."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from harnessdsl.diagnostics import Diagnostic
from harnessdsl.language.facts import Fact
from harnessdsl.model.reading import Cursor, Messages
from harnessdsl.plans.applies import Build, Term, Words, read_terms
from harnessdsl.plans.builds import (
    NOTHING_CHOSEN,
    NamedBuild,
    Selection,
    all_builds,
    choose_build,
)
from harnessdsl.plans.catalogue import LINE_WORDS, Catalogue, read_catalogue
from harnessdsl.plans.edits import Editor
from harnessdsl.plans.stack import Stack
from harnessdsl.plans.workspace import WireNames, Workspace, place_key
from harnessdsl.text import NOWHERE, SourceFile


@dataclass(frozen=True, slots=True)
class _Conditional:
    fact: Fact
    terms: tuple[Term, ...]


@dataclass(slots=True)
class _Prepared:
    """The catalogue, and the facts of each layer with the terms that they ask for."""

    catalogue: Catalogue
    layers: list[list[_Conditional]]
    messages: Messages


@dataclass(frozen=True, slots=True)
class Facts:
    """The facts of one car, ready to be built, with every message about the way there."""

    facts: list[Fact]
    sources: dict[str, SourceFile]
    diagnostics: list[Diagnostic]
    label: str = ""
    """The name of the topmost overlay, '' for a base alone."""


# conditions of facts

def _split_vehicle(fact: Fact) -> tuple[Fact, tuple[Fact, ...]]:
    """Return the fact without the lines about builds, and those lines."""
    lines = tuple(line for line in fact.block or () if line.word in LINE_WORDS)
    if not lines or fact.block is None:
        return fact, ()
    return replace(fact, block=tuple(line for line in fact.block if line not in lines)), lines


class _ConditionReader:
    """Takes `when` blocks and `only` attributes off facts."""

    def __init__(self, words: Words, messages: Messages) -> None:
        self.words = words
        self.messages = messages
        self.terms: list[Term] = []

    def spread(self, facts: Iterable[Fact], outer: tuple[Term, ...] = ()) -> list[_Conditional]:
        """Return facts with all terms around them, the braces of `when` taken away."""
        found: list[_Conditional] = []
        for fact in facts:
            if fact.head.type == "word" and fact.word == "when":
                found += self._when(fact, outer)
                continue
            bare, own = self._only(fact)
            found.append(_Conditional(bare, (*outer, *own)))
        return found

    def _when(self, fact: Fact, outer: tuple[Term, ...]) -> list[_Conditional]:
        cursor = Cursor(fact, self.messages)
        terms = read_terms(cursor, self.words, fact.head)
        if terms is not None and cursor:
            cursor.unknown(cursor.take(), ("and", "or"), "'when'")
        if fact.block is None:
            cursor.error("'when' holds facts in braces", "write: when option NAME { ... }; for "
                         "one fact alone, put at its end: only option NAME", fact.span)
        for inner in fact.block or ():
            if inner.head.type == "word" and inner.word == "use":
                self.messages.error("syntax", "'use' can't stand inside 'when'", inner.head.span,
                                    "put 'when' into the file that is used")
        if terms is None:
            return []
        self.terms += terms
        return self.spread((f for f in fact.block or () if f.word != "use"), (*outer, *terms))

    def _only(self, fact: Fact) -> tuple[Fact, tuple[Term, ...]]:
        for number, item in enumerate(fact.items):
            if number < 2 or item.type != "word" or item.text != "only":
                continue
            cursor = Cursor(fact, self.messages, start=number + 1)
            terms = read_terms(cursor, self.words, item)
            stop = cursor.at if terms is not None else len(fact.items)
            self.terms += terms or ()
            bare = replace(fact, items=fact.items[:number] + fact.items[stop:])
            return bare, terms or ()
        return fact, ()

    def inside(self, fact: Fact, build: Build) -> Fact:
        """Return the fact with the lines of its block that apply to `build`."""
        if fact.block is None:
            return fact
        return replace(fact, block=tuple(
            self.inside(each.fact, build) for each in _ConditionReader(
                self.words, Messages()).spread(fact.block)
            if all(build.meets(term) for term in each.terms)))

    def collect_inside(self, fact: Fact) -> None:
        """Read the terms in a fact's block, for their mistakes and for what they ask for."""
        for each in self.spread(fact.block or ()):
            self.collect_inside(each.fact)


def _prepare(stack: Stack) -> _Prepared:
    if isinstance(stack.prepared, _Prepared):
        return stack.prepared
    messages = Messages()
    blocks: list[Sequence[Fact]] = []
    span = NOWHERE
    split: list[list[Fact]] = []
    for layer in stack.layers:
        kept: list[Fact] = []
        if layer.head is not None:
            blocks.append(layer.head.block or ())
        for fact in layer.facts:
            is_change = fact.word == "change" and len(fact.items) > 1 and (
                fact.items[1].text == "vehicle")
            if fact.head.type == "word" and (fact.word == "vehicle" or is_change):
                span = span if span.line else fact.span
                bare, lines = _split_vehicle(fact)
                blocks.append(lines)
                fact = bare
            kept.append(fact)
        split.append(kept)
    catalogue = read_catalogue(blocks, messages, span)
    reader = _ConditionReader(catalogue.words(), messages)
    layers = [reader.spread(facts) for facts in split]
    for conditionals in layers:
        for each in conditionals:
            reader.collect_inside(each.fact)
    catalogue.terms = reader.terms
    prepared = _Prepared(catalogue, layers, messages)
    stack.prepared = prepared
    return prepared


# putting it together

def _variant_lines(head: Fact, label: str) -> Fact:
    """Return the lines behind `variant` as a change of the vehicle."""
    lines = [line for line in head.block or () if line.word not in LINE_WORDS]
    if not any(line.word == "build" for line in lines):
        text = next((item for item in head.items[1:] if item.type == "text"), None)
        if text is not None and label:
            lines.append(Fact((replace(head.head, type="word", text="build"), text), None,
                              head.head.line))
    word = replace(head.head, type="word", text="change")
    return Fact((word, replace(word, text="vehicle")), tuple(lines), head.end_line)


def _wire_names() -> WireNames:
    """Return the way to ask the builder for the names of wires; it is only asked when needed."""

    def names(facts: Sequence[Fact]) -> dict[tuple[str, int, int], list[str]]:
        from harnessdsl.model.builder import build_vehicle
        from harnessdsl.model.kind_shelf import shipped_kinds

        vehicle, _ = build_vehicle(facts, shipped_kinds())
        found: dict[tuple[str, int, int], list[str]] = {}
        chains: dict[tuple[str, int, int], str] = {}
        for wire in vehicle.wires.values():
            found.setdefault(place_key(wire.span), []).append(wire.name)
            if wire.chain:
                chains[place_key(wire.span)] = wire.chain
        for key, chain in chains.items():
            found[key].append(chain)
        return found

    return names


def facts_of(stack: Stack, build: Build, upto: int | None = None) -> Facts:
    """Return the facts of one car, with the overlays up to layer number `upto` applied."""
    prepared = _prepare(stack)
    messages = Messages(list(prepared.messages.found))
    reader = _ConditionReader(prepared.catalogue.words(), Messages())
    space = Workspace(messages, _wire_names())
    conditional = bool(prepared.catalogue.terms)
    label = ""
    for number, layer in enumerate(stack.layers[:upto]):
        applying: list[Fact] = []
        for each in prepared.layers[number]:
            missing = [term for term in each.terms if not build.meets(term)]
            if missing:
                space.left_out.append((each.fact, str(missing[0])))
            else:
                applying.append(reader.inside(each.fact, build) if conditional else each.fact)
        if layer.head is None:
            space.facts += applying
            continue
        label = layer.label
        Editor(space).apply([_variant_lines(layer.head, layer.label), *applying])
    return Facts(space.facts, stack.sources, [*stack.diagnostics, *messages.found], label)


def arrange(stack: Stack, selection: Selection = NOTHING_CHOSEN, upto: int | None = None) -> Facts:
    """Return the facts of the car that the files and the command line choose."""
    if not stack.readable:
        # something can't be read: what an overlay says about it can't be judged
        plain = [each.fact for each in _prepare(stack).layers[0] if not each.terms]
        return Facts(plain, stack.sources, stack.diagnostics)
    prepared = _prepare(stack)
    messages = Messages()
    build = choose_build(prepared.catalogue, selection, messages)
    facts = facts_of(stack, build, upto)
    return replace(facts, diagnostics=[*facts.diagnostics, *messages.found])


def builds_of(stack: Stack, selection: Selection = NOTHING_CHOSEN
              ) -> tuple[list[NamedBuild], list[Diagnostic]]:
    """Return every combination that exists, and what is wrong with the question."""
    prepared = _prepare(stack)
    messages = Messages()
    return all_builds(prepared.catalogue, selection, messages), messages.found


