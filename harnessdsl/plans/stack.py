"""Files -> a stack: reads a file, everything that it builds on, and overlays on top of it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, Related, Severity, nearest
from harnessdsl.language.facts import Fact, Item
from harnessdsl.language.loader import Loaded, load_facts, load_text
from harnessdsl.model.reading import Cursor, Messages
from harnessdsl.plans.edits import VERBS
from harnessdsl.text import SourceFile, Span

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
    prepared: object | None = None
    """What `arrange` has worked out about it."""

    @property
    def readable(self) -> bool:
        """False when a file could not be read or parsed, so that nothing can be put on it."""
        return not any(d.severity is Severity.ERROR for d in self.diagnostics)


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
