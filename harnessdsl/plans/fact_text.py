"""A fact written out again as text."""

from __future__ import annotations

from collections.abc import Iterable

from harnessdsl.language.facts import Fact, Item


def item_text(item: Item) -> str:
    """Return an item as it is written in a file."""
    if item.type == "text":
        escaped = item.text.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{escaped}"'
    return item.text


def items_text(items: Iterable[Item]) -> str:
    """Return items one after another, a comma close to what is before it."""
    text = ""
    for item in items:
        if item.type == "comma":
            text += ","
        else:
            text += (" " if text else "") + item_text(item)
    return text


def fact_text(fact: Fact, indent: str = "") -> str:
    """Return the fact and its block, one line of the block a line."""
    text = indent + items_text(fact.items)
    if fact.block is None:
        return text
    lines = [fact_text(line, indent + "    ") for line in fact.block]
    return "\n".join([f"{text} {{", *lines, f"{indent}}}"])
