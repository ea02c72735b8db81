"""Colours of wires and fuses, and how a wire is drawn.

Sources: colour codes IEC 60757; German letters DIN 72551 / DIN 47002 (from memory); fuse colours
ISO 8820-3 (regular and mini; maxi), 35 A, 40 A and the maxi row from memory; torpedo fuses
DIN 72581-1. The colours of glass fuses follow the makers' custom and are not given.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from harnessdsl.drawing.scene import Point, Polyline, Shape, Style


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour of insulation: IEC code, name, how it is drawn and the German letters."""

    code: str
    name: str
    rgb: str
    din: tuple[str, ...] = ()


_ALL = (
    Colour("BK", "black", "#1c1c1c", ("sw",)),
    Colour("BN", "brown", "#7a4526", ("br",)),
    Colour("RD", "red", "#d01f1f", ("ro", "rt")),
    Colour("OG", "orange", "#f07d14", ("or",)),
    Colour("YE", "yellow", "#f5cf1b", ("ge",)),
    Colour("GN", "green", "#1f8a3b", ("gn",)),
    Colour("BU", "blue", "#2059b8", ("bl",)),
    Colour("VT", "violet", "#7b3fa0", ("vi", "li")),
    Colour("GY", "grey", "#8c8f93", ("gr",)),
    Colour("WH", "white", "#ffffff", ("ws",)),
    Colour("PK", "pink", "#f39ab8", ("rs",)),
    Colour("GD", "gold", "#b8963c"),
    Colour("TQ", "turquoise", "#27b3ad", ("tk",)),
    Colour("SR", "silver", "#c4c8cc"),
    Colour("GNYE", "green-yellow", "#1f8a3b"),
)

COLOURS: dict[str, Colour] = {colour.code: colour for colour in _ALL}
"""IEC 60757 codes in the standard's own order, the green-and-yellow pair last."""

DIN_CODES: dict[str, str] = {letters: colour.code for colour in _ALL for letters in colour.din}
"""German letters -> IEC 60757 code."""

UNKNOWN_RGB = "#5a5f66"
OUTLINE_RGB = "#26282b"


def wire_colours(colour: str) -> tuple[Colour, ...]:
    """Return base and tracers of a wire colour such as `RD/YE`, `GNYE`; () when unknown.

    Codes of the German set are understood too; a code that nobody knows ends the list.
    """
    found: list[Colour] = []
    for code in colour.split("/"):
        known = COLOURS.get(DIN_CODES.get(code.strip(), code.strip().upper()))
        if known is None:
            break
        found.append(known)
    return tuple(found)


def legend_codes(colours: Sequence[str]) -> tuple[str, ...]:
    """Return the single codes that occur in these wire colours, in the standard's order."""
    used = {part.code for colour in colours for part in wire_colours(colour)}
    return tuple(code for code in COLOURS if code in used)


def wire_width(area_mm2: float | None) -> float:
    """Return the drawn width in mm of a wire of this area: 0.9 to 1.6, outline included."""
    if area_mm2 is None or not area_mm2 > 0:
        return 0.9
    return round(min(1.6, max(0.9, 0.85 + 0.12 * math.sqrt(area_mm2))), 2)


_EDGE_MM = 0.13
_GAP_ON_MM = 2.6
_GAP_OFF_MM = 1.4
_TRACER_ON_MM = 1.3
_TRACER_OFF_MM = 1.3


def wire_shapes(
    points: Sequence[Point],
    colour: str,
    verified: bool = True,
    area_mm2: float | None = None,
) -> tuple[Shape, ...]:
    """Return a wire through `points` in its own colours: a thin dark outline, the base, the
    tracer as dashes along it; an unverified wire is broken into long dashes over its whole
    width, which reads in black and white too.

    The outline is drawn whole in both cases for a verified wire; an unverified one keeps a thin
    centre line through its gaps, so that the eye does not lose it.
    """
    path = tuple(points)
    width = wire_width(area_mm2)
    known = wire_colours(colour)
    base = known[0].rgb if known else UNKNOWN_RGB
    tracers = [tracer.rgb for tracer in known[1:]]
    if known and known[0].code == "GNYE":
        tracers.insert(0, COLOURS["YE"].rgb)
    dash = () if verified else (_GAP_ON_MM, _GAP_OFF_MM)
    shapes: list[Shape] = []
    if not verified:
        shapes.append(Polyline(path, Style(OUTLINE_RGB, 0.18)))
    shapes.append(Polyline(path, Style(OUTLINE_RGB, width, dash_mm=dash)))
    core = width - 2 * _EDGE_MM
    if verified:
        shapes.append(Polyline(path, Style(base, core)))
    else:
        # the core is a little shorter than its outline at both ends of each dash
        shapes.append(
            Polyline(
                path,
                Style(
                    base,
                    core,
                    dash_mm=(0.0, _EDGE_MM, _GAP_ON_MM - 2 * _EDGE_MM, _GAP_OFF_MM + _EDGE_MM),
                ),
            )
        )
    shapes.extend(_tracers(path, tracers, core, verified))
    return tuple(shapes)


def _tracers(
    path: tuple[Point, ...], tracers: Sequence[str], core: float, verified: bool
) -> list[Shape]:
    """Return the stripes: dashes half as wide as the core; two tracers take turns."""
    width = round(core * 0.56, 3)
    shapes: list[Shape] = []
    period = (_TRACER_ON_MM + _TRACER_OFF_MM) if verified else (_GAP_ON_MM + _GAP_OFF_MM)
    share = (period if verified else _GAP_ON_MM) / (2 * len(tracers)) if tracers else 0.0
    for index, rgb in enumerate(tracers):
        start = share * (2 * index + 0.5)
        shapes.append(
            Polyline(path, Style(rgb, width, dash_mm=(0.0, start, share, period - start - share)))
        )
    return shapes


_BLADE = {
    0.5: "dark blue", 1.0: "black", 2.0: "grey", 3.0: "violet", 4.0: "pink", 5.0: "tan",
    7.5: "brown", 10.0: "red", 15.0: "blue", 20.0: "yellow", 25.0: "clear", 30.0: "green",
    35.0: "blue-green", 40.0: "orange",
}  # fmt: skip
_MAXI = {
    20.0: "yellow", 25.0: "grey", 30.0: "green", 35.0: "brown", 40.0: "orange", 50.0: "red",
    60.0: "blue", 70.0: "tan", 80.0: "clear", 100.0: "violet",
}  # fmt: skip
_TORPEDO = {5.0: "yellow", 8.0: "white", 16.0: "red", 25.0: "blue"}

_HOUSING = {
    "dark blue": Colour("", "dark blue", "#1b2f6b"),
    "black": COLOURS["BK"],
    "grey": COLOURS["GY"],
    "violet": COLOURS["VT"],
    "pink": COLOURS["PK"],
    "tan": Colour("", "tan", "#d9b382"),
    "brown": COLOURS["BN"],
    "red": COLOURS["RD"],
    "white": COLOURS["WH"],
    "blue": Colour("", "blue", "#4f9bdc"),
    "yellow": COLOURS["YE"],
    "clear": Colour("", "clear", "#f4f6f7"),
    "green": COLOURS["GN"],
    "blue-green": Colour("", "blue-green", "#2f9c95"),
    "orange": COLOURS["OG"],
}


def fuse_colour(slot_or_family: str, rating_a: float) -> Colour | None:
    """Return the housing colour of a fuse by its type (`blade-fuse`, `mini-fuse`, `maxi-fuse`,
    `torpedo-fuse`, or any name with such a word in it) and rating; None where there is no
    standard colour.

    Large blades use the same colours for other ratings than regular and mini blades: red is
    10 A on a regular blade, 50 A on a maxi blade (ISO 8820-3).
    """
    words = slot_or_family.lower().replace("_", "-").split("-")
    if "maxi" in words:
        table = _MAXI
    elif "torpedo" in words:
        table = _TORPEDO
    elif "mini" in words or "blade" in words or "regular" in words:
        table = _BLADE
    else:
        return None
    name = table.get(round(rating_a, 3))
    return None if name is None else _HOUSING[name]


def on_colour(rgb: str) -> str:
    """Return black or white, whichever is easier to read on `rgb` (relative luminance as in
    ITU-R BT.709)."""
    red, green, blue = (int(rgb[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return "#000000" if 0.2126 * red + 0.7152 * green + 0.0722 * blue > 0.45 else "#ffffff"
