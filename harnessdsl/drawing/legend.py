"""The legend of a sheet: colour codes, dashes, marks, and the set of reference letters."""

from __future__ import annotations

from dataclasses import dataclass, replace

from harnessdsl.drawing.colours import COLOURS, wire_shapes, wire_width
from harnessdsl.drawing.scene import Group, Path, Polyline, Shape, Style, Text
from harnessdsl.drawing.states import DEAD_OPACITY, halo_style
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    SMALL_MM,
    line_height,
    shorten,
    text_width,
    wrap,
)

LETTERS_NOTE = (
    "Reference letters are the older set of vehicle diagrams: E lamp, F fuse, G supply, "
    "H signal, K relay, M motor, S switch, X plug."
)
CONTACTS_NOTE = (
    "Contacts are drawn at rest; slanted words are the positions in which one is closed. "
    "Grey: drawn on another sheet."
)
_SAMPLE_MM = 6.6
_GAP_MM = 2.5


@dataclass(frozen=True, slots=True)
class Legend:
    """What the sheet has to explain."""

    colours: tuple[str, ...] = ()
    """The IEC 60757 codes of single colours used on the sheet, in any order."""
    unverified: bool = False
    """Some wire is drawn dashed."""
    references: bool = False
    plugs: bool = False
    states: tuple[tuple[str, str], ...] = ()
    """The states by which wires are drawn on the sheet, each with what it is called."""
    contacts: bool = True
    """Contacts are drawn: not so on maps, boxes and faces of plugs."""


def legend_shapes(legend: Legend, width: float) -> tuple[tuple[Shape, ...], float]:
    """Return the legend's shapes from (0, 0) on, no wider than `width` mm, and its height."""
    shapes: list[Shape] = []
    row = line_height(SMALL_MM) + 0.4
    codes = [code for code in COLOURS if code in legend.colours]
    entries = [
        (Group(wire_shapes(((0, 0), (_SAMPLE_MM, 0)), code), css="sample"),
         f"{code} {COLOURS[code].name}")
        for code in codes
    ]  # fmt: skip
    y = _table(shapes, entries, width, 0.0, row)
    marks: list[tuple[Group, str]] = []
    if codes:
        sample = Group(wire_shapes(((0, 0), (_SAMPLE_MM, 0)), "RD/WH"), css="sample")
        marks.append((sample, "RD/WH: base, then tracer; number: mm²"))
    if legend.unverified:
        sample = Group(wire_shapes(((0, 0), (_SAMPLE_MM, 0)), "GY", verified=False), css="sample")
        marks.append((sample, "not yet verified on this car"))
    if legend.plugs:
        marks.append((Group(_plug(), css="sample"), "plug / cavity"))
    if legend.references:
        marks.append((Group(_tag(), css="sample"), "goes on: sheet/track"))
    marks += [(_state_sample(state), name) for state, name in legend.states]
    y = _table(shapes, marks, width, y, row)
    note = f"{LETTERS_NOTE} {CONTACTS_NOTE}" if legend.contacts else LETTERS_NOTE
    for text in wrap(note, SMALL_MM, width, 4):
        shapes.append(Text(0.0, y + ASCENT * SMALL_MM, text, SMALL_MM, colour="#4d5359"))
        y += line_height(SMALL_MM)
    return tuple(shapes), y


def _state_sample(state: str) -> Group:
    path = ((0.0, 0.0), (_SAMPLE_MM, 0.0))
    halo = halo_style(state, wire_width(1.0))
    shapes: list[Shape] = [Polyline(path, halo)] if halo is not None else []
    for shape in wire_shapes(path, "GY", area_mm2=1.0):
        if state == "dead" and isinstance(shape, Polyline):
            shape = replace(shape, style=replace(shape.style, opacity=DEAD_OPACITY))
        shapes.append(shape)
    return Group(tuple(shapes), css="sample")


def _plug() -> tuple[Shape, ...]:
    """A plug lying on its side: pin to the left, cup to the right."""
    line = Style("#000000", 0.3)
    return (
        Polyline(((0, 0), (2.7, 0)), line),
        Polyline(((2.7, 0), (4.2, 0)), Style("#000000", 0.75)),
        Path("M 3.8 -0.95 A 0.95 0.95 0 0 1 3.8 0.95", line),
        Polyline(((4.75, 0), (_SAMPLE_MM, 0)), line),
    )


def _tag() -> tuple[Shape, ...]:
    outline = ((2.0, -1.1), (5.4, -1.1), (6.6, 0.0), (5.4, 1.1), (2.0, 1.1))
    return (
        Polyline(((0, 0), (2.0, 0)), Style("#000000", 0.3)),
        Polyline(outline, Style("#000000", 0.25, "#ffffff"), closed=True),
    )


def _table(
    shapes: list[Shape], entries: list[tuple[Group, str]], width: float, top: float, row: float
) -> float:
    """Add samples with their texts in as many columns as fit; return where it ends."""
    if not entries:
        return top
    lead = _SAMPLE_MM + 1.0
    for rows in range(1, len(entries) + 1):
        split = [entries[i : i + rows] for i in range(0, len(entries), rows)]
        widths = [max(text_width(text, SMALL_MM) for _, text in part) + lead for part in split]
        if sum(widths) + _GAP_MM * (len(split) - 1) <= width:
            break
    x = 0.0
    for part, column in zip(split, widths, strict=True):
        for index, (sample, text) in enumerate(part):
            y = top + row * index
            shift = (x + sample.shift[0], y + row / 2 - 0.2 + sample.shift[1])
            shapes.append(Group(sample.shapes, css=sample.css, shift=shift))
            fitted = shorten(text, SMALL_MM, width - x - lead)
            shapes.append(Text(x + lead, y + ASCENT * SMALL_MM, fitted, SMALL_MM))
        x += column + _GAP_MM
    return top + row * rows + 0.6
