"""The verb `rename`: gives something another name, and lets everything that mentions it follow."""

from __future__ import annotations

from dataclasses import replace

from harnessdsl.diagnostics import Related
from harnessdsl.language.facts import Fact, Item
from harnessdsl.plans.edit_attributes import group_and_names
from harnessdsl.plans.fact_names import (
    fact_name,
    group_of,
    name_item,
    piece_names,
    renamed_fact,
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
        facts = [renamed_fact(fact, names) for fact in self.space.facts]
        self.space.facts = facts
