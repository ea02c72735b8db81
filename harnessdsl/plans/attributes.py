"""The attributes of a fact, told apart by their shape, so that one of them can be changed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from harnessdsl.language.facts import Item
from harnessdsl.model.colour import looks_like_colour, read_colour
from harnessdsl.model.reading import TRUST_WORDS, quantity_of
from harnessdsl.model.wire_builder import INSULATIONS

_VALUE_WORDS = ("in", "slot", "zone", "on", "of", "note", "unfused", "via", "safety",
                "fitted")
"""Words that stand before one value."""
_MATERIALS = ("aluminium", "copper")
FLAG_WORDS = ("always-live", "spare", "retained", "fusible", "wet", "hot", "moving", "twisted",
              "screened")


@dataclass(frozen=True, slots=True)
class Attribute:
    """One attribute: its items, and the key that only one attribute of a fact can have."""

    key: tuple[str, ...]
    items: tuple[Item, ...]

    @property
    def text(self) -> str:
        """The attribute as a person would write it."""
        return " ".join(f'"{i.text}"' if i.type == "text" else i.text for i in self.items
                        if i.type != "comma")

    def meaning(self) -> tuple[object, ...]:
        """Return what is said, apart from spelling: 1.5 m is 150 cm, br/ws is BN/WH."""
        found: list[object] = []
        for item in self.items:
            if item.type == "quantity":
                quantity = quantity_of(item)
                found.append((quantity.dimension, round(quantity.value, 9)))
            elif item.type == "number":
                found.append(float(item.text))
            elif self.key == ("colour",):
                found.append(read_colour(item.text, True) or item.text)
            elif item.type != "comma":
                found.append(item.text)
        return tuple(found)


def split_attributes(items: Sequence[Item], of_wire: bool = False) -> list[Attribute]:
    """Return the attributes that stand in `items`, in order."""
    found: list[Attribute] = []
    at = 0
    while at < len(items):
        item = items[at]
        stop = at + 1
        following = items[at + 1] if at + 1 < len(items) else None
        if item.type == "comma":
            at += 1
            continue
        if item.type == "text":
            key: tuple[str, ...] = ("label",)
        elif item.type == "quantity":
            key = ("figure", "", quantity_of(item).dimension)
        elif item.type == "word" and item.text in TRUST_WORDS:
            key = ("evidence",)
            stop = _evidence_stop(items, at + 1)
        elif item.type == "word" and item.text == "at":
            key = ("at",)
            stop = _position_stop(items, at + 1)
        elif item.type == "word" and item.text in _VALUE_WORDS and following is not None:
            key = (item.text,)
            stop = at + 2
        elif of_wire and item.text in INSULATIONS:
            key = ("insulation",)
        elif of_wire and item.text in _MATERIALS:
            key = ("material",)
        elif item.text in FLAG_WORDS:
            key = ("flag", item.text)
        elif of_wire and (read_colour(item.text, True) is not None
                          or looks_like_colour(item.text.upper())):
            key = ("colour",)
        elif item.type == "word" and following is not None and following.type == "quantity":
            key = ("figure", item.text, quantity_of(following).dimension)
            stop = at + 2
        else:
            key = ("word", item.text)
        found.append(Attribute(key, tuple(items[at:stop])))
        at = stop
    return found


def _evidence_stop(items: Sequence[Item], at: int) -> int:
    noted = False
    while at < len(items):
        item = items[at]
        if item.type == "text" and not noted:
            noted = True
        elif item.type == "word" and item.text == "by" and at + 1 < len(items):
            at += 1
        elif item.type != "date":
            break
        at += 1
    return at


def _position_stop(items: Sequence[Item], at: int) -> int:
    while at < len(items) and items[at].type in ("number", "comma", "quantity"):
        at += 1
        if items[at - 1].type == "quantity":
            break
    return at


def flatten(attributes: Iterable[Attribute]) -> tuple[Item, ...]:
    """Return the items of attributes one after another."""
    return tuple(item for attribute in attributes for item in attribute.items)


def with_attributes(before: Sequence[Attribute], new: Sequence[Attribute]) -> list[Attribute]:
    """Return `before` with each of `new` in place of what had its key, or behind the rest."""
    keys = {attribute.key for attribute in new}
    placed: set[tuple[str, ...]] = set()
    found: list[Attribute] = []
    for attribute in before:
        if attribute.key not in keys:
            found.append(attribute)
        elif attribute.key not in placed:
            placed.add(attribute.key)
            found += [n for n in new if n.key == attribute.key]
    for attribute in new:
        if attribute.key not in placed:
            # a label stands first, everything else where it likes
            found.insert(0 if attribute.key == ("label",) else len(found), attribute)
    return found
