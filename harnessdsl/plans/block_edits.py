"""Edits inside a fact's braces: lines that are set, added or taken away."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.kind_builder import TWO_TERMINAL
from harnessdsl.model.reading import Messages, names_of

_ADDED = ("slots", "reach", "caution", "upper", "lower", "side", "inner", "fits", "case", "also")
"""Lines of which a block may hold several: a new one stands beside the old."""
_NAMED = ("pin", "half", "actuator", "label", "slot", "option", "choice")
"""Lines that say something about what their second word names."""


def line_key(line: Fact) -> tuple[str, ...]:
    """Return what a line is about: two lines with one key are about the same thing."""
    items = line.items
    if line.word in TWO_TERMINAL and len(items) > 3 and items[2].type == "arrow":
        named = [b.text for a, b in itertools.pairwise(items) if a.text == "named"]
        return (line.word, items[1].text, items[3].text, *named)
    if line.word in _NAMED and len(items) > 1:
        return (line.word, *(item.text for item in names_of(items[1:2])[:1]))
    return (line.word,)


def _texts(items: Sequence[Item]) -> list[str]:
    return [item.text for item in items if item.type != "comma"]


def _contains(texts: list[str], wanted: list[str]) -> bool:
    return any(texts[i : i + len(wanted)] == wanted for i in range(len(texts)))


class BlockEditor:
    """Applies the lines of a `change` block to the block of a fact."""

    def __init__(self, messages: Messages, owner: str, lines: tuple[Fact, ...]) -> None:
        self.messages = messages
        self.owner = owner
        self.lines = list(lines)

    def edit(self, group: str, changes: tuple[Fact, ...]) -> tuple[Fact, ...]:
        """Return the lines after all `changes`; what does not fit is reported."""
        apply = {"circuit": self._members, "cable": self._members, "condition": self._settings,
                 "run": self._run}.get(group, self._lines)
        for change in changes:
            if change.word == "remove" and len(change.items) < 2:
                self.messages.error("syntax", "remove what?", change.head.span,
                                    "name the lines or members that go")
                continue
            apply(change)
        return tuple(self.lines)

    def _missing(self, item: Item, what: str, known: Sequence[str]) -> None:
        self.messages.error("not-in-base", f"{what} '{item.text}' is not in {self.owner}",
                            item.span, did_you_mean(item.text, known, "it has: "
                                                    + ", ".join(known[:12]) if known else None))

    def _already(self, item: Item) -> None:
        self.messages.error("already-in-base", f"'{item.text}' is in {self.owner} already",
                            item.span, "leave it away")

    # lists of names

    def _present(self, word: str = "") -> list[str]:
        found: list[str] = []
        for line in self.lines:
            if not word:
                found += [n.text for n in names_of(line.items) if line.word != "screen"]
            elif line.word == word:
                found += [n.text for n in names_of(line.items[1:])]
        return found

    def _take_out(self, item: Item, word: str = "") -> None:
        if item.text not in self._present(word):
            self._missing(item, "", self._present(word))
            return
        kept: list[Fact] = []
        for line in self.lines:
            if (word and line.word != word) or (not word and line.word == "screen"):
                kept.append(line)
                continue
            lead = line.items[:1] if word else ()
            rest = tuple(n for n in names_of(line.items[len(lead):]) if n.text != item.text)
            if rest:
                kept.append(replace(line, items=lead + rest))
        self.lines = kept

    def _members(self, change: Fact) -> None:
        if change.word == "remove":
            for item in names_of(change.items[1:]):
                self._take_out(item)
        elif change.word == "screen":
            self.lines = [line for line in self.lines if line.word != "screen"]
            self.lines.append(change)
        else:
            self._add_names(change, change.items, "")

    def _add_names(self, change: Fact, items: Sequence[Item], word: str) -> None:
        present = self._present(word)
        new = []
        for item in names_of(items):
            if item.text in present:
                self._already(item)
            else:
                new.append(item)
        if new:
            lead = change.items[:1] if word else ()
            self.lines.append(replace(change, items=(*lead, *new)))

    def _run(self, change: Fact) -> None:
        taking = change.word == "remove"
        items = change.items[1:] if taking else change.items
        word = items[0].text
        if word in ("wires", "grommet"):
            if taking:
                for item in names_of(items[1:]):
                    self._take_out(item, word)
            else:
                self._add_names(change, items[1:], word)
        else:
            self._lines(change)

    # settings of a condition

    @staticmethod
    def _split_settings(items: Sequence[Item]) -> list[tuple[Item, ...]]:
        found: list[tuple[Item, ...]] = []
        at = 0
        while at < len(items):
            if items[at].type == "comma":
                at += 1
                continue
            following = items[at + 1] if at + 1 < len(items) else None
            size = 3 if following is not None and following.type == "equals" else 2
            found.append(tuple(items[at : at + size]))
            at += size
        return found

    def _settings(self, change: Fact) -> None:
        held = [(setting, line) for line in self.lines
                for setting in self._split_settings(line.items)]
        if change.word == "remove":
            names = [setting[0].text for setting, _ in held]
            for item in change.items[1:]:
                if item.text not in names:
                    self._missing(item, "the setting of", names)
            gone = {item.text for item in change.items[1:]}
            held = [pair for pair in held if pair[0][0].text not in gone]
        else:
            new = self._split_settings(change.items)
            keys = {self._setting_key(setting) for setting in new}
            held = [pair for pair in held if self._setting_key(pair[0]) not in keys]
            held += [(setting, change) for setting in new]
        self.lines = [replace(line, items=setting) for setting, line in held]

    @staticmethod
    def _setting_key(setting: tuple[Item, ...]) -> tuple[str, str]:
        second = setting[1].type if len(setting) > 1 else ""
        return setting[0].text, "state" if second in ("equals", "word") else second

    # lines with a word at their head

    def _lines(self, change: Fact) -> None:
        if change.word == "remove":
            self._remove_line(change)
            return
        items = change.items
        was: list[str] = []
        span = change.span
        for number, item in enumerate(items):
            if number and item.type == "word" and item.text == "was":
                was, span = _texts(items[number + 1 :]), item.span
                items = items[:number]
                break
        line = replace(change, items=items)
        key = line_key(line)
        before = None if line.word in _ADDED else next(
            (number for number, old in enumerate(self.lines) if line_key(old) == key), None)
        if was:
            old = self.lines[before] if before is not None else None
            if old is None or not _contains(_texts(old.items), was):
                shown = " ".join(_texts(old.items)) if old is not None else "not there"
                self.messages.error("does-not-fit", f"'{' '.join(key)}' of {self.owner} is "
                                    f"{shown}, not {' '.join(was)}", span,
                                    "look again at the base: it has changed, or another one is "
                                    "meant")
                return
        if before is None:
            self.lines.append(line)
        else:
            self.lines[before] = line

    def _remove_line(self, change: Fact) -> None:
        wanted = _texts(change.items[1:])
        kept = [line for line in self.lines if _texts(line.items)[: len(wanted)] != wanted]
        if len(kept) == len(self.lines) and wanted[0] == "slot" and len(wanted) == 2:
            kept = self._without_slot(wanted[1])
        if kept == self.lines:
            known = [" ".join(line_key(line)) for line in self.lines]
            self.messages.error(
                "not-in-base", f"{self.owner} has no line '{' '.join(wanted)}'",
                change.items[1].span.to(change.items[-1].span),
                did_you_mean(" ".join(wanted), known,
                             "it has: " + ", ".join(dict.fromkeys(known)) if known
                             else "it has no lines in braces"))
        self.lines = kept

    def _without_slot(self, name: str) -> list[Fact]:
        """Return the lines with a slot cut out of a range such as `slots 1..18 blade-fuse`."""
        kept: list[Fact] = []
        for line in self.lines:
            if line.word not in ("slot", "slots"):
                kept.append(line)
                continue
            groups: list[list[Item]] = []
            for number, item in enumerate(line.items[1:], 1):
                starts = item.type in ("range", "number") or number == 1
                if starts and item.type != "comma":
                    groups.append([item])
                elif groups:
                    groups[-1].append(item)
            items: list[Item] = [line.head]
            for group in groups:
                members = names_of(group[:1])
                if name not in [m.text for m in members]:
                    items += group
                else:
                    for member in members:
                        if member.text != name:
                            items += [member, *group[1:]]
            if len(items) > 1:
                kept.append(line if tuple(items) == line.items
                            else replace(line, items=tuple(items)))
        return kept
