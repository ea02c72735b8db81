"""Files -> the facts of one car: reads a base and the overlays on top of it, chooses the facts that
apply, and applies the overlays in order. The stage between loading and building."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, Related, Severity, nearest
from harnessdsl.language.facts import Fact, Item
from harnessdsl.language.loader import Loaded, load_facts, load_text
from harnessdsl.model.reading import Cursor, Messages
from harnessdsl.plans.applies import Build, Term, Words, read_terms
from harnessdsl.plans.builds import (
    LINE_WORDS,
    NOTHING_CHOSEN,
    Catalogue,
    NamedBuild,
    Selection,
    all_builds,
    choose_build,
    read_catalogue,
)
from harnessdsl.plans.edits import VERBS, Editor
from harnessdsl.plans.workspace import WireNames, Workspace, place_key
from harnessdsl.text import NOWHERE, SourceFile, Span

HEADS = ("variant", "plan")
"""Words that begin an overlay: what is different in some cars, or what is to be changed."""
MAX_STACK = 16


@dataclass(frozen=True, slots=True)
class Layer:
    """One file of the stack. The base has no head."""

    path: str
    label: str
    is_plan: bool
    head: Fact | None
    facts: tuple[Fact, ...]


@dataclass(slots=True)
class Stack:
    """The base and its overlays, bottom first, and what went wrong while they were read."""

    layers: list[Layer] = field(default_factory=list)
    sources: dict[str, SourceFile] = field(default_factory=dict)
    diagnostics: list[Diagnostic] = field(default_factory=list)
    prepared: _Prepared | None = None

    @property
    def readable(self) -> bool:
        """False when a file could not be read or parsed, so that nothing can be put on it."""
        return not any(d.severity is Severity.ERROR for d in self.diagnostics)


@dataclass(slots=True)
class _Prepared:
    """The catalogue, and the facts of each layer with the terms that they ask for."""

    catalogue: Catalogue
    layers: list[list[_Conditional]]
    messages: Messages


@dataclass(frozen=True, slots=True)
class _Conditional:
    fact: Fact
    terms: tuple[Term, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """The facts of one car, ready to be built, with every message about the way there."""

    facts: list[Fact]
    sources: dict[str, SourceFile]
    diagnostics: list[Diagnostic]
    label: str = ""
    """The name of the topmost overlay, '' for a base alone."""


# reading

class _Reader:
    def __init__(self) -> None:
        self.stack = Stack()
        self.trail: list[Path] = []

    def read(self, path: Path) -> None:
        """Put the file, and before it everything that it builds on, onto the stack."""
        self.trail.append(Path(os.path.realpath(path)))
        self.take(load_facts(path), path)

    def take(self, loaded: Loaded, path: Path | None) -> None:
        shown = str(path) if path is not None else next(iter(loaded.sources), "")
        self.stack.sources.update(loaded.sources)
        self.stack.diagnostics += loaded.diagnostics
        head: Fact | None = None
        rest: list[Fact] = []
        for number, fact in enumerate(loaded.facts):
            if fact.head.type != "word" or fact.word not in HEADS or not _looks_like_head(fact):
                rest.append(fact)
            elif number or fact.head.path != shown:
                self._error("syntax", f"'{fact.word}' must be the first fact of its file",
                            fact.head.span,
                            "an overlay is a file of its own; it is not read with 'use'")
            else:
                head = fact
        label = ""
        if head is not None:
            label = self._base_of(head, path)
        elif self.stack.readable:
            rest = self._without_verbs(rest)
        self.stack.layers.append(Layer(shown, label, head is not None and head.word == "plan",
                                       head, tuple(rest)))

    def _error(self, code: str, message: str, span: Span, hint: str | None = None,
               related: tuple[Related, ...] = ()) -> None:
        self.stack.diagnostics.append(
            Diagnostic(Severity.ERROR, code, message, span, hint, related))

    def _without_verbs(self, facts: Sequence[Fact]) -> list[Fact]:
        """Return the facts of a base; what only an overlay can say is reported."""
        kept = []
        for fact in facts:
            if fact.head.type != "word" or fact.word not in VERBS:
                kept.append(fact)
            else:
                self._error("no-base", f"'{fact.word}' changes a base, and this file has none",
                            fact.head.span, "let the file begin with: variant \"what is different\""
                            " of \"base.harness\"")
        return kept

    def _base_of(self, head: Fact, path: Path | None) -> str:
        """Read the file that an overlay builds on; return the overlay's name."""
        messages = Messages(self.stack.diagnostics)
        cursor = Cursor(head, messages)
        label = cursor.label()
        if not label.strip():
            cursor.error(f"a {head.word} needs its name in quotes",
                         f'write: {head.word} "what is different" of "base.harness"')
        if not cursor.take_word("of"):
            cursor.error(f"a {head.word} says what it is of",
                         f'write: {head.word} "{label or "what is different"}" of "base.harness"')
            return label
        item = cursor.take_if("text")
        if item is None:
            cursor.error("'of' needs the name of a file in quotes", 'write: of "base.harness"')
            return label
        if cursor:
            cursor.unknown(cursor.take(), (), f"a {head.word}")
        if path is None:
            self._error("no-such-file", "a text that is in no file can't build on another file",
                        item.span, "save it beside its base")
            return label
        self._read_base(item, path)
        return label

    def _read_base(self, item: Item, path: Path) -> None:
        folder = path.parent
        target = Path(os.path.realpath(folder / item.text))
        if os.path.isabs(item.text) or not target.is_relative_to(os.path.realpath(folder)):
            self._error("use-outside-folder", f"'{item.text}' lies outside the folder of the file "
                        "that builds on it", item.span, "put the two into one folder")
            return
        if target in self.trail:
            names = [p.name for p in self.trail[self.trail.index(target):]]
            self._error("variant-cycle", "overlays build on one another in a circle: "
                        + " -> ".join([*names, target.name]), item.span,
                        "one of them must be a base: a file with a vehicle of its own")
            return
        if len(self.trail) >= MAX_STACK:
            self._error("variant-cycle", f"more than {MAX_STACK} files build on one another",
                        item.span, "put some of them together")
            return
        if not target.is_file():
            siblings = [p.name for p in sorted(folder.glob("*.harness"))]
            near = nearest(item.text, siblings)
            self._error("no-such-file", f"there is no file '{item.text}'" if not target.is_dir()
                        else f"'{item.text}' is a folder", item.span,
                        f"did you mean '{near}'?" if near else
                        "check the name: it is looked for beside this file")
            return
        self.read(folder / item.text)


def _looks_like_head(fact: Fact) -> bool:
    """Tell `variant "..." of "..."` from a part of a kind that happens to have this name."""
    return len(fact.items) < 2 or fact.items[1].type == "text" or fact.items[1].text == "of"


def read_stack(path: Path, overlays: Sequence[Path] = ()) -> Stack:
    """Return the file with everything that it builds on, and further overlays on top."""
    reader = _Reader()
    reader.read(path)
    for overlay in overlays:
        _put_on_top(reader.stack, overlay)
    return reader.stack


def read_text_stack(text: str, name: str) -> Stack:
    """Return a text that is in no file as a stack of one layer."""
    reader = _Reader()
    reader.take(load_text(text, name), None)
    return reader.stack


def put_text_on_top(stack: Stack, text: str, name: str) -> None:
    """Put an overlay that is in no file yet on a stack."""
    _put_loaded_on_top(stack, load_text(text, name), name)


def _put_on_top(stack: Stack, overlay: Path) -> None:
    """Put an overlay on a stack that may be another one than the overlay names."""
    _put_loaded_on_top(stack, load_facts(overlay), str(overlay))


def _put_loaded_on_top(stack: Stack, loaded: Loaded, shown: str) -> None:
    stack.sources.update(loaded.sources)
    stack.diagnostics += loaded.diagnostics
    head = loaded.facts[0] if loaded.facts else None
    if head is None or head.word not in HEADS:
        if head is not None:
            stack.diagnostics.append(Diagnostic(
                Severity.ERROR, "syntax", "this file is no overlay: it can't be put on another",
                head.head.span, 'let it begin with: variant "what is different" of "base.harness"'))
        return
    label = head.items[1].text if len(head.items) > 1 and head.items[1].type == "text" else ""
    stack.layers.append(Layer(shown, label, head.word == "plan", head,
                              tuple(loaded.facts[1:])))


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
    if stack.prepared is not None:
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
    stack.prepared = _Prepared(catalogue, layers, messages)
    return stack.prepared


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


