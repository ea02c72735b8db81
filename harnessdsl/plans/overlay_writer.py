"""A comparison written as an overlay: a file that, put on the first vehicle, makes the second."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from harnessdsl.language.facts import Fact
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.plans.attributes import Attribute
from harnessdsl.plans.block_edits import line_key
from harnessdsl.plans.compare import Comparison, Difference, natural
from harnessdsl.plans.fact_names import fact_name, group_of, renamed_fact, wire_ends
from harnessdsl.plans.fact_text import fact_text, items_text
from harnessdsl.plans.meaning import end_name, given_name
from harnessdsl.plans.targets import Plain
from harnessdsl.plans.workspace import place_key, wire_keys

_REMARKS = (("evidence",), ("note",))
_ORDER = ("place", "conductor", "kind", "part", "run", "wire", "cable", "circuit", "condition")


@dataclass(frozen=True, slots=True)
class Written:
    """One vehicle and the facts that it was built from."""

    vehicle: Vehicle
    facts: Sequence[Fact]

    def by_name(self, group: str) -> dict[str, Fact]:
        return {fact_name(fact): fact for fact in self.facts if group_of(fact) == group}

    def wire_facts(self) -> dict[str, Fact]:
        """Return the fact behind each wire of the vehicle."""
        by_place = {place_key(f.head.span): f for f in self.facts if group_of(f) == "wire"}
        return {wire.name: by_place[place_key(wire.span)] for wire in self.vehicle.wires.values()
                if place_key(wire.span) in by_place}


class OverlayWriter:
    """Writes the lines that turn one vehicle's facts into another's."""

    def __init__(self, before: Written, after: Written, comparison: Comparison) -> None:
        self.before = before
        self.after = after
        self.comparison = comparison
        self.lines: list[str] = []

    def write(self, label: str, base: str, chosen: Sequence[str] = ()) -> str:
        """Return the text of an overlay called `label` on the file `base`; `chosen` are lines that
        choose the car of the base that was compared."""
        self._wires_removed_and_added: list[str] = []
        wire_changes = self._wires()
        self._removals()
        self._renames()
        self._kinds()
        for group in _ORDER:
            if group == "wire":
                self._section("wire", [*self._wires_removed_and_added, *wire_changes])
            elif group != "kind":
                self._group(group)
        self._vehicle()
        self._acceptances()
        head = f'variant {_quoted(label)} of {_quoted(base)} {{\n{self._title(chosen)}}}\n'
        return head + "\n".join(["", *self.lines]) + ("\n" if self.lines else "")

    def _title(self, chosen: Sequence[str]) -> str:
        vehicle = self.after.vehicle
        lines = [f"    build {_quoted(vehicle.build)}\n", *(f"    {line}\n" for line in chosen)]
        if vehicle.year != self.before.vehicle.year and vehicle.year:
            lines.append(f"    year {vehicle.year}\n")
        return "".join(lines)

    def _section(self, title: str, lines: Sequence[str]) -> None:
        if lines:
            self.lines += [*lines, ""]

    def _differences(self, group: str, *sorts: str) -> list[Difference]:
        return [d for d in self.comparison.of_group(group) if d.sort in sorts]

    # wires: facts that share pieces are seen as one

    def _wires(self) -> list[str]:
        """Return the changes of single wires; what is removed and added whole is put aside."""
        facts_a, facts_b = self.before.wire_facts(), self.after.wire_facts()
        pairs = self.comparison.names["wire"]
        removed_parts = {d.before for d in self._differences("part", "removed")}
        changes: list[str] = []
        gone: dict[tuple[str, int, int], Fact] = {}
        new: dict[tuple[str, int, int], Fact] = {}
        for difference in self.comparison.of_group("wire"):
            a, b = facts_a.get(difference.before), facts_b.get(difference.after)
            if a is not None and b is not None and len(_arrows(a)) == len(_arrows(b)) == 1 and (
                    difference.changes):
                verbs = self._wire_verbs(difference, a, removed_parts)
                if verbs is not None:
                    changes += verbs
                    continue
            if a is not None:
                gone[place_key(a.head.span)] = a
            if b is not None:
                new[place_key(b.head.span)] = b
        self._close(gone, new, facts_a, facts_b, pairs)
        single, chains = wire_keys(self.before.facts), wire_keys(self.before.facts, True)
        names = {key: f"wire {_wire_name(name)}" for name, (key, piece) in single.items()
                 if piece is None}
        names |= {key: f"chain {_wire_name(name)}" for name, (key, _) in chains.items()}
        self._section("wires gone", [f"remove {name}" for name in sorted(
            (names[key] for key in gone), key=natural)])
        self._wires_removed_and_added = [fact_text(fact) for fact in new.values()]
        return changes

    def _close(self, gone: dict[tuple[str, int, int], Fact], new: dict[tuple[str, int, int], Fact],
               facts_a: Mapping[str, Fact], facts_b: Mapping[str, Fact],
               pairs: Mapping[str, str]) -> None:
        """Take in the facts on the other side of every piece of a fact that is removed or added."""
        while True:
            size = len(gone) + len(new)
            self._close_parallel(gone, new, facts_a, facts_b)
            for a, b in pairs.items():
                if a not in facts_a or b not in facts_b:
                    continue
                key_a, key_b = place_key(facts_a[a].head.span), place_key(facts_b[b].head.span)
                if key_a in gone or key_b in new:
                    gone.setdefault(key_a, facts_a[a])
                    new.setdefault(key_b, facts_b[b])
            if len(gone) + len(new) == size:
                return

    def _close_parallel(self, gone: dict[tuple[str, int, int], Fact],
                        new: dict[tuple[str, int, int], Fact], facts_a: Mapping[str, Fact],
                        facts_b: Mapping[str, Fact]) -> None:
        """Unnamed wires between the same ends share a name: they are written together."""
        parts = self.comparison.names["part"]
        sides: dict[str, list[tuple[dict[tuple[str, int, int], Fact], Fact]]] = {}
        for vehicle, facts, into, names in ((self.before.vehicle, facts_a, gone, parts),
                                            (self.after.vehicle, facts_b, new, {})):
            for wire in vehicle.wires.values():
                if given_name(wire) or wire.name not in facts:
                    continue
                ends = [f"{names.get(end.part, end.part)}.{end.terminal}".rstrip(".")
                        for end in (wire.a, wire.b)]
                sides.setdefault("-".join(ends), []).append((into, facts[wire.name]))
        for together in sides.values():
            if len(together) > 1 and any(place_key(fact.head.span) in new
                                         for into, fact in together if into is new):
                for into, fact in together:
                    into.setdefault(place_key(fact.head.span), fact)

    def _wire_verbs(self, difference: Difference, fact: Fact, removed_parts: set[str]
                    ) -> list[str] | None:
        """Return verbs for one wire, or None when it is better written whole."""
        wire = self.before.vehicle.wires[difference.before]
        after = self.after.vehicle.wires[difference.after]
        parts = self.comparison.names["part"]
        if {wire.a.part, wire.b.part} & removed_parts:
            return None
        by_field = {change.field: change for change in difference.changes}
        if set(by_field) - {"ends", "colour", "area_mm2", "length_m"} or "" in (
                wire.colour if "colour" in by_field else "-", after.colour or "-"):
            return None
        own = f"{wire.a}-{wire.b}"
        if wire.name.startswith(f"{own}#") or f"{own}#2" in self.before.vehicle.wires or (
                f"{after.a}-{after.b}#2" in self.after.vehicle.wires):
            return None  # one of several unnamed wires between the same ends
        name = wire.name
        if name == own:
            ends = [f"{parts[end.part]}.{end.terminal}" if end.terminal else parts[end.part]
                    for end in (wire.a, wire.b)]
            name = "-".join(ends)
        lines = []
        if "colour" in by_field:
            lines.append(f"recolour {name} {after.colour} was {wire.colour}")
        new, old = [], []
        for field, text_new, text_old in (
                ("area_mm2", after.area_text, wire.area_text),
                ("length_m", _metres(after.length_m), _metres(wire.length_m))):
            if field in by_field:
                if not text_new or not text_old:
                    return None
                new.append(text_new)
                old.append(text_old)
        if new:
            lines.append(f"change {name} {' '.join(new)} was {' '.join(old)}")
        if "ends" in by_field:
            ends_a = [(parts[p], h, t) for p, h, t in by_field["ends"].before]
            ends_b = list(by_field["ends"].after)
            for end in list(ends_a):
                if end in ends_b:
                    ends_a.remove(end)
                    ends_b.remove(end)
            if len(ends_a) != 1 or any(half for _, half, _ in (*ends_a, *ends_b)):
                return None
            written = [item.text for item in wire_ends(renamed_fact(fact, self._item_renames()))]
            if end_name(ends_a[0]) not in written:
                return None  # written by another name of its terminal
            lines.append(f"repin {name} {end_name(ends_a[0])} -> {end_name(ends_b[0])}")
        return lines

    # everything else

    def _removals(self) -> None:
        lines = []
        for group in ("condition", "circuit", "cable", "run", "part", "conductor", "place"):
            written = self.before.by_name(group)
            lines += [f"remove {group} {_name(d.before)}"
                      for d in self._differences(group, "removed") if d.before in written]
        self._section("removed", lines)

    def _renames(self) -> None:
        first, second = [], []
        for group in ("place", "part", "run", "cable", "circuit", "condition"):
            taken = set(self.before.by_name(group))
            for d in self.comparison.of_group(group):
                if not d.is_renamed:
                    continue
                if d.after in taken:  # free only later, when that one has its new name
                    spare = f"{d.before}-renamed"
                    while spare in taken:
                        spare += "-"
                    first.append(f"rename {group} {_name(d.before)} -> {_name(spare)}")
                    second.append(f"rename {group} {_name(spare)} -> {_name(d.after)}")
                else:
                    first.append(f"rename {group} {_name(d.before)} -> {_name(d.after)}")
        self._section("renamed", [*first, *second])

    def _kinds(self) -> None:
        before, after = self.before.by_name("kind"), self.after.by_name("kind")
        lines = []
        for name, fact in after.items():
            if name not in before:
                lines.append(fact_text(fact))
            elif fact_text(fact) != fact_text(before[name]):
                lines.append(f"replace {fact_text(fact)}")
        self._section("kinds", lines)

    def _group(self, group: str) -> None:
        before, after = self.before.by_name(group), self.after.by_name(group)
        renames = self._item_renames()
        lines = []
        for d in self.comparison.of_group(group):
            fact = after.get(d.after)
            if fact is None or d.sort == "removed":
                continue
            old = before.get(d.before)
            if d.sort == "added" or old is None:
                lines.append(fact_text(fact))
            elif d.changes:
                lines += self._verbs(group, d.after, renamed_fact(old, renames), fact)
        self._section(group, lines)

    def _item_renames(self) -> dict[tuple[str, str], str]:
        return {(group, a): b for group, pairs in self.comparison.names.items()
                for a, b in pairs.items() if a != b}

    def _verbs(self, group: str, name: str, old: Fact, new: Fact) -> list[str]:
        """Return the change of one fact: as few words as will do, else the fact as a whole."""
        if fact_text(old) == fact_text(new):
            return []
        if group not in ("part", "place", "conductor") or not _same_block(old, new):
            if group == "circuit" and _same_head(old, new) and not self._names_reused():
                return self._members(name, old, new)
            return [f"replace {fact_text(new)}"]
        a, b = Plain.of(old), Plain.of(new)
        before = _by_key(a.attributes)
        after = _by_key(b.attributes)
        fresh = [x for key, group_ in after.items() for x in group_
                 if _meaning(before.get(key)) != _meaning(group_)]
        was = [x for key in dict.fromkeys(x.key for x in fresh) for x in before.get(key, ())]
        without = [key for key in before if key not in after]
        if any(key[0] in ("figure", "word", "label") for key in without):
            return [f"replace {fact_text(new)}"]
        if old.word != new.word:
            if without:
                return [f"replace {fact_text(new)}"]
            extra = " ".join(_attribute_text(x) for x in fresh)
            return [f"swap {_name(name)} {new.word} {extra}".rstrip() + f" was {old.word}"]
        if not fresh and not without:
            return []
        keys = {x.key[0] for x in fresh}
        if group == "part" and not without and keys <= {"in", "slot", "zone"} and keys & {
                "in", "slot", "zone"}:
            verb = "move"
        else:
            verb = f"change {group}" if group != "part" else "change"
        text = f"{verb} {_name(name)} " + " ".join(_attribute_text(x) for x in fresh)
        if without:
            text += " without " + " ".join("position" if key == ("at",) else key[-1]
                                           for key in without)
        if was:
            text += " was " + " ".join(_attribute_text(x) for x in was)
        return [" ".join(text.split())]

    def _names_reused(self) -> bool:
        """Say whether a new part has the name of a removed one: then lists are written whole."""
        removed = {d.before for d in self._differences("part", "removed")}
        return bool(removed & set(self.after.vehicle.parts))

    def _members(self, name: str, old: Fact, new: Fact) -> list[str]:
        def names(fact: Fact) -> list[str]:
            return [item.text for line in fact.block or () for item in line.items
                    if item.type != "comma"]

        gone = [n for n in names(old) if n not in names(new)]
        fresh = [n for n in names(new) if n not in names(old)]
        if any(".." in n for n in (*gone, *fresh)):
            return [f"replace {fact_text(new)}"]
        removed = {d.before for d in self._differences("part", "removed")}
        gone = [n for n in gone if n not in removed]  # those leave their circuits by themselves
        if not gone and not fresh:
            return []
        lines = ([f"    {' '.join(fresh)}"] if fresh else [])
        if gone:
            lines.append(f"    remove {' '.join(gone)}")
        return [f"change circuit {_name(name)} {{", *lines, "}"]

    def _vehicle(self) -> None:
        def lines_of(side: Written) -> dict[tuple[str, ...], Fact]:
            for fact in side.facts:
                if group_of(fact) == "vehicle":
                    return {line_key(line): line for line in fact.block or ()
                            if line.word in ("supply", "body", "colours")}
            return {}

        before, after = lines_of(self.before), lines_of(self.after)
        lines = [f"    {items_text(line.items)}" for key, line in after.items()
                 if key not in before or items_text(before[key].items) != items_text(line.items)]
        if lines:
            self._section("vehicle", ["change vehicle {", *lines, "}"])
        old, new = self.before.vehicle.cautions, self.after.vehicle.cautions
        self._section("cautions", [f"remove caution {_quoted(t)}" for t in old if t not in new]
                      + [f"caution {_quoted(t)}" for t in new if t not in old])

    def _acceptances(self) -> None:
        lines = [f"remove accept {d.before}" for d in self._differences("acceptance", "removed")]
        added = {d.after for d in self._differences("acceptance", "added")}
        for acceptance in self.after.vehicle.acceptances:
            key = f"{acceptance.code} {acceptance.subject}".strip()
            if key in added:
                lines.append(f"accept {key} {_quoted(acceptance.reason)}")
        self._section("accepted", lines)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def _name(name: str) -> str:
    """Return a name as a word, or in quotes where it looks like something else."""
    plain = name.replace("-", "").replace("_", "").replace(":", "").replace(".", "")
    return name if plain.isalnum() and not name[0].isdigit() else _quoted(name)


def _wire_name(name: str) -> str:
    return _quoted(name) if "#" in name else name  # outside quotes # begins a comment


def _metres(length_m: float | None) -> str:
    return "" if length_m is None else f"{round(length_m, 4):g} m"


def _arrows(fact: Fact) -> list[int]:
    return [i for i, item in enumerate(fact.items) if item.type == "arrow"]


def _same_block(old: Fact, new: Fact) -> bool:
    return [fact_text(line) for line in old.block or ()] == [
        fact_text(line) for line in new.block or ()]


def _same_head(old: Fact, new: Fact) -> bool:
    return items_text(old.items[2:]) == items_text(new.items[2:])


def _by_key(attributes: Iterable[Attribute]) -> dict[tuple[str, ...], list[Attribute]]:
    found: dict[tuple[str, ...], list[Attribute]] = {}
    for attribute in attributes:
        if attribute.key not in _REMARKS:
            found.setdefault(attribute.key, []).append(attribute)
    return found


def _meaning(attributes: Sequence[Attribute] | None) -> list[tuple[object, ...]]:
    return [attribute.meaning() for attribute in attributes or ()]


def _attribute_text(attribute: Attribute) -> str:
    return items_text(attribute.items)
