"""Files -> facts: reads a file and everything that it uses, each file once."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, Related, Severity, nearest
from harnessdsl.language.facts import Fact, Item
from harnessdsl.language.parser import MAX_FILE_CHARACTERS, parse_text
from harnessdsl.resources import data_folder
from harnessdsl.text import SourceFile, Span

MAX_USE_DEPTH = 40


@dataclass(slots=True)
class Loaded:
    """All facts in reading order, the files that they came from, and what went wrong."""

    facts: list[Fact] = field(default_factory=list)
    sources: dict[str, SourceFile] = field(default_factory=dict)
    diagnostics: list[Diagnostic] = field(default_factory=list)


def _error(code: str, message: str, span: Span, hint: str | None = None,
           related: tuple[Related, ...] = ()) -> Diagnostic:
    return Diagnostic(Severity.ERROR, code, message, span, hint, related)


def read_source(path: Path, shown: str, span: Span) -> SourceFile | Diagnostic:
    """Return the text of a file, or the message that says why it can't be read."""
    try:
        if path.is_dir():
            return _error("cannot-read", f"'{shown}' is a folder, not a file", span,
                          "name the file in it that holds the vehicle")
        if path.exists() and not path.is_file():
            return _error("cannot-read", f"'{shown}' is not an ordinary file", span,
                          "name a text file")
        if path.stat().st_size > 4 * MAX_FILE_CHARACTERS:
            return _error("file-too-large", f"'{shown}' is larger than "
                          f"{4 * MAX_FILE_CHARACTERS // 1_000_000} MB", span,
                          "a whole car takes far less: is this the right file?")
        data = path.read_bytes()
    except FileNotFoundError:
        siblings = []
        if path.parent.is_dir():
            siblings = [entry.name for entry in path.parent.iterdir() if entry.is_file()]
        near = nearest(path.name, siblings)
        hint = f"did you mean '{near}'?" if near else "check the name and the folder"
        return _error("no-such-file", f"there is no file '{shown}'", span, hint)
    except OSError as error:
        return _error("cannot-read", f"'{shown}' can't be read: {error.strerror or error}", span)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if b"\x00" in data[:4096]:
            message, hint = f"'{shown}' is not a text file", "save it as plain text (UTF-8)"
        else:
            line = data.count(b"\n", 0, error.start) + 1
            column = error.start - data.rfind(b"\n", 0, error.start)
            message = f"'{shown}' is not UTF-8 text: line {line}, column {column} can't be read"
            hint = "save it as UTF-8 in your editor"
        return _error("not-text", message, span, hint)
    return SourceFile(shown, text)


class _Loader:
    def __init__(self) -> None:
        self.loaded = Loaded()
        self.stack: list[Path] = []
        self.done: set[Path] = set()
        self.root = Path()

    def _shown(self, path: Path) -> str:
        relative = os.path.relpath(path, self.root)
        prefix = "" if self.base == "." else self.base + "/"
        if relative.startswith(".."):
            return str(path)
        return prefix + relative.replace(os.sep, "/")

    def load(self, path: Path) -> Loaded:
        resolved = Path(os.path.realpath(path))
        self.root = resolved.parent
        self.base = str(path.parent)
        source = read_source(resolved, str(path), Span(str(path), 0, 0, 0))
        if isinstance(source, Diagnostic):
            self.loaded.diagnostics.append(source)
            return self.loaded
        self._take(source, resolved)
        if not self.loaded.facts and not self.loaded.diagnostics:
            self.loaded.diagnostics.append(
                _error("empty-file", f"'{path}' holds no facts", Span(str(path), 1, 1, 2),
                       'begin with: vehicle "My car" { supply 12 V negative-earth }'))
        return self.loaded

    def _take(self, source: SourceFile, resolved: Path) -> None:
        self.done.add(resolved)
        self.stack.append(resolved)
        self.loaded.sources[source.path] = source
        facts, diagnostics = parse_text(source)
        self.loaded.diagnostics += diagnostics
        for fact in facts:
            if fact.head.type == "word" and fact.word == "use":
                self._use(fact, resolved.parent)
            else:
                self.loaded.facts.append(fact)
        self.stack.pop()

    def _use(self, fact: Fact, folder: Path) -> None:
        rest = list(fact.items[1:])
        shipped = bool(rest) and rest[0].text == "kinds" and rest[0].type == "word"
        if shipped:
            rest = rest[1:]
        if len(rest) != 1 or rest[0].type != "text" or fact.block is not None:
            self.loaded.diagnostics.append(
                _error("syntax", "'use' takes the name of one file in quotes", fact.span,
                       'write: use "relays.harness"'))
            return
        item = rest[0]
        base = data_folder("kinds") if shipped else folder
        limit = base.resolve() if shipped else self.root
        target = Path(os.path.realpath(base / item.text))
        if os.path.isabs(item.text) or not target.is_relative_to(limit):
            self.loaded.diagnostics.append(
                _error("use-outside-folder",
                       f"'{item.text}' lies outside the folder of the file that uses it",
                       item.span, "copy the file beside this one and use that"))
            return
        if target in self.stack:
            names = [self._shown(path) for path in self.stack[self.stack.index(target):]]
            self.loaded.diagnostics.append(
                _error("use-cycle", "files use one another in a circle: "
                       + " -> ".join([*names, self._shown(target)]), item.span,
                       "put what both need into a third file"))
            return
        if target in self.done:
            return
        if len(self.stack) > MAX_USE_DEPTH:
            self.loaded.diagnostics.append(
                _error("use-too-deep", f"files use one another more than {MAX_USE_DEPTH} deep",
                       item.span, "let one file use all of the others"))
            return
        shown = f"kinds/{item.text}" if shipped else self._shown(target)
        source = read_source(target, shown, self._quoted(item))
        if isinstance(source, Diagnostic):
            self.loaded.diagnostics.append(source)
            return
        self._take(source, target)

    @staticmethod
    def _quoted(item: Item) -> Span:
        return item.span


def load_facts(path: Path) -> Loaded:
    """Return the facts of `path` and of the files that it uses; nothing is raised for bad input."""
    return _Loader().load(path)


def load_text(text: str, name: str = "text.harness") -> Loaded:
    """Return the facts of a text that is in no file; it can use only shipped kinds."""
    loader = _Loader()
    loader.base = "."
    loader.root = Path(name).resolve().parent
    loader._take(SourceFile(name, text), Path(name).resolve())
    return loader.loaded
