"""Two vehicles compared by meaning: what is added, removed, changed and renamed, as data that turns
the one into the other."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from harnessdsl.model.vehicle import Part, Vehicle, Wire
from harnessdsl.plans.matching import Pairs, gone_marked, match
from harnessdsl.plans.meaning import (
    GROUPS,
    Fields,
    Meaning,
    given_name,
    meaning_of,
    renamed,
    renamed_fields,
)

MISSING = ("nothing",)
"""Stands for a field that one side does not have at all."""


@dataclass(frozen=True, slots=True)
class Change:
    """One field of a thing, before and after, each in the names of its own vehicle."""

    field: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is not the same: `before` and `after` are its names, '' where it is not."""

    group: str
    before: str
    after: str
    changes: tuple[Change, ...] = ()
    """What differs of a thing that both have; everything that it is, when only one has it."""

    @property
    def sort(self) -> str:
        """added, removed, renamed (and nothing else) or changed."""
        if not self.before:
            return "added"
        if not self.after:
            return "removed"
        return "changed" if self.changes else "renamed"

    @property
    def is_renamed(self) -> bool:
        """Whether it has another name; a wire that is called after its ends has none."""
        return bool(self.before and self.after) and self.before != self.after and (
            self.group != "wire")

    def mirror(self) -> Difference:
        return Difference(self.group, self.after, self.before,
                          tuple(Change(c.field, c.after, c.before) for c in self.changes))


@dataclass(frozen=True, slots=True)
class Comparison:
    """All differences, and which names mean the same: group -> name before -> name after."""

    differences: tuple[Difference, ...]
    names: dict[str, Pairs]

    def __bool__(self) -> bool:
        return bool(self.differences)

    def of_group(self, group: str) -> list[Difference]:
        return [d for d in self.differences if d.group == group]

    def mirror(self) -> Comparison:
        """Return the comparison the other way round."""
        names = {group: {new: old for old, new in pairs.items()}
                 for group, pairs in self.names.items()}
        turned = sorted((d.mirror() for d in self.differences), key=_sort_key)
        return Comparison(tuple(turned), names)


def natural(name: str) -> tuple[tuple[int, int | str], ...]:
    """Return a key that puts F2 before F10."""
    return tuple((0, int(piece)) if piece.isdigit() else (1, piece)
                 for piece in re.split(r"(\d+)", name) if piece)


def _sort_key(difference: Difference) -> tuple[Any, ...]:
    names = sorted(natural(name) for name in (difference.before, difference.after) if name)
    return (GROUPS.index(difference.group), names, difference.before == "",
            difference.before, difference.after)


def _everything(fields: Fields, new: bool) -> tuple[Change, ...]:
    return tuple(Change(field, MISSING, value) if new else Change(field, value, MISSING)
                 for field, value in sorted(fields.items()))


def compare_meanings(a: Meaning, b: Meaning, known: Mapping[str, Pairs] | None = None
                     ) -> Comparison:
    """Return what is different between two meanings; `known` pairs parts and wires where it is
    known which is which."""
    pairs = match(a, b, known)
    names = {group: gone_marked(pairs[group], a[group]) for group in pairs}
    translated = {group: {name: renamed_fields(group, fields, names)
                          for name, fields in a[group].items()} for group in GROUPS}
    pairs["acceptance"] = {}
    for name, fields in translated["acceptance"].items():
        key = f"{fields['code']} {fields['subject']}".strip()
        if key in b["acceptance"]:
            pairs["acceptance"][name] = key
    found: list[Difference] = []
    for group in GROUPS:
        matched = set(pairs[group].values())
        for name, fields in a[group].items():
            other = pairs[group].get(name)
            if other is None:
                found.append(Difference(group, name, "", _everything(fields, new=False)))
                continue
            here, there = translated[group][name], b[group][other]
            changes = tuple(
                Change(field, fields.get(field, MISSING), there.get(field, MISSING))
                for field in sorted({*here, *there})
                if here.get(field, MISSING) != there.get(field, MISSING))
            if changes or (name != other and group not in ("wire", "acceptance")):
                found.append(Difference(group, name, other, changes))
        found += [Difference(group, "", name, _everything(fields, new=True))
                  for name, fields in b[group].items() if name not in matched]
    return Comparison(tuple(sorted(found, key=_sort_key)), pairs)


def compare(before: Vehicle, after: Vehicle, remarks: bool = False, overlaid: bool = False
            ) -> Comparison:
    """Return what is different between two vehicles.

    Args:
        remarks: also compare evidence and notes.
        overlaid: `after` is `before` with an overlay, so that it is known which part is which and
            nothing has to be recognised by its looks.
    """
    known: dict[str, Pairs] | None = None
    if overlaid:
        parts = _kept_parts(before, after)
        known = {"part": parts, "wire": _kept_wires(before, after, parts)}
    return compare_meanings(meaning_of(before, remarks), meaning_of(after, remarks), known)


def _line(thing: Part | Wire) -> tuple[str, int, int]:
    return thing.span.path, thing.span.line, thing.span.column


def _kept_wires(before: Vehicle, after: Vehicle, parts: Pairs) -> Pairs:
    """Return the wires that an overlay left in place: those of one line, piece by piece, then those
    of one given name. A piece that has no end where it had one is another wire."""
    def stays(name: str, other: str) -> bool:
        old, new = before.wires[name], after.wires[other]
        ends = {(parts.get(e.part, ""), e.half, e.terminal) for e in (old.a, old.b)}
        return bool(ends & {(e.part, e.half, e.terminal) for e in (new.a, new.b)})

    def by_line(vehicle: Vehicle) -> dict[tuple[str, int, int], list[str]]:
        found: dict[tuple[str, int, int], list[str]] = {}
        for wire in vehicle.wires.values():
            found.setdefault(_line(wire), []).append(wire.name)
        return found

    here, there = by_line(before), by_line(after)
    pairs: Pairs = {}
    for place, names in here.items():
        others = there.get(place, [])
        if len(names) == len(others):
            pairs |= {a: b for a, b in zip(names, others, strict=True) if stays(a, b)}
    taken = set(pairs.values())
    pairs |= {name: name for name, wire in before.wires.items()
              if name not in pairs and name in after.wires and name not in taken
              and given_name(wire) and stays(name, name)}
    return pairs


def _kept_parts(before: Vehicle, after: Vehicle) -> Pairs:
    """Return the parts that an overlay left in place: by their line, else by name."""
    there = {_line(part): name for name, part in after.parts.items()}
    found: Pairs = {name: there[_line(part)] for name, part in before.parts.items()
                    if _line(part) in there}
    taken = set(found.values())
    found |= {name: name for name in before.parts
              if name not in found and name in after.parts and name not in taken}
    return found


def apply(comparison: Comparison, before: Meaning) -> Meaning:
    """Return `before` with every difference applied: the meaning of the other vehicle."""
    gone = {(d.group, d.before) for d in comparison.differences if d.sort == "removed"}
    kept = {group: {name: fields for name, fields in things.items() if (group, name) not in gone}
            for group, things in before.items()}
    names = {group: gone_marked(comparison.names.get(group, {}), before[group])
             for group in before if group != "acceptance"}
    found = renamed(kept, names)
    for difference in comparison.differences:
        things = found[difference.group]
        if difference.sort == "removed":
            continue
        fields = things.setdefault(difference.after, {})
        for change in difference.changes:
            if change.after == MISSING:
                fields.pop(change.field, None)
            else:
                fields[change.field] = change.after
    return found
