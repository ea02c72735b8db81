"""The verbs that change something about a fact: move, recolour, repin, swap, change; and `was`,
which says what the base must look like."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from harnessdsl.diagnostics import Related, did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.reading import TRUST_WORDS
from harnessdsl.plans.attributes import FLAG_WORDS, Attribute, split_attributes
from harnessdsl.plans.block_edits import BlockEditor
from harnessdsl.plans.fact_names import (
    fact_name,
    group_of,
    name_item,
    piece_names,
    renamed_fact,
)
from harnessdsl.plans.targets import LENGTH, Chain, Plain
from harnessdsl.plans.workspace import GROUP_WORDS, Found, Workspace, place_key

_WITHOUT = {"label": ("label",), "colour": ("colour",), "evidence": ("evidence",),
            "insulation": ("insulation",), "material": ("material",), "length": LENGTH,
            "area": ("figure", "", "area"), "position": ("at",)}
_VALUES = ("in", "slot", "zone", "on", "of", "note", "unfused", "via")


class AttributeEditor:
    """Changes attributes, lines in braces and ends of the facts in a workspace."""

    def __init__(self, space: Workspace) -> None:
        self.space = space
        self.messages = space.messages

    def move(self, fact: Fact) -> None:
        self._edit(fact, ("in", "slot", "zone", "at", "on", "evidence", "note"),
                   ("in", "slot", "zone", "at"), "move K2 in dash-box slot B was in left-wing")

    def recolour(self, fact: Fact) -> None:
        self._edit(fact, ("colour", "evidence", "note"), ("colour",),
                   "recolour W31 BN/WH was BN", wires_only=True)

    def swap(self, fact: Fact) -> None:
        items, old = split_was(fact.items[1:])
        if len(items) < 2 or items[1].type != "word":
            self._syntax(fact, "swap what for what?",
                         "write: swap K2 relay-diode was relay")
            return
        found = self.space.find(items[0], "part")
        if found is None:
            return
        target = self.space.facts[found.at]
        if old and old[0].type == "word" and len(old) == 1:
            if old[0].text != target.word:
                self._misfit(items[0].text, "kind", target.word, old[0], target)
                return
        elif old and not self.fits(found, items[0], old):
            return
        view = Plain.of(replace(target, items=(items[1], *target.items[1:])))
        view.put(split_attributes(items[2:]))
        self.space.facts[found.at] = view.done()

    def change(self, fact: Fact) -> None:
        items, old = split_was(fact.items[1:])
        group, names = group_and_names(items)
        if items and items[0].text == "vehicle":
            self._change_vehicle(fact)
            return
        if not names:
            self._syntax(fact, "change what?", "write: change M3 22 A was 18 A")
            return
        rest = items[items.index(names[0]) + 1 :]
        without = next((i for i, item in enumerate(rest)
                        if item.type == "word" and item.text == "without"), len(rest))
        found = self.space.find(names[0], group)
        if found is None:
            return
        if not self.fits(found, names[0], old):
            return
        target = self.space.facts[found.at]
        view = _view(target, found)
        if rest[:without] and not self._put(view, rest[:without], found, fact):
            return
        for word in rest[without + 1 :]:
            self._without(view, word, names[0])
        if not rest and not fact.block:
            self._syntax(fact, f"change what about '{names[0].text}'?",
                         "write: change M3 22 A was 18 A")
        changed = view.done()
        if fact.block is not None:
            changed = self._change_block(changed, found.group, fact)
        self.space.facts[found.at] = changed

    def _change_vehicle(self, fact: Fact) -> None:
        for at, target in enumerate(self.space.facts):
            if group_of(target) == "vehicle":
                changed = target
                if len(fact.items) > 2 and fact.items[2].type == "text":
                    changed = replace(target, items=(target.head, fact.items[2]))
                self.space.facts[at] = self._change_block(changed, "vehicle", fact)
                return
        self.messages.error("not-in-base", "the base has no vehicle", fact.head.span,
                            'write: vehicle "..." { supply 12 V negative-earth }')

    def _change_block(self, target: Fact, group: str, fact: Fact) -> Fact:
        if group == "wire":
            self._syntax(fact, "a wire has no lines in braces", "write: change W31 4 mm2 RD")
            return target
        if group == "condition":
            target = _settings_in_braces(target)
        owner = f"{group} '{fact_name(target)}'" if group != "vehicle" else "the vehicle"
        editor = BlockEditor(self.messages, owner, target.block or ())
        return replace(target, block=editor.edit(group, fact.block or ()))

    def _edit(self, fact: Fact, allowed: Sequence[str], needed: Sequence[str], example: str,
              wires_only: bool = False) -> None:
        items, old = split_was(fact.items[1:])
        group, names = group_and_names(items)
        rest = items[items.index(names[0]) + 1 :] if names else ()
        new = split_attributes(rest, of_wire=wires_only)
        if not names or not any(a.key[0] in needed for a in new):
            self._syntax(fact, f"'{fact.word}' needs a name and what is new", f"write: {example}")
            return
        for attribute in new:
            if attribute.key[0] not in allowed:
                self.messages.error("unknown-word", f"'{attribute.text}' means nothing in "
                                    f"'{fact.word}'", attribute.items[0].span,
                                    f"write: {example}")
                return
        found = self.space.find(names[0], group or ("wire" if wires_only else ""))
        if found is None or not self.fits(found, names[0], old):
            return
        if not wires_only and found.group == "wire":
            self.messages.error("unknown-word", "a wire lies between its ends and can't be moved",
                                names[0].span, "write: repin W31 K2.87 -> K2.87a, or change its "
                                "run: change W31 via RUN")
            return
        view = _view(self.space.facts[found.at], found)
        if fact.word == "move" and any(a.key == ("in",) for a in new) and not any(
                a.key == ("slot",) for a in new):
            view.drop(("slot",))  # the slot was one of the place that it leaves
        view.put(new)
        self.space.facts[found.at] = view.done()

    def _put(self, view: Plain | Chain, items: Sequence[Item], found: Found, fact: Fact) -> bool:
        trouble = view.put(split_attributes(items, of_wire=found.group == "wire"))
        if trouble is not None:
            self.messages.error("part-of-chain", trouble, items[0].span,
                                "give the length of the whole chain, or replace the chain")
        return trouble is None

    def _without(self, view: Plain | Chain, word: Item, name: Item) -> None:
        keys = [_WITHOUT[word.text]] if word.text in _WITHOUT else (
            [(word.text,)] if word.text in _VALUES else
            [("flag", word.text)] if word.text in FLAG_WORDS else
            [key for key in view.held_keys() if key[:2] == ("figure", word.text)])
        dropped = [view.drop(key) for key in keys]
        if not any(dropped):
            held = sorted({key[1] if key[0] in ("figure", "flag") and key[1] else key[-1]
                           for key in view.held_keys()})
            self.messages.error("does-not-fit", f"'{name.text}' has no '{word.text}' to take away",
                                word.span, did_you_mean(
                                    word.text, held, "it has: " + ", ".join(held) if held
                                    else "its line says nothing of that sort"))

    # ends of wires

    def repin(self, fact: Fact) -> None:
        items, old = split_was(fact.items[1:])
        arrows = [i for i, item in enumerate(items) if item.type == "arrow"]
        if len(items) < 4 or arrows != [2]:
            self._syntax(fact, "repin which end to where?", "write: repin W31 K2.87 -> K2.87a")
            return
        found = self.space.find(items[0], "wire")
        if found is None or not self.fits(found, items[0], old):
            return
        target = self.space.facts[found.at]
        view = Chain.of(target, found.piece)
        spots = view.matching_ends(items[1].text)
        if view.piece is not None:
            spots = [i for i in spots if i in (view.piece - 1, view.piece)]
        if not spots:
            spots = self._built_ends(view, items[1].text)
        if len(spots) != 1:
            shown = " and ".join(end.text for end in view.ends)
            self.messages.error(
                "does-not-fit", f"'{items[0].text}' has no end at {items[1].text}" if not spots
                else f"'{items[0].text}' ends twice at {items[1].text}", items[1].span,
                did_you_mean(items[1].text, [end.text for end in view.ends],
                             f"its ends are {shown}"),
                (Related("the wire is here", target.head.span),), items[0].text)
            return
        view.ends[spots[0]] = items[3]
        if items[4:]:
            view.put(split_attributes(items[4:], of_wire=True))
        moved = view.done()
        self.space.facts[found.at] = moved
        if name_item(target) is None:
            # an unnamed wire is called after its ends: whoever mentions it follows
            pairs = zip([*piece_names(target), fact_name(target)],
                        [*piece_names(moved), fact_name(moved)], strict=True)
            names = {("wire", old): new for old, new in pairs if old != new}
            self.space.facts = [renamed_fact(each, names) for each in self.space.facts]

    def _built_ends(self, view: Chain, text: str) -> list[int]:
        """Find an end that is written by another name of its terminal."""
        names = self.space.wire_names(self.space.facts).get(place_key(view.fact.head.span), [])
        for number, name in enumerate(names[: view.count]):
            if name.startswith(f"{text}-"):
                return [number]
            if name.endswith(f"-{text}"):
                return [number + 1]
        return []

    # what the overlay says about the state before

    def fits(self, found: Found, item: Item, old: Sequence[Item]) -> bool:
        """Compare the base with what stands behind `was`."""
        if not old:
            return True
        target = self.space.facts[found.at]
        view = _view(target, found)
        good = True
        for attribute in split_attributes(old, of_wire=found.group == "wire"):
            if attribute.key[0] == "word":
                if found.group == "part" and attribute.items[0].text == target.word:
                    continue
                self._misfit(item.text, "kind" if found.group == "part" else "word", target.word,
                             attribute.items[0], target)
                good = False
                continue
            there = view.get(attribute.key)
            if len(there) == 1 and there[0].meaning() == attribute.meaning():
                continue
            shown = " and ".join(a.text for a in there) if there else ""
            self._misfit(item.text, _word_for(attribute), shown, attribute.items[0], target)
            good = False
        return good

    def _misfit(self, name: str, what: str, there: str, said: Item, target: Fact) -> None:
        text = (f"'{name}' has no {what} in the base, so it can't have been {said.text}"
                if not there else f"the {what} of '{name}' is {there} in the base, not {said.text}")
        self.messages.error("does-not-fit", text, said.span,
                            "look again at the base: it has changed, or another one is meant",
                            (Related("the base says here", target.span),), name)

    def _syntax(self, fact: Fact, message: str, hint: str) -> None:
        self.messages.error("syntax", message, fact.span, hint)


def split_was(items: Sequence[Item]) -> tuple[tuple[Item, ...], tuple[Item, ...]]:
    """Return what stands before the word `was`, and what stands behind it. `without` and evidence
    behind it speak of the new state."""
    for number, item in enumerate(items):
        if number and item.type == "word" and item.text == "was":
            stop = next((i for i in range(number, len(items)) if items[i].type == "word"
                         and (items[i].text == "without" or items[i].text in TRUST_WORDS)),
                        len(items))
            return (*items[:number], *items[stop:]), tuple(items[number + 1 : stop])
    return tuple(items), ()


def group_and_names(items: Sequence[Item]) -> tuple[str, list[Item]]:
    """Return the group that the first word says, if it does, and the names from there on."""
    names = [item for item in items if item.type in ("word", "number", "text", "quantity")]
    if len(names) > 1 and names[0].type == "word" and names[0].text in GROUP_WORDS:
        return names[0].text, names[1:]
    return "", names


def _view(fact: Fact, found: Found) -> Plain | Chain:
    return Chain.of(fact, found.piece) if found.group == "wire" else Plain.of(fact)


def _word_for(attribute: Attribute) -> str:
    key = attribute.key
    words = {"in": "place", "at": "position", "on": "metal"}
    if key[0] == "figure":
        return f"{key[1]} {key[2]}".strip()
    return words.get(key[0], key[-1])


def _settings_in_braces(fact: Fact) -> Fact:
    """Return a condition with the settings of its first line as the first line of its block."""
    start = 3 if len(fact.items) > 2 and fact.items[2].type == "text" else 2
    settings = tuple(item for item in fact.items[start:]
                     if not (item.type == "word" and item.text == "rest"))
    block = fact.block or ()
    if settings:
        block = (Fact(settings, None, settings[-1].line), *block)
    return replace(fact, items=fact.items[:start], block=block)
