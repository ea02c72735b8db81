"""The facts while overlays are applied to them, and finding the fact that a name means."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from harnessdsl.diagnostics import Related, did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.reading import Messages
from harnessdsl.plans.fact_names import GROUPS, fact_name, group_of, piece_names
from harnessdsl.text import Span

WireNames = Callable[[Sequence[Fact]], dict[tuple[str, int, int], list[str]]]
"""Facts -> the names that the built wires have, by (path, line, column) of their `wire`."""


def place_key(span: Span) -> tuple[str, int, int]:
    """Return where a fact stands, which stays the same however its attributes change."""
    return (span.path, span.line, span.column)


@dataclass(frozen=True, slots=True)
class Found:
    """The fact that a name means; `piece` is the number of a piece of a chain, else None."""

    at: int
    group: str
    piece: int | None = None


@dataclass(slots=True)
class Workspace:
    """All facts of the layers so far. `left_out` holds facts for other cars than the chosen one,
    with the words of their condition."""

    messages: Messages
    wire_names: WireNames
    facts: list[Fact] = field(default_factory=list)
    left_out: list[tuple[Fact, str]] = field(default_factory=list)

    def names(self, groups: Iterable[str] = ()) -> list[str]:
        """Return the names of all facts in some groups, or in all."""
        wanted = set(groups)
        found: list[str] = []
        for fact in self.facts:
            if not wanted or group_of(fact) in wanted:
                found.append(fact_name(fact))
        return [name for name in found if name]

    def _wires(self) -> dict[str, Found]:
        """Return every name of a wire, of a chain and of its pieces, named as the builder does."""
        found: dict[str, Found] = {}
        for at, fact in enumerate(self.facts):
            if group_of(fact) != "wire":
                continue
            pieces = piece_names(fact)
            if not pieces:
                continue
            if len(pieces) > 1:
                found.setdefault(fact_name(fact), Found(at, "wire"))
            for number, name in enumerate(pieces, 1):
                unique, count = name, 2
                while unique in found:
                    unique, count = f"{name}#{count}", count + 1
                found[unique] = Found(at, "wire", number if len(pieces) > 1 else None)
        return found

    def lookup(self, name: str, group: str = "") -> list[Found]:
        """Return the facts that define `name`, in one group or in any."""
        found = [Found(at, group_of(fact)) for at, fact in enumerate(self.facts)
                 if group_of(fact) != "wire" and (not group or group_of(fact) == group)
                 and fact_name(fact) == name]
        if not group or group == "wire":
            wire = self._wires().get(name)
            if wire is None and not found:
                wire = self._built_wire(name)
            if wire is not None:
                found.append(wire)
        return found

    def _built_wire(self, name: str) -> Found | None:
        """Look again with the names that the builder gives: an end may be written by another name
        of its terminal."""
        for key, names in self.wire_names(self.facts).items():
            if name in names:
                for at, fact in enumerate(self.facts):
                    if group_of(fact) == "wire" and place_key(fact.head.span) == key:
                        pieces = len(piece_names(fact))
                        whole = names.index(name) == len(names) - 1 and len(names) > pieces
                        number = names.index(name) + 1
                        return Found(at, "wire", None if pieces == 1 or whole else number)
        return None

    def find(self, item: Item, group: str = "") -> Found | None:
        """Return the one fact that a name means, or report why there is none."""
        found = self.lookup(item.text, group)
        if len(found) == 1:
            return found[0]
        if found:
            groups = [f.group for f in found]
            if len(set(groups)) == 1:
                self.messages.error(
                    "duplicate-name", f"there are several {groups[0]}s called '{item.text}'",
                    item.span, "give them names of their own in the base",
                    tuple(Related("this is one", self.facts[f.at].head.span) for f in found))
            else:
                self.messages.error(
                    "unclear-name", f"'{item.text}' is the name of a "
                    + " and of a ".join(groups), item.span,
                    f"say which one: {groups[0]} {item.text}")
            return None
        self._not_there(item, group)
        return None

    def _not_there(self, item: Item, group: str) -> None:
        for fact, condition in self.left_out:
            if fact_name(fact) == item.text:
                self.messages.error(
                    "not-in-base", f"'{item.text}' is not in the chosen car: it is there only "
                    f"with {condition}", item.span,
                    f"put this line in braces: when {condition} {{ ... }}",
                    (Related("it is here", fact.head.span),), item.text)
                return
        known = [*self.names((group,) if group and group != "wire" else ())]
        if not group or group == "wire":
            known += list(self._wires())
        what = group or "part, wire or place"
        alike = [name for name in known if name[:1] == item.text[:1]]
        hint = (did_you_mean(item.text, alike) if alike else None) or did_you_mean(
            item.text, known, "look for its name in the base")
        self.messages.error("not-in-base", f"there is no {what} '{item.text}' in the base",
                            item.span, hint, subject=item.text)


GROUP_WORDS = (*GROUPS, "part")
"""Words that may stand before a name to say of what sort it is."""
