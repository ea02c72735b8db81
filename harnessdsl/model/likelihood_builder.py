"""Facts -> how much likelier than usual things fail: `likelihood K2 contact-burnt 3 "why"`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from harnessdsl.diagnostics import did_you_mean
from harnessdsl.language.facts import Fact, Item
from harnessdsl.model.failures import FAILURES, Likelihood
from harnessdsl.model.reading import Cursor, Messages

if TYPE_CHECKING:
    from harnessdsl.model.vehicle import Part, Place, Wire

EXAMPLE = "write for example: likelihood earth-corroded 3; likelihood K2 contact-burnt 5"
MOST_FACTOR = 1e6


def read_likelihood(cursor: Cursor, known: Iterable[str], messages: Messages) -> Likelihood | None:
    """Return what a `likelihood` line says, its head already taken; None, and a message, when it
    says nothing. `known` are all the names that it may say."""
    names: list[str] = []
    factor: float | None = None
    items: list[Item] = []
    while (item := cursor.peek()) is not None and item.type in ("word", "text", "number", "comma"):
        following = cursor.peek(1)
        if item.type == "number" and names and (following is None or following.type == "text"):
            factor = cursor.number("likelihood")
            break
        cursor.take()
        if item.type != "comma":
            names.append(item.text)
            items.append(item)
    if not names or factor is None or not 0 <= factor <= MOST_FACTOR:
        cursor.error("'likelihood' needs a way to fail, a part, wire, place or kind, and a factor",
                     EXAMPLE)
        return None
    everything = dict.fromkeys([*FAILURES, *known])
    for item in items:
        if item.text not in everything and ":" not in item.text:
            messages.error("unknown-part", f"nothing is called '{item.text}', and it is no way to "
                           "fail", item.span, did_you_mean(
                               item.text, everything, "ways to fail: " + ", ".join(FAILURES)))
            return None
    note = cursor.take_if("text")
    return Likelihood(tuple(names), factor, note.text if note else "", items[0].span)


def build_likelihoods(messages: Messages, facts: Sequence[Fact], parts: Mapping[str, Part],
                      wires: Mapping[str, Wire], places: Mapping[str, Place],
                      kinds: Iterable[str]) -> tuple[Likelihood, ...]:
    """Return every `likelihood` line of the vehicle's files."""
    if not facts:
        return ()
    known = known_names(parts, wires, places, kinds)
    found = []
    for fact in facts:
        cursor = Cursor(fact, messages)
        made = read_likelihood(cursor, known, messages)
        if made is not None:
            found.append(made)
            if cursor:
                cursor.unknown(cursor.take(), (), "'likelihood'")
    return tuple(found)


def known_names(parts: Mapping[str, Part], wires: Mapping[str, Wire], places: Mapping[str, Place],
                kinds: Iterable[str]) -> list[str]:
    """Return what a `likelihood` line may name besides ways to fail."""
    return list(dict.fromkeys([
        *parts, *wires, *(w.chain for w in wires.values() if w.chain), *places, *kinds,
        *(p.kind.name for p in parts.values())]))
