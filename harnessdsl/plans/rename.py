"""Renames a part, a wire or a place in all files of a vehicle: facts -> edits of text."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.plans.edits import VERBS
from harnessdsl.plans.fact_names import end_text, fact_name, name_item, piece_names, wire_ends
from harnessdsl.text import SourceFile

_SECTIONS = frozenset({"vehicle", "place", "wire", "cable", "run", "circuit", "condition", "kind",
                       "accept", "conductor", "evidence", "caution", "use", "variant", "plan"})
_TOLD = ("verified", "refuted", "claim", "likelihood")
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


def _flat(facts: Iterable[Fact]) -> Iterator[Fact]:
    """Yield the facts in the braces of `when` in its place, at every depth."""
    for fact in facts:
        if fact.head.type == "word" and fact.word == "when":
            yield from _flat(fact.block or ())
        elif fact.block is not None:
            yield replace(fact, block=tuple(_flat(fact.block)))
        else:
            yield fact


class _Renaming:
    def __init__(self, facts: Sequence[Fact], vehicle: Vehicle, group: str, old: str, new: str
                 ) -> None:
        self.vehicle, self.group, self.old, self.new = vehicle, group, old, new
        self.wire_names = self._automatic_names() | self._written_names(facts)

    def _written_names(self, facts: Sequence[Fact]) -> dict[str, str]:
        """The same for wires of other cars than the chosen one, by what is written."""
        found: dict[str, str] = {}
        for fact in facts if self.group == "part" else ():
            if fact.word != "wire" or name_item(fact) is not None:
                continue
            items = {end: replace(end, text=self.reference(end.text) or end.text)
                     for end in wire_ends(fact)}
            if any(end_text(a) != end_text(b) for a, b in items.items()):
                renamed = replace(fact, items=tuple(items.get(i, i) for i in fact.items))
                found |= dict(zip([*piece_names(fact), fact_name(fact)],
                                  [*piece_names(renamed), fact_name(renamed)], strict=True))
        return found

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
            found |= self._chain_names()
        elif self.group == "wire":
            for name in self.vehicle.wires:
                if name == self.old or name.startswith(f"{self.old}:"):
                    found[name] = self.new + name[len(self.old):]
            found[self.old] = self.new
        return found

    def _chain_names(self) -> dict[str, str]:
        """Unnamed chains are called after their first and last end."""
        ends: dict[str, list[str]] = {}
        for wire in self.vehicle.wires.values():
            if wire.chain:
                ends.setdefault(wire.chain, [str(wire.a)])[1:] = [str(wire.b)]
        found = {}
        for chain, pair in ends.items():
            new = "-".join(self.reference(end) or end for end in pair)
            if chain == "-".join(pair) != new:
                found[chain] = new
        return found

    def reference(self, text: str) -> str | None:
        """Return `NEW.30` for `OLD.30`, None when the text is about something else."""
        name, dot, rest = text.partition(".")
        return f"{self.new}{dot}{rest}" if name == self.old else None

    def changes(self, fact: Fact) -> Iterator[tuple[Item, str]]:
        """Yield the items of a top-level fact that change, with their new text."""
        word = fact.word
        if word in VERBS and fact.head.type == "word":
            yield from self._verb(fact)
        elif word in _TOLD:
            yield from self._told(fact)
        elif word in ("run", "cable"):
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

    def _told(self, fact: Fact) -> Iterator[tuple[Item, str]]:
        """Names at the head of what was found later."""
        for item in fact.items[1:]:
            if item.type in ("text", "date"):
                return
            new = self.wire_names.get(item.text) or (
                self.new if item.text == self.old and (
                    self.group != "place" or fact.word == "likelihood") else None)
            if new:
                yield item, new

    def _verb(self, fact: Fact) -> Iterator[tuple[Item, str]]:
        """Names in a line of an overlay: its targets, ends of wires, places behind `in`, and the
        members and settings in its braces."""
        if fact.word == "replace" and len(fact.items) > 1:
            yield from self.changes(replace(fact, items=fact.items[1:]))
            return
        group = fact.items[1].text if len(fact.items) > 2 else ""
        lines = [fact.items[1:], *(line.items for line in fact.block or ())]
        for number, items in enumerate(lines):
            for before, item in itertools.pairwise((fact.head, *items)):
                value = before.type == "equals" or (item.type == "text" and number > 0)
                placed = before.type == "word" and before.text == "in"
                new = None
                if self.group == "place":
                    if placed or (number == 0 and before.text in (fact.word, "place", "->")):
                        new = self.new if item.text == self.old else None
                elif not placed and not value and group not in ("place", "circuit", "kind"):
                    new = self.wire_names.get(item.text)
                    if new is None and self.group == "part":
                        new = self.reference(item.text)
                elif not placed and not value and number > 0:
                    new = self.reference(item.text) if self.group == "part" else None
                if new:
                    yield item, new

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
        for before, item in itertools.pairwise(fact.items[1:]):
            if before.type == "word" and before.text == word and item.text == self.old:
                yield item, self.new
        for inner in fact.block or ():
            items = inner.items
            for before, item in itertools.pairwise(items):
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


def rename_edits(facts: list[Fact], vehicle: Vehicle, group: str, old: str, new: str,
                 base: Sequence[Fact] = ()) -> list[Edit]:
    """Return the edits that call the part, place or wire `old` by `new` in all its files; `base`
    are the facts on which an overlay builds: its lines speak of their wires too."""
    flat = list(_flat(facts))
    renaming = _Renaming([*_flat(base), *flat], vehicle, group, old, new)
    edits: dict[tuple[str, int, int], Edit] = {}
    for fact in flat:
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
