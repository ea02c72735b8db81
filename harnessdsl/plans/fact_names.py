"""What a fact defines and what it mentions: the names in it, before anything is built.

An edit of facts has to know where a name is used, so that nothing is left behind.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.failures import FAILURES
from harnessdsl.model.reading import TRUST_WORDS, names_of

GROUPS = ("place", "wire", "cable", "run", "circuit", "condition", "kind", "conductor")
"""Heads of facts that define something with a name; other heads are kinds of part."""
NAMELESS = ("vehicle", "accept", "caution", "evidence", "verified", "refuted", "claim",
            "likelihood")


@dataclass(frozen=True, slots=True)
class Mention:
    """A name that a fact mentions, and the item that it stands in."""

    group: str
    name: str
    item: Item
    role: str = ""
    """member when the mention is one of a list that can do without it; else ''."""


def group_of(fact: Fact) -> str:
    """Return the group of what a fact defines: a word of GROUPS or NAMELESS, or 'part'."""
    if fact.head.type == "word" and (fact.word in GROUPS or fact.word in NAMELESS):
        return fact.word
    return "part"


def name_item(fact: Fact) -> Item | None:
    """Return the item that names what the fact defines; None for an unnamed wire."""
    group = group_of(fact)
    if group in NAMELESS or len(fact.items) < 2:
        return None
    if group == "wire":
        arrow = next((i for i, item in enumerate(fact.items) if item.type == "arrow"), 0)
        return fact.items[1] if arrow == 3 else None
    names = names_of(fact.items[1:2])
    return names[0] if names and names[0].type in ("word", "number", "text") else None


def wire_ends(fact: Fact) -> list[Item]:
    """Return the items of a wire's ends, in order."""
    arrows = [i for i, item in enumerate(fact.items) if item.type == "arrow"]
    if not arrows:
        return []
    spots = [arrows[0] - 1, *(i + 1 for i in arrows)]
    return [fact.items[i] for i in spots if 0 < i < len(fact.items)]


def end_text(item: Item) -> str:
    """Return an end as it shows in wire names: the half of a plug is left away."""
    pieces = item.text.split(".")
    if len(pieces) == 3 and pieces[1] in ("a", "b"):
        return f"{pieces[0]}.{pieces[2]}"
    return item.text


def fact_name(fact: Fact) -> str:
    """Return the name of what a fact defines; an unnamed wire is called after its ends."""
    item = name_item(fact)
    if item is not None:
        return item.text
    ends = wire_ends(fact) if group_of(fact) == "wire" else []
    return f"{end_text(ends[0])}-{end_text(ends[-1])}" if ends else ""


def piece_names(fact: Fact) -> list[str]:
    """Return the names of the pieces of a wire fact, one for each arrow."""
    ends = wire_ends(fact)
    item = name_item(fact)
    if item is not None:
        count = len(ends) - 1
        return [item.text] if count == 1 else [f"{item.text}:{i + 1}" for i in range(count)]
    return [f"{end_text(a)}-{end_text(b)}" for a, b in itertools.pairwise(ends)]


def mentions(fact: Fact) -> Iterator[Mention]:
    """Yield every name that the fact mentions, apart from the one that it defines."""
    group = group_of(fact)
    reader = _READERS.get(group)
    if reader is not None:
        yield from reader(fact)


def _part_of(item: Item, role: str = "") -> Mention:
    return Mention("part", item.text.partition(".")[0], item, role)


def _after(word: str, group: str, items: tuple[Item, ...]) -> Iterator[Mention]:
    for item, following in itertools.pairwise(items):
        if item.type == "word" and item.text == word and following.type in (
                "word", "number", "text"):
            yield Mention(group, following.text, following)


def _wire(fact: Fact) -> Iterator[Mention]:
    for item in wire_ends(fact):
        yield _part_of(item)
    yield from _after("via", "run", fact.items[2:])


def _part(fact: Fact) -> Iterator[Mention]:
    yield Mention("kind", fact.word, fact.head)
    lines = [fact.items[2:], *(line.items for line in fact.block or ())]
    for items in lines:
        yield from _after("in", "place", items)
        yield from _after("of", "part", items)
        yield from _after("on", "conductor", items)


def _place(fact: Fact) -> Iterator[Mention]:
    for items in [fact.items[2:], *(line.items for line in fact.block or ())]:
        yield from _after("in", "place", items)


def _run(fact: Fact) -> Iterator[Mention]:
    in_evidence = False
    for item in fact.items[2:]:
        in_evidence = in_evidence or (item.type == "word" and item.text in TRUST_WORDS)
        if item.type in ("word", "number") and not in_evidence:
            yield Mention("place", item.text, item)
        elif item.type == "arrow":
            in_evidence = False
    for line in fact.block or ():
        group = {"wires": "wire", "grommet": "place"}.get(line.word)
        if group is not None:
            for item in line.items[1:]:
                for name in names_of([item]):
                    yield Mention(group, name.text, item, "member")


def _cable(fact: Fact) -> Iterator[Mention]:
    for line in fact.block or ():
        if line.word == "screen" and len(line.items) > 1:
            yield _part_of(line.items[1])
            continue
        for item in line.items:
            for name in names_of([item]):
                yield Mention("wire", name.text, item, "member")


def _circuit(fact: Fact) -> Iterator[Mention]:
    for line in fact.block or ():
        for item in line.items:
            for name in names_of([item]):
                yield Mention("part", name.text, item, "member")


def _condition(fact: Fact) -> Iterator[Mention]:
    for items in [fact.items[2:], *(line.items for line in fact.block or ())]:
        for item, following in itertools.pairwise(items):
            if item.type in ("word", "number") and following.type in ("equals", "quantity") and (
                    item.text not in ("engine", "ambient")):
                yield _part_of(item, "member")


def _accept(fact: Fact) -> Iterator[Mention]:
    if len(fact.items) > 2 and fact.items[2].type != "text":
        yield Mention("", fact.items[2].text, fact.items[2], "member")


def _told(fact: Fact) -> Iterator[Mention]:
    """Names at the head of `verified`, `refuted` and `claim`, up to what is said about them."""
    for item in fact.items[1:]:
        if item.type in ("text", "date") or item.text in TRUST_WORDS:
            return
        if item.type != "comma":
            yield Mention("", item.text, item, "member")


def _likelihood(fact: Fact) -> Iterator[Mention]:
    """Names before the factor, ways to fail left out."""
    last = max((i for i, item in enumerate(fact.items) if item.type == "number"), default=0)
    for item in fact.items[1:last]:
        if item.type != "comma" and item.text not in FAILURES:
            yield Mention("", item.text, item, "member")


def _kind(fact: Fact) -> Iterator[Mention]:
    yield from _after("like", "kind", fact.items[2:])


_READERS: dict[str, Callable[[Fact], Iterable[Mention]]] = {
    "wire": _wire, "part": _part, "place": _place, "run": _run, "cable": _cable,
    "circuit": _circuit, "condition": _condition, "accept": _accept, "kind": _kind,
    "verified": _told, "refuted": _told, "claim": _told, "likelihood": _likelihood,
}


def rewrite_items(fact: Fact, change: Callable[[Item], tuple[Item, ...]]) -> Fact | None:
    """Return the fact with every item replaced by what `change` makes of it; None when nothing is
    left of it. Lines of a block that lose all their items go."""
    items = tuple(new for item in fact.items for new in change(item))
    block = fact.block
    if block is not None:
        lines = (rewrite_items(line, change) for line in block)
        block = tuple(line for line in lines if line is not None)
    return replace(fact, items=items, block=block) if items else None


def drop_members(fact: Fact, gone: Callable[[Mention], bool]) -> Fact | None:
    """Return the fact without the members that `gone` names: list entries, settings of switches,
    and the whole fact where it accepts a finding about something gone."""
    dropped = [m for m in mentions(fact) if m.role == "member" and gone(m)]
    if not dropped:
        return fact
    group = group_of(fact)
    if group in ("accept", "likelihood"):
        return None
    names = {m.name for m in dropped}
    items = {m.item for m in dropped}
    if group == "condition":
        return _drop_settings(fact, items)

    def change(item: Item) -> tuple[Item, ...]:
        if item not in items:
            return (item,)
        return tuple(name for name in names_of([item]) if name.text not in names)

    rewritten = rewrite_items(fact, change)
    if rewritten is not None and group in ("verified", "refuted", "claim") and not any(
            mentions(rewritten)):
        return None
    if rewritten is None or rewritten.block is None:
        return rewritten
    # a line that was a word and its list is no line without the list
    kept = tuple(line for line in rewritten.block
                 if not (len(line.items) == 1 and line.word in ("wires", "grommet")))
    return replace(rewritten, block=kept)


def _drop_settings(fact: Fact, gone: set[Item]) -> Fact:
    def settle(items: tuple[Item, ...]) -> tuple[Item, ...]:
        kept: list[Item] = []
        at = 0
        while at < len(items):
            if items[at] in gone:
                at += 3 if items[at + 1].type == "equals" else 2
                while at < len(items) and items[at].type == "comma":
                    at += 1
                continue
            kept.append(items[at])
            at += 1
        while kept and kept[-1].type == "comma":
            kept.pop()
        return tuple(kept)

    block = fact.block
    if block is not None:
        lines = [replace(line, items=settle(line.items)) for line in block]
        block = tuple(line for line in lines if line.items)
    return replace(fact, items=fact.items[:2] + settle(fact.items[2:]), block=block)


def renamed_fact(fact: Fact, names: Mapping[tuple[str, str], str]) -> Fact:
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
