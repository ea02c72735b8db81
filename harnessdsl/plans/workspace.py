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


def wire_keys(facts: Iterable[Fact], chains_only: bool = False,
              memo: dict[int, tuple[Fact, list[str]]] | None = None
              ) -> dict[str, tuple[tuple[str, int, int], int | None]]:
    """Return the name of every piece and of every chain with the place of its fact, and the
    number of the piece in its chain. Names are numbered as the builder does when they are alike;
    a piece goes before a chain of its name. `memo` keeps what was worked out of a fact."""
    pieces: dict[str, tuple[tuple[str, int, int], int | None]] = {}
    chains: dict[str, tuple[tuple[str, int, int], int | None]] = {}
    for fact in facts:
        if fact.items[0].text != "wire":
            continue
        held = None if memo is None else memo.get(id(fact))
        names = held[1] if held is not None else piece_names(fact)
        if memo is not None:
            memo[id(fact)] = (fact, names)  # holding the fact keeps its id its own
        key = place_key(fact.head.span)
        for number, name in enumerate(names, 1):
            unique, count = name, 2
            while unique in pieces:
                unique, count = f"{name}#{count}", count + 1
            pieces[unique] = (key, number if len(names) > 1 else None)
        if len(names) > 1:
            unique, count = fact_name(fact), 2
            while unique in chains:
                unique, count = f"{fact_name(fact)}#{count}", count + 1
            chains[unique] = (key, None)
    return chains if chains_only else {**chains, **pieces}


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
    first_names: dict[bool, dict[str, tuple[tuple[str, int, int], int | None]]] = field(
        default_factory=dict)
    """The numbered names as they were when the overlay began: of pieces, and of chains."""
    _named: dict[bool, tuple[tuple[Fact, ...], dict[str, Found]]] = field(default_factory=dict)
    """The names of wires, and the facts for which they were worked out."""
    _memo: dict[int, tuple[Fact, list[str]]] = field(default_factory=dict)

    def names(self, groups: Iterable[str] = ()) -> list[str]:
        """Return the names of all facts in some groups, or in all."""
        wanted = set(groups)
        found: list[str] = []
        for fact in self.facts:
            if not wanted or group_of(fact) in wanted:
                found.append(fact_name(fact))
        return [name for name in found if name]

    def begin_overlay(self) -> None:
        """Keep the names of all wires as they are now: numbers of unnamed wires between the same
        ends, such as F7.2-K2.30#2, stay what they were while the overlay removes some of them."""
        self.first_names = {only: {name: key for name, key in wire_keys(
            self.facts, only, self._memo).items() if "#" in name} for only in (False, True)}
        self._named.clear()

    def _wires(self, chains_only: bool) -> dict[str, Found]:
        facts = tuple(self.facts)
        held = self._named.get(chains_only)
        if held is None or held[0] != facts:
            held = self._named[chains_only] = (facts, self._name_wires(chains_only))
        return held[1]

    def _name_wires(self, chains_only: bool) -> dict[str, Found]:
        keys = {place_key(fact.head.span): at for at, fact in enumerate(self.facts)
                if group_of(fact) == "wire"}
        found: dict[str, Found] = {}
        for name, (key, piece) in {**wire_keys(self.facts, chains_only, self._memo),
                                   **self.first_names.get(chains_only, {})}.items():
            if key in keys:
                found[name] = Found(keys[key], "wire", piece)
        return found

    def lookup(self, name: str, group: str = "", thorough: bool = False) -> list[Found]:
        """Return the facts that define `name`, in one group or in any. A wire whose ends are
        written by other names of their terminals is found by a `thorough` look, which builds."""
        found = [Found(at, group_of(fact)) for at, fact in enumerate(self.facts)
                 if group_of(fact) != "wire" and (not group or group_of(fact) == group)
                 and fact_name(fact) == name]
        if not group or group in ("wire", "chain"):
            wire = self._wires(group == "chain").get(name)
            if wire is None and not found and thorough:
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
        found = self.lookup(item.text, group, thorough=True)
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
        known = [*self.names((group,) if group and group != "chain" else ())]
        if not group or group in ("wire", "chain"):
            known += list(self._wires(group == "chain"))
        what = group or "part, wire or place"
        alike = [name for name in known if name[:1] == item.text[:1]]
        hint = (did_you_mean(item.text, alike) if alike else None) or did_you_mean(
            item.text, known, "look for its name in the base")
        self.messages.error("not-in-base", f"there is no {what} '{item.text}' in the base",
                            item.span, hint, subject=item.text)


GROUP_WORDS = (*GROUPS, "part", "chain")
"""Words that may stand before a name to say of what sort it is."""
