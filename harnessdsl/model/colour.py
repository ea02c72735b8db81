"""Colour codes of wires: IEC 60757 letters, and the German letters that stand in old books."""

from __future__ import annotations

IEC_COLOURS: dict[str, str] = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "GD": "gold",
    "TQ": "turquoise",
    "SR": "silver",
    "GNYE": "green and yellow",
}
"""Code -> name (IEC 60757)."""

DIN_COLOURS: dict[str, str] = {
    "sw": "BK",
    "br": "BN",
    "ro": "RD",
    "or": "OG",
    "ge": "YE",
    "gn": "GN",
    "bl": "BU",
    "vi": "VT",
    "li": "VT",
    "gr": "GY",
    "ws": "WH",
    "rs": "PK",
}
"""German letters -> IEC code (DIN 47002 and DIN 72551, from memory)."""


def read_colour(word: str, din: bool = False) -> str | None:
    """Return the colour in IEC codes joined by '/', or None when `word` is no colour."""
    codes = []
    for piece in word.split("/"):
        if piece in IEC_COLOURS:
            codes.append(piece)
        elif din and piece in DIN_COLOURS:
            codes.append(DIN_COLOURS[piece])
        else:
            return None
    return "/".join(codes) if len(codes) <= 3 else None


def looks_like_colour(word: str) -> bool:
    """Say whether `word` was probably meant as a colour: two capitals, maybe more behind '/'."""
    pieces = word.split("/")
    return all(len(piece) in (2, 4) and piece.isalpha() and piece.isupper() for piece in pieces)


def colour_name(colour: str) -> str:
    """Return the colour in words: 'red with a yellow tracer'."""
    names = [IEC_COLOURS.get(code, code) for code in colour.split("/") if code]
    if not names:
        return "unknown colour"
    if len(names) == 1:
        return names[0]
    article = "an" if names[1][0] in "aeiou" else "a"
    return f"{names[0]} with {article} {' and '.join(names[1:])} tracer"
