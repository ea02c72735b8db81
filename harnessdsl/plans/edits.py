"""Applies an overlay to facts: plain facts are added; remove and replace are here, the other verbs
are handed on; at the end nothing may be left hanging."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from harnessdsl.diagnostics import Related, did_you_mean, nearest
from harnessdsl.language.facts import Fact, Item
from harnessdsl.plans.edit_attributes import AttributeEditor, group_and_names, split_was
from harnessdsl.plans.edit_names import NameEditor
from harnessdsl.plans.fact_names import (
    Mention,
    drop_members,
    fact_name,
    group_of,
    mentions,
    name_item,
    piece_names,
    wire_ends,
)
from harnessdsl.plans.workspace import Found, Workspace, place_key

VERBS = ("remove", "replace", "move", "recolour", "repin", "swap", "change", "rename")

class Editor:
    """Applies the facts of one overlay, in the order in which they stand."""

    def __init__(self, space: Workspace) -> None:
        self.space = space
        self.messages = space.messages
        self.attributes = AttributeEditor(space)
        self.gone: dict[tuple[str, str], tuple[Item, Fact]] = {}
        """What this overlay removed: (group, name) -> the word that did it, the fact."""
        self.added: set[tuple[str, int, int]] = set()
        """Where the wires stand that this overlay adds."""
        self.verbs: dict[str, Callable[[Fact], None]] = {
            "remove": self._remove, "replace": self._replace,
            "rename": NameEditor(space).rename,
            "move": self.attributes.move, "recolour": self.attributes.recolour,
            "repin": self.attributes.repin, "swap": self.attributes.swap,
            "change": self.attributes.change,
        }

    def _is_misspelt_verb(self, fact: Fact) -> bool:
        """Report a line that begins with nearly a verb, and with no kind of part."""
        verb = nearest(fact.word, self.verbs)
        if verb is None or group_of(fact) != "part":
            return False
        from harnessdsl.model.kind_shelf import shipped_kinds

        kinds = {*shipped_kinds().names(), *self.space.names(("kind",))}
        if fact.word in kinds or nearest(fact.word, [verb, *kinds]) != verb:
            return False
        self.messages.error("unknown-word", f"'{fact.word}' means nothing in an overlay",
                            fact.head.span, f"did you mean '{verb}'?")
        return True

    def apply(self, facts: Sequence[Fact]) -> None:
        """Apply all facts of the overlay, then look for what was left hanging."""
        self.space.begin_overlay()
        for fact in facts:
            verb = self.verbs.get(fact.word) if fact.head.type == "word" else None
            if verb is not None:
                verb(fact)
            elif not self._is_misspelt_verb(fact):
                self._add(fact)
        self._settle()

    # adding, removing, replacing

    def _add(self, fact: Fact) -> None:
        group = group_of(fact)
        name = fact_name(fact)
        if group == "vehicle":
            self.messages.error("already-in-base", "the base has a vehicle already",
                                fact.head.span, "write: change vehicle { ... }, or put the lines "
                                "in braces behind 'variant'")
            return
        if group not in ("accept", "caution", "evidence") and name:
            before = self.space.lookup(name, group)
            if group == "wire":
                self.added.add(place_key(fact.head.span))
                if name_item(fact) is None:
                    before = [found for found in before if self._is_repeated(fact, found)]
            if before and group == "wire" and name_item(fact) is None:
                self._already(fact, before[0], name, "give it a name of its own if it is a second "
                              "wire between the same ends: wire W101 "
                              + " -> ".join(end.text for end in wire_ends(fact)))
                return
            if before:
                self._already(fact, before[0], name,
                              f"to put this one in its place, write: replace {fact.word} {name} "
                              f"...; to change something about it: change {name} ...")
                return
        self.space.facts.append(fact)

    def _is_repeated(self, fact: Fact, found: Found) -> bool:
        """Say whether an unnamed wire says again what the base says. Two between the same ends are
        meant when both stand in this overlay, or when one is a piece of a chain."""
        return (len(piece_names(fact)) == 1 and found.piece is None
                and len(piece_names(self.space.facts[found.at])) == 1
                and place_key(self.space.facts[found.at].head.span) not in self.added)

    def _already(self, fact: Fact, before: Found, name: str, hint: str) -> None:
        item = name_item(fact) or fact.head
        self.messages.error("already-in-base", f"there is a {before.group} '{name}' already",
                            item.span, hint,
                            (Related("it is here", self.space.facts[before.at].head.span),), name)

    def _remove(self, fact: Fact) -> None:
        items, old = split_was(fact.items[1:])
        with_wires = [item.text for item in items[-2:]] == ["with", "wires"]
        if with_wires:
            items = items[:-2]
        if len(items) > 1 and items[0].text == "accept":
            self._remove_acceptance(items[1:])
            return
        if len(items) == 2 and items[0].text == "caution" and items[1].type == "text":
            self._remove_caution(items[1])
            return
        group, names = group_and_names(items)
        if not names:
            self._syntax(fact, "remove what?", "write: remove K2 W31")
            return
        for item in names:
            found = self.space.find(item, group)
            if found is None or not self.attributes.fits(found, item, old):
                continue
            target = self.space.facts[found.at]
            if found.piece is not None:
                self.messages.error(
                    "part-of-chain", f"'{item.text}' is one piece of the chain "
                    f"'{fact_name(target)}'", item.span,
                    "remove the chain by its own name and write the rest again",
                    (Related("the chain is here", target.head.span),))
                continue
            del self.space.facts[found.at]
            self._note_gone(target, item)
            if with_wires:
                self._remove_wires_of(item)

    def _note_gone(self, target: Fact, item: Item) -> None:
        group = group_of(target)
        self.gone[(group, fact_name(target))] = (item, target)
        if group == "wire":
            for name in piece_names(target):
                self.gone[(group, name)] = (item, target)

    def _remove_wires_of(self, item: Item) -> None:
        """Remove the wires of a part, each as far as the next part: plugs on the way are no end."""
        plugs = {fact_name(fact) for fact in self.space.facts if fact.word == "connector"}
        kept: list[Fact] = []
        for fact in self.space.facts:
            ends = [end.text.partition(".")[0] for end in wire_ends(fact)] if group_of(
                fact) == "wire" else []
            if item.text not in ends:
                kept.append(fact)
                continue
            if any(name not in plugs and name != item.text for name in ends[1:-1]):
                self.messages.error(
                    "part-of-chain", f"wire '{fact_name(fact)}' goes on to other parts behind "
                    f"'{item.text}'", item.span,
                    f"write what is left of it: replace wire {fact_name(fact)} ..., or remove it "
                    "by its name and add the rest",
                    (Related("the wire is here", fact.head.span),))
            self._note_gone(fact, item)
        self.space.facts = kept

    def _remove_acceptance(self, items: Sequence[Item]) -> None:
        wanted = [item.text for item in items]
        for at, fact in enumerate(self.space.facts):
            if group_of(fact) == "accept":
                texts = [item.text for item in fact.items[1:] if item.type != "text"]
                if texts == wanted:
                    del self.space.facts[at]
                    return
        known = [" ".join(i.text for i in f.items[1:] if i.type != "text")
                 for f in self.space.facts if group_of(f) == "accept"]
        self.messages.error("not-in-base", f"the base does not accept '{' '.join(wanted)}'",
                            items[0].span.to(items[-1].span),
                            did_you_mean(" ".join(wanted), known, "it accepts: " + ", ".join(known)
                                         if known else "it accepts nothing"))

    def _remove_caution(self, item: Item) -> None:
        def says_it(fact: Fact) -> bool:
            return fact.word == "caution" and [i.text for i in fact.items[1:]] == [item.text]

        for at, fact in enumerate(self.space.facts):
            if group_of(fact) == "caution" and says_it(fact):
                del self.space.facts[at]
                return
            if group_of(fact) == "vehicle" and any(says_it(line) for line in fact.block or ()):
                self.space.facts[at] = replace(fact, block=tuple(
                    line for line in fact.block or () if not says_it(line)))
                return
        self.messages.error("not-in-base", "the base has no such caution", item.span,
                            "write the text exactly as it stands there")

    def _replace(self, fact: Fact) -> None:
        if len(fact.items) < 2:
            self._syntax(fact, "replace what?", "write: replace relay-diode K2 \"...\" in dash-box")
            return
        new = replace(fact, items=fact.items[1:])
        name = fact_name(new)
        if not name or new.head.type != "word":
            self._syntax(fact, "'replace' stands before a whole fact with its name",
                         "write: replace relay-diode K2 \"...\" in dash-box slot B")
            return
        item = name_item(new) or replace(new.items[0], text=name)
        found = self.space.find(item, group_of(new))
        if found is None:
            return
        if found.piece is not None:
            self.messages.error("part-of-chain", f"'{name}' is one piece of a chain", item.span,
                                "replace the chain by its own name")
            return
        self.space.facts[found.at] = new

    # what it leaves behind

    def _settle(self) -> None:
        """Let lists forget what is gone, and report what still needs it."""
        gone = {key: pair for key, pair in self.gone.items()
                if not self.space.lookup(key[1], key[0])}
        if not gone:
            return

        def is_gone(mention: Mention) -> bool:
            if mention.group:
                return (mention.group, mention.name) in gone
            return any(name == mention.name for _, name in gone) and not self.space.lookup(
                mention.name)

        facts = [drop_members(fact, is_gone) for fact in self.space.facts]
        self.space.facts = [fact for fact in facts if fact is not None]
        needs: dict[tuple[str, str], list[Fact]] = {}
        for fact in self.space.facts:
            for mention in mentions(fact):
                key = (mention.group, mention.name)
                if key in gone and mention.role != "member":
                    users = needs.setdefault(key, [])
                    if fact not in users:
                        users.append(fact)
        for (group, name), users in needs.items():
            item, fact = gone[(group, name)]
            self._still_needed(group, name, item, users)
            self.space.facts.append(fact)  # so that one mistake brings one message

    def _still_needed(self, group: str, name: str, item: Item, users: list[Fact]) -> None:
        shown = ", ".join(f"{'' if group_of(u) == 'part' else group_of(u) + ' '}{fact_name(u)}"
                          for u in users[:4])
        more = f" and {len(users) - 4} more" if len(users) > 4 else ""
        wires = [u for u in users if group_of(u) == "wire"]
        hint = (f"remove them too, or move their ends with repin; 'remove {name} with wires' takes "
                "all its wires" if group == "part" and wires else
                f"move them first: move {fact_name(users[0])} in ..." if group == "place" else
                "remove or replace them too")
        self.messages.error("still-needed", f"{group} '{name}' is removed here, but {shown}{more} "
                            f"still {'needs' if len(users) == 1 else 'need'} it", item.span, hint,
                            tuple(Related("used here", u.head.span) for u in users[:3]), name)

    def _syntax(self, fact: Fact, message: str, hint: str) -> None:
        self.messages.error("syntax", message, fact.span, hint)
