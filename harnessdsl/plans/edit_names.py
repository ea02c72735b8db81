"""The verb `rename`: gives something another name, and lets everything that mentions it follow."""

from __future__ import annotations

from dataclasses import replace

from harnessdsl.diagnostics import Related
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.reading import names_of
from harnessdsl.plans.edit_attributes import group_and_names
from harnessdsl.plans.fact_names import (
    fact_name,
    group_of,
    mentions,
    name_item,
    piece_names,
    rewrite_items,
)
from harnessdsl.plans.workspace import Found, Workspace

Names = dict[tuple[str, str], str]
"""(group, old name) -> new name."""


class NameEditor:
    """Renames things in the facts of a workspace."""

    def __init__(self, space: Workspace) -> None:
        self.space = space
        self.messages = space.messages

    def rename(self, fact: Fact) -> None:
        items = [item for item in fact.items[1:] if item.type != "arrow"]
        group, names = group_and_names(items)
        if len(names) != 2:
            self.messages.error("syntax", "rename what to what?", fact.span,
                                "write: rename K2 -> K12")
            return
        old, new = names
        found = self.space.find(old, group)
        if found is None:
            return
        target = self.space.facts[found.at]
        if found.piece is not None:
            self.messages.error("part-of-chain", f"'{old.text}' is one piece of a chain", old.span,
                                "rename the chain by its own name")
            return
        taken = self.space.lookup(new.text, found.group)
        if taken:
            self.messages.error("already-in-base", f"there is a {found.group} '{new.text}' already",
                                new.span, "choose another name, or rename that one first",
                                (Related("it is here",
                                         self.space.facts[taken[0].at].head.span),))
            return
        self._rename_all(found, target, old.text, new)

    def _rename_all(self, found: Found, target: Fact, old: str, new: Item) -> None:
        before = [(fact_name(f), piece_names(f)) if group_of(f) == "wire" else ("", [])
                  for f in self.space.facts]
        name = name_item(target)
        if name is None:  # an unnamed wire gets its first name
            renamed: Fact | None = replace(target, items=(target.head, new, *target.items[1:]))
        else:
            renamed = replace(target, items=tuple(
                new if item == target.items[1] else item for item in target.items))
        assert renamed is not None
        self.space.facts[found.at] = renamed
        names = {(found.group, old): new.text}
        if found.group == "wire":
            names |= {("wire", a): b for a, b in zip(piece_names(target), piece_names(renamed),
                                                     strict=True)}
        if found.group == "part":
            self._replace_mentions(names)
            names = {}
            for (chain, pieces), fact in zip(before, self.space.facts, strict=True):
                if group_of(fact) == "wire" and name_item(fact) is None:
                    pairs = [*zip(pieces, piece_names(fact), strict=True), (chain, fact_name(fact))]
                    names |= {("wire", a): b for a, b in pairs if a != b}
        if names:
            self._replace_mentions(names)

    def _replace_mentions(self, names: Names) -> None:
        facts = [_renamed(fact, names) for fact in self.space.facts]
        self.space.facts = facts


def _renamed(fact: Fact, names: Names) -> Fact:
    """Return the fact with every mention of an old name replaced by the new one."""
    change: dict[Item, str] = {}
    for mention in mentions(fact):
        new = names.get((mention.group, mention.name))
        if not mention.group:
            new = next((to for (_, old), to in names.items() if old == mention.name), None)
        if new is not None:
            rest = mention.item.text[len(mention.name):] if mention.item.text.startswith(
                mention.name) else ""
            change[mention.item] = new + rest
    if not change:
        return fact

    def rewrite(item: Item) -> tuple[Item, ...]:
        if item not in change:
            return (item,)
        if item.type == "range":
            old = {name for (_, name) in names}
            return tuple(replace(n, text=next(to for (_, o), to in names.items() if o == n.text))
                         if n.text in old else n for n in names_of([item]))
        return (replace(item, type="word", text=change[item]),)

    return rewrite_items(fact, rewrite) or fact
