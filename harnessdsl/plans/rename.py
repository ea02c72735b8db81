"""Renames a part, a wire or a place in all files of a vehicle: facts -> edits of text."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.text import SourceFile

_SECTIONS = frozenset({"vehicle", "place", "wire", "cable", "run", "circuit", "condition", "kind",
                       "accept", "conductor", "evidence", "caution", "use"})
_NAME = re.compile(r"[^\W_][\w-]*\Z")


@dataclass(frozen=True, slots=True)
class Edit:
    """Replace `old` at a place of a file by `new`."""

    path: str
    line: int
    column: int
    old: str
    new: str


def what_is_called(vehicle: Vehicle, name: str) -> list[str]:
    """Return which of 'part', 'place' and 'wire' are called `name`."""
    chains = {wire.chain for wire in vehicle.wires.values()}
    groups = {"part": name in vehicle.parts, "place": name in vehicle.places,
              "wire": name in vehicle.wires or name in chains}
    return [group for group, there in groups.items() if there]


def is_taken(vehicle: Vehicle, group: str, name: str) -> bool:
    """Say whether another thing of the same group has the name."""
    return group in what_is_called(vehicle, name)


def is_plain_name(name: str) -> bool:
    """Say whether a name can be written in a file without quotes."""
    return _NAME.match(name) is not None


class _Renaming:
    def __init__(self, vehicle: Vehicle, group: str, old: str, new: str) -> None:
        self.vehicle, self.group, self.old, self.new = vehicle, group, old, new
        self.wire_names = self._automatic_names()

    def _automatic_names(self) -> dict[str, str]:
        """Names that wires got from their ends change with the part."""
        found: dict[str, str] = {}
        if self.group == "part":
            for wire in self.vehicle.wires.values():
                if wire.name.startswith(f"{wire.a}-{wire.b}"):
                    tail = wire.name[len(f"{wire.a}-{wire.b}"):]
                    ends = [self.reference(str(end)) or str(end) for end in (wire.a, wire.b)]
                    name = "-".join(ends) + tail
                    if name != wire.name:
                        found[wire.name] = name
        elif self.group == "wire":
            for name in self.vehicle.wires:
                if name == self.old or name.startswith(f"{self.old}:"):
                    found[name] = self.new + name[len(self.old):]
            found[self.old] = self.new
        return found

    def reference(self, text: str) -> str | None:
        """Return `NEW.30` for `OLD.30`, None when the text is about something else."""
        name, dot, rest = text.partition(".")
        return f"{self.new}{dot}{rest}" if name == self.old else None

    def changes(self, fact: Fact) -> Iterator[tuple[Item, str]]:
        """Yield the items of a top-level fact that change, with their new text."""
        word = fact.word
        if word in ("run", "cable"):
            yield from self._in_bundle(fact)
        elif word == "accept":
            for item in fact.items[2:3]:
                new = self.wire_names.get(item.text) or (
                    self.new if item.text == self.old else None)
                if new:
                    yield item, new
        elif self.group == "part":
            yield from self._part(fact)
        elif self.group == "place":
            yield from self._place(fact)
        elif word == "wire" and len(fact.items) > 3 and fact.items[1].text == self.old and (
                fact.items[3].type == "arrow"):
            yield fact.items[1], self.new

    def _part(self, fact: Fact) -> Iterator[tuple[Item, str]]:
        if fact.word == "wire":
            arrows = [i for i, item in enumerate(fact.items) if item.type == "arrow"]
            for index in {arrows[0] - 1, *(i + 1 for i in arrows)} if arrows else set():
                if index < len(fact.items):
                    new = self.reference(fact.items[index].text)
                    if new:
                        yield fact.items[index], new
        elif fact.word in ("circuit", "condition"):
            facts = [*(fact.block or ())]
            items = [item for inner in facts for item in inner.items]
            if fact.word == "condition":
                items += fact.items[2:]
            for i, item in enumerate(items):
                value = i > 0 and items[i - 1].type == "equals"
                new = self.reference(item.text) if item.type != "text" and not value else None
                if new:
                    yield item, new
        elif fact.word not in _SECTIONS:
            if len(fact.items) > 1 and fact.items[1].text == self.old:
                yield fact.items[1], self.new
            yield from self._after(fact, "of")

    def _place(self, fact: Fact) -> Iterator[tuple[Item, str]]:
        if fact.word == "place" and len(fact.items) > 1 and fact.items[1].text == self.old:
            yield fact.items[1], self.new
        if fact.word == "place" or fact.word not in _SECTIONS:
            yield from self._after(fact, "in")

    def _after(self, fact: Fact, word: str) -> Iterator[tuple[Item, str]]:
        for before, item in zip(fact.items[1:], fact.items[2:], strict=False):
            if before.type == "word" and before.text == word and item.text == self.old:
                yield item, self.new
        for inner in fact.block or ():
            items = inner.items
            for before, item in zip(items, items[1:], strict=False):
                if before.type == "word" and before.text == word and item.text == self.old:
                    yield item, self.new

    def _in_bundle(self, fact: Fact) -> Iterator[tuple[Item, str]]:
        if fact.word == "run" and self.group == "place":
            for item in fact.items[2:]:
                if item.type != "text" and item.text == self.old:
                    yield item, self.new
        for inner in fact.block or ():
            for item in inner.items:
                if item.type == "text":
                    continue
                if inner.word == "grommet":
                    new = self.new if self.group == "place" and item.text == self.old else None
                elif inner.word == "screen" and self.group == "part":
                    new = self.reference(item.text)
                else:
                    new = self.wire_names.get(item.text)
                if new:
                    yield item, new


def rename_edits(facts: list[Fact], vehicle: Vehicle, group: str, old: str, new: str
                 ) -> list[Edit]:
    """Return the edits that call the part, place or wire `old` by `new` in all its files."""
    renaming = _Renaming(vehicle, group, old, new)
    edits: dict[tuple[str, int, int], Edit] = {}
    for fact in facts:
        for item, text in renaming.changes(fact):
            quoted = item.type == "text"
            edit = Edit(item.path, item.line, item.column,
                        f'"{item.text}"' if quoted else item.text,
                        f'"{text}"' if quoted else text)
            edits[(edit.path, edit.line, edit.column)] = edit
    return [edits[key] for key in sorted(edits)]


def apply_edits(sources: Mapping[str, SourceFile], edits: list[Edit]) -> dict[str, str]:
    """Return the new text of each file that changes."""
    by_path: dict[str, list[Edit]] = {}
    for edit in edits:
        by_path.setdefault(edit.path, []).append(edit)
    texts: dict[str, str] = {}
    for path, changes in sorted(by_path.items()):
        lines = sources[path].text.split("\n")
        for edit in sorted(changes, key=lambda e: (e.line, -e.column)):
            line = lines[edit.line - 1]
            start = edit.column - 1
            assert line.startswith(edit.old, start), (edit, line)
            lines[edit.line - 1] = line[:start] + edit.new + line[start + len(edit.old):]
        texts[path] = "\n".join(lines)
    return texts
