"""The cautions that a sheet carries, by what is drawn on it."""

from __future__ import annotations

_BY_WORD = {
    "airbag": "Airbag circuit: battery off, wait as long as the maker says; never measure an "
    "igniter. Work on it is for the licensed trade.",
    "high-voltage": "High voltage: can kill. Engine off, key out, before touching it.",
    "fuel": "Fuel: no spark, no naked lamp; release the pressure before opening a line.",
    "fan": "The fan may start by itself, even with the key out.",
    "battery": "Battery: earth lead off first and on last; a short circuit burns, its gas "
    "explodes.",
}
"""Each hazard word of the language with its caution, the gravest first."""

_WORD_BY_FAMILY = {"battery": "battery", "alternator": "battery", "ignition": "high-voltage"}
_FUSE = "A fuse is only replaced by one of the same rating; find out why it blew."
_ALWAYS = "Drawn from this one car. The maker's data and local rules come first."


def standard_cautions(
    families: frozenset[str], safety: frozenset[str] = frozenset()
) -> tuple[str, ...]:
    """Return the cautions that belong to a sheet on which parts of these families stand;
    `safety` holds the safety words of kinds, circuits and places (airbag, fuel, fan, battery,
    high-voltage), or a caution of the user's own in full."""
    words = safety | {_WORD_BY_FAMILY[family] for family in families if family in _WORD_BY_FAMILY}
    found = [text for word, text in _BY_WORD.items() if word in words]
    found += sorted(word for word in words if word not in _BY_WORD)
    if families & {"fuse", "breaker", "link"}:
        found.append(_FUSE)
    return (*found, _ALWAYS)
