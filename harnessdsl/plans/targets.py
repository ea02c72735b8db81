"""Views of one fact that can be edited: a plain fact with attributes, a wire with its pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from harnessdsl.language.facts import Fact, Item
from harnessdsl.plans.attributes import (
    Attribute,
    flatten,
    split_attributes,
    with_attributes,
)
from harnessdsl.plans.fact_names import end_text, group_of, wire_ends

Key = tuple[str, ...]
LENGTH: Key = ("figure", "", "length")
_PLACE_WORDS = ("in", "zone", "at", "note")
_PART_WORDS = ("in", "slot", "zone", "on", "of", "note", "unfused")
"""Attributes that may also stand as a line of the block of a place or a part."""


@dataclass(slots=True)
class Plain:
    """A fact that is not a wire: head, name, attributes, block."""

    fact: Fact
    lead: tuple[Item, ...]
    attributes: list[Attribute]
    block: tuple[Fact, ...] | None

    @classmethod
    def of(cls, fact: Fact, lead: int = 2) -> Plain:
        return cls(fact, fact.items[:lead], split_attributes(fact.items[lead:]), fact.block)

    def _is_attribute(self, line: Fact) -> bool:
        """Say whether a line of the block is an attribute: in a place, `slot 7` is none."""
        words = _PLACE_WORDS if group_of(self.fact) == "place" else (
            _PART_WORDS if group_of(self.fact) == "part" else ())
        return line.word in words and line.block is None

    def get(self, key: Key) -> list[Attribute]:
        """Return the attributes with this key, in the block's lines too."""
        found = [a for a in self.attributes if a.key == key]
        for line in self.block or ():
            if self._is_attribute(line):
                found += [a for a in split_attributes(line.items) if a.key == key]
        return found

    def put(self, new: Sequence[Attribute]) -> str | None:
        for key in sorted({a.key for a in new}):
            self._drop_from_block(key)
        self.attributes = with_attributes(self.attributes, new)
        return None

    def drop(self, key: Key) -> bool:
        before = len(self.get(key))
        self.attributes = [a for a in self.attributes if a.key != key]
        self._drop_from_block(key)
        return before > 0

    def _drop_from_block(self, key: Key) -> None:
        lines: list[Fact] = []
        for line in self.block or ():
            if self._is_attribute(line):
                kept = [a for a in split_attributes(line.items) if a.key != key]
                if not kept:
                    continue
                line = replace(line, items=flatten(kept))
            lines.append(line)
        if self.block is not None:
            self.block = tuple(lines)

    def held_keys(self) -> list[Key]:
        found = [a.key for a in self.attributes]
        for line in self.block or ():
            if self._is_attribute(line):
                found += [a.key for a in split_attributes(line.items)]
        return found

    def done(self) -> Fact:
        return replace(self.fact, items=self.lead + flatten(self.attributes), block=self.block)


@dataclass(slots=True)
class Chain:
    """A wire fact; `piece` is the number of the piece that is meant, None for all of them."""

    fact: Fact
    lead: tuple[Item, ...]
    ends: list[Item]
    arrows: list[Item]
    segments: list[list[Attribute]] = field(default_factory=list)
    """What stands behind each end; the last one counts for every piece."""
    piece: int | None = None

    @classmethod
    def of(cls, fact: Fact, piece: int | None = None) -> Chain:
        ends = wire_ends(fact)
        spots = [i for i, item in enumerate(fact.items) if item.type == "arrow"]
        segments: list[list[Attribute]] = [[]]
        stops = [*spots[1:], len(fact.items)]
        for arrow, stop in zip(spots, stops, strict=True):
            segments.append(split_attributes(fact.items[arrow + 2 : stop], of_wire=True))
        count = len(spots)
        return cls(fact, fact.items[: spots[0] - 1], ends, [fact.items[i] for i in spots],
                   segments, None if count == 1 else piece)

    @property
    def count(self) -> int:
        return len(self.arrows)

    def _effective(self, piece: int, key: Key) -> list[Attribute]:
        own = [a for a in self.segments[piece] if a.key == key]
        return own or [a for a in self.segments[-1] if a.key == key]

    def get(self, key: Key) -> list[Attribute]:
        """Return what holds for the pieces that are meant, each different attribute once."""
        if self.piece is not None:
            return self._effective(self.piece, key)
        if key == LENGTH:
            return [a for a in self.segments[-1] if a.key == key]
        found: dict[tuple[object, ...], Attribute] = {}
        for number in range(1, self.count + 1):
            for attribute in self._effective(number, key):
                found.setdefault(attribute.meaning(), attribute)
        return list(found.values())

    def put(self, new: Sequence[Attribute]) -> str | None:
        """Set attributes; return what is wrong, if anything."""
        if self.piece is None:
            keys = {a.key for a in new} - {LENGTH}
            for number in range(1, self.count):
                self.segments[number] = [a for a in self.segments[number] if a.key not in keys]
            self.segments[-1] = with_attributes(self.segments[-1], new)
            return None
        if self.piece < self.count:
            self.segments[self.piece] = with_attributes(self.segments[self.piece], new)
            return None
        if any(a.key == LENGTH for a in new):
            return "the last piece of a chain has no length of its own"
        for attribute in new:
            self._hand_down(attribute.key)
        self.segments[-1] = with_attributes(self.segments[-1], new)
        return None

    def _hand_down(self, key: Key) -> None:
        """Give the other pieces what the end of the line said for all of them."""
        common = [a for a in self.segments[-1] if a.key == key]
        for number in range(1, self.count):
            if not any(a.key == key for a in self.segments[number]):
                self.segments[number] += common

    def drop(self, key: Key) -> bool:
        had = bool(self.get(key))
        if self.piece is None:
            self.segments = [[a for a in segment if a.key != key] for segment in self.segments]
            return had
        self._hand_down(key)
        self.segments[-1] = [a for a in self.segments[-1] if a.key != key]
        self.segments[self.piece] = [a for a in self.segments[self.piece] if a.key != key]
        return had

    def held_keys(self) -> list[Key]:
        return [a.key for segment in self.segments for a in segment]

    def matching_ends(self, text: str) -> list[int]:
        """Return the numbers of the ends written as `text`; a plug's half may be left away."""
        exact = [i for i, end in enumerate(self.ends) if end.text == text]
        return exact or [i for i, end in enumerate(self.ends) if end_text(end) == text]

    def done(self) -> Fact:
        items = [*self.lead, self.ends[0]]
        for arrow, end, segment in zip(self.arrows, self.ends[1:], self.segments[1:], strict=True):
            items += [arrow, end, *flatten(segment)]
        return replace(self.fact, items=tuple(items))
