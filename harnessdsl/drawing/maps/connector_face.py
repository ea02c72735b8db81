"""Connector faces: where each cavity is, from the side that mates and from the side of the wires.

The file gives the rows as seen from the mating side of half a. Two mating faces look at each
other, so half b's mating side is the mirror image of half a's; and whoever looks at a half from
behind, where the wires go in, sees the mirror image of its mating side. So half a from the wires
looks like half b from the front, and the other way about. Only positions are mirrored: numbers
and words stay readable.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from harnessdsl.drawing.cautions import standard_cautions
from harnessdsl.drawing.colours import OUTLINE_RGB, UNKNOWN_RGB, legend_codes, wire_colours
from harnessdsl.drawing.maps.map_pages import access_lines, file_name
from harnessdsl.drawing.maps.sheet import (
    LINE_MM,
    Line,
    Sheet,
    SheetStyle,
    drawing_area,
    finish,
    height_of,
    numbered,
    set_lines,
    wrapped,
)
from harnessdsl.drawing.scene import Circle, Group, Page, Path, Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import NAME_MM, SMALL_MM, Box, text_width
from harnessdsl.model.location import access, part_places
from harnessdsl.model.vehicle import ConnectorBody, Part, Vehicle, Wire

Seen = Literal["mating", "wire"]

INK = "#1d1f22"
QUIET = "#5a5f66"
_SHELL = Style("#4a4f55", 0.45, "#f6f6f3")
_CAVITY = Style("#5a5f66", 0.25, "#ffffff")
_UNUSED = Style("#9aa0a6", 0.2, "none", (0.9, 0.7))
_PITCH_MM = (6.4, 21.0)
"""Least and greatest width of a cavity on paper."""
_WIDE_MM = 13.0
"""A cavity at least this wide carries its labels level, a narrower one upright."""
_SHELL_MM = 10.0
"""What the shell adds to the width of its cavities, and some air."""


@dataclass(frozen=True, slots=True)
class CavityUse:
    """One cavity of one half: its place in the face (column and row from the upper left, as seen)
    and the wires in it."""

    half: str
    cavity: str
    column: int
    row: int
    wires: tuple[Wire, ...] = ()


def face_size(body: ConnectorBody) -> tuple[int, int]:
    """Return (columns, rows) of a connector's face."""
    count = max(1, len(body.cavities))
    rows = min(max(1, body.rows), count)
    return math.ceil(count / rows), rows


def is_mirrored(half: str, seen: Seen) -> bool:
    """Say whether a half, seen like this, is the mirror image of half a's mating side."""
    return (half == "b") != (seen == "wire")


def face(vehicle: Vehicle, part: Part, half: str, seen: Seen) -> list[CavityUse]:
    """Return every cavity of a half with its place as seen from the mating or the wire side.

    Cavities fill the rows one after another, left to right on the mating side of half a. Raises
    ValueError when the part is no connector or `half` is neither a nor b.
    """
    body = part.connector
    if body is None:
        raise ValueError(f"{part.name} is no connector")
    if half not in ("a", "b"):
        raise ValueError(f"a connector has halves a and b, not '{half}'")
    columns, _ = face_size(body)
    wires = _wires_by_cavity(vehicle, part, half)
    found: list[CavityUse] = []
    for index, cavity in enumerate(body.cavities):
        row, column = divmod(index, columns)
        if is_mirrored(half, seen):
            column = columns - 1 - column
        found.append(CavityUse(half, cavity, column, row, tuple(wires.get(cavity, ()))))
    return found


def _wires_by_cavity(vehicle: Vehicle, part: Part, half: str) -> dict[str, list[Wire]]:
    body = part.connector
    assert body is not None
    owner = body.of or part.name
    found: dict[str, list[Wire]] = {}
    for wire in vehicle.wires.values():
        for end in (wire.a, wire.b):
            if end.part == owner and (body.of or end.half == half):
                found.setdefault(end.terminal, []).append(wire)
    return found


def halves_of(part: Part) -> tuple[str, ...]:
    """Return the halves that carry wires: both of an in-line connector, one on a part."""
    return ("a",) if part.connector is not None and part.connector.of else ("a", "b")


def half_words(part: Part, half: str) -> str:
    """Return `half a, male, loom side`."""
    body = part.connector
    found = body.halves.get(half) if body is not None else None
    words = [f"half {half}"]
    if body is not None and body.of:
        words = [f"plug on {body.of}"]
    if found is not None:
        words += [word for word in (found.gender, found.label) if word]
        if found.shell:
            words.append(f"shell {found.shell}")
    return ", ".join(words)


def seen_words(half: str, seen: Seen, of: str = "") -> str:
    """Return from where one looks, in words that can't be misread."""
    what = "the plug" if of else f"half {half}"
    if seen == "mating":
        return f"seen from the mating side: looking into {what} where the other half goes"
    return f"seen from the wire side: looking at the back of {what}, where the wires go in"


def draw_connector(
    vehicle: Vehicle,
    name: str,
    *,
    sides: Sequence[Seen] = ("mating", "wire"),
    halves: Sequence[str] = (),
    page_size: str = "A4",
    date: str = "",
    drawn_by: str = "",
) -> list[Page]:
    """Return the faces of a connector, each half from the sides asked for, and the list of its
    cavities. Raises KeyError for an unknown part, ValueError for one that is no connector."""
    part = vehicle.parts[name]
    if part.connector is None:
        raise ValueError(f"{name} is no connector")
    style = SheetStyle(page_size, date, drawn_by)
    title = f"{name} {part.label}".rstrip()
    chosen = tuple(half for half in (halves or halves_of(part)) if half in halves_of(part))
    colours = legend_codes([wire.colour for half in chosen
                            for use in face(vehicle, part, half, "mating") for wire in use.wires])
    words = frozenset(word for place in part_places(part, vehicle)
                      for word in access(vehicle, place).cautions)
    cautions = standard_cautions(frozenset(), words)
    area = drawing_area(vehicle, style, f"{title}: cavities (1 of 1)", colours, cautions)
    x0, y0, x1, y1 = area
    head = _head(vehicle, part, x1 - x0)
    top = y0 + height_of(head) + 2.0
    columns, rows = face_size(part.connector)
    two_abreast = (len(chosen) * len(sides) > 1
                   and columns * _WIDE_MM + _SHELL_MM <= (x1 - x0 - 6.0) / 2)
    across = 2 if two_abreast else 1
    width = (x1 - x0 - (across - 1) * 6.0) / across
    band = min(columns, int((width - _SHELL_MM) / _PITCH_MM[0]))
    pitch = min(_PITCH_MM[1], (width - _SHELL_MM) / band)
    views = [(half, seen, first) for half in chosen for seen in sides
             for first in range(0, columns, band)]
    tall = _face_height(rows, pitch)
    down = max(1, int((y1 - top + 4.0) / (tall + 4.0)))
    sheets: list[Sheet] = []
    bottom = top
    for start in range(0, len(views), across * down):
        shapes: list[Shape] = set_lines(head, x0, y0)
        for index, (half, seen, first) in enumerate(views[start : start + across * down]):
            row, column = divmod(index, across)
            left, upper = x0 + column * (width + 6.0), top + row * (tall + 4.0)
            shapes.append(_draw_face(vehicle, part, half, seen,
                                     (left, upper, left + width, upper + tall), pitch,
                                     range(first, min(columns, first + band))))
            bottom = upper + tall + 4.0
        sheets.append(Sheet("", "", tuple(shapes), colours, cautions))
    rows_of_list = _cavity_rows(vehicle, part, chosen, x1 - x0)
    if len(sheets) == 1 and bottom + rows_of_list.height <= y1:
        listed = rows_of_list.draw((x0, bottom, x1, y1))
        sheets = [Sheet("", "", (*sheets[0].shapes, *listed[0]), colours, cautions)]
        chart: list[Sheet] = []
    else:
        chart = [Sheet("", "", tuple(shapes), colours, cautions)
                 for shapes in rows_of_list.draw(area)]
    stem = f"connector-{file_name(name)}"
    pages = numbered(sheets, stem, title)
    if chart:
        pages += numbered(chart, f"{stem}-list", f"{title}: cavities")
    return finish(vehicle, style, pages)


def _head(vehicle: Vehicle, part: Part, width: float) -> list[Line]:
    lines: list[Line] = []
    for place in part_places(part, vehicle):
        found = vehicle.places.get(place)
        label = f"{found.label} ({place})" if found is not None and found.label else place
        lines += wrapped(label, width, bold=True)
        lines += access_lines(vehicle, place, width, 3.0)
    return lines or wrapped("Nobody has written down where it is.", width, italic=True)


# --- a face on paper

_HEAD_MM = 2 * LINE_MM + 3.0


def _cell_height(pitch: float) -> float:
    return 15.0 if pitch >= _WIDE_MM else 26.0


def _face_height(rows: int, pitch: float) -> float:
    return _HEAD_MM + rows * _cell_height(pitch) + 8.0


def _draw_face(
    vehicle: Vehicle,
    part: Part,
    half: str,
    seen: Seen,
    area: Box,
    pitch: float,
    columns: range,
) -> Group:
    """Draw the columns of a face that lie in the range: all of them, or a band of a wide one."""
    body = part.connector
    assert body is not None
    x0, y0, x1, _ = area
    count, rows = face_size(body)
    tall = _cell_height(pitch)
    width, height = len(columns) * pitch + 6.0, rows * tall + 4.0
    left = (x0 + x1 - width) / 2
    top = y0 + _HEAD_MM + 2.0
    mirrored = is_mirrored(half, seen)
    key_here = (count - 1 if mirrored else 0) in columns
    words = half_words(part, half)
    if len(columns) < count:
        words += f", columns {columns[0] + 1} to {columns[-1] + 1} of {count} as seen"
    shapes: list[Shape] = [
        Text(x0, y0 + SMALL_MM, words, SMALL_MM, bold=True),
        *set_lines(wrapped(seen_words(half, seen, body.of), x1 - x0, colour=QUIET)[:1], x0,
                   y0 + LINE_MM),
        _shell(left, top, width, height, mirrored, key_here, part.name, half),
    ]
    for use in face(vehicle, part, half, seen):
        if use.column in columns:
            x = left + 3.0 + (use.column - columns[0]) * pitch
            y = top + 2.0 + use.row * tall
            shapes.append(_draw_cavity(part, use, (x, y, x + pitch, y + tall), seen))
    return Group(tuple(shapes), css="face", data={
        "part": part.name, "half": half, "seen": seen, "mirrored": "yes" if mirrored else "no"})


def _shell(left: float, top: float, width: float, height: float, mirrored: bool, key: bool,
           part: str, half: str) -> Group:
    """The outline of the shell with one corner cut off and a key rib beside it, both next to the
    first cavity, so that a mirror image can be told at a glance."""
    cut, rib, lead = 2.6, 3.0, 5.0

    def x(offset: float) -> float:
        return left + width - offset if mirrored else left + offset

    if not key:
        return Group((Rect(left, top, width, height, _SHELL),), css="shell",
                     data={"part": part, "half": half})
    outline = (
        (x(cut), top), (x(lead), top), (x(lead), top - 1.4), (x(lead + rib), top - 1.4),
        (x(lead + rib), top), (x(width), top), (x(width), top + height),
        (x(0.0), top + height), (x(0.0), top + cut),
    )
    return Group((Polyline(outline, _SHELL, True),), css="shell", data={"part": part, "half": half})


def _draw_cavity(part: Part, use: CavityUse, area: Box, seen: Seen) -> Group:
    x0, y0, x1, y1 = area
    centre = (x0 + x1) / 2
    wide = x1 - x0 >= _WIDE_MM
    number_y = y0 + NAME_MM + 0.2
    shapes: list[Shape] = [
        Rect(x0 + 0.5, y0 + 0.4, x1 - x0 - 1.0, y1 - y0 - 0.8,
             _CAVITY if use.wires else _UNUSED, 0.6),
        Text(centre, number_y, use.cavity, NAME_MM, "middle", bold=True,
             colour=INK if use.wires else QUIET),
    ]
    y = y0 + 6.2
    if not use.wires:
        shapes.append(Polyline(((centre - 1.2, y), (centre + 1.2, y)), Style(QUIET, 0.3)))
    labels: list[str] = []
    for index, wire in enumerate(use.wires[:3]):
        offset = (index - (min(len(use.wires), 3) - 1) / 2) * 3.6
        shapes += wire_end(centre + offset, y, wire.colour, 1.5)
        labels.append(wire.colour or "colour?")
        if wire.area_text:
            labels.append(wire.area_text)
    if len(use.wires) > 1:  # the list names them all
        labels = [labels[0] if len({wire.colour for wire in use.wires}) == 1 else
                  f"{len(use.wires)} wires"]
    if wide:
        for line, text in enumerate(labels[:2]):
            shapes.append(Text(centre, y + 4.6 + line * 2.95, _fit(text, x1 - x0 - 1.4),
                               SMALL_MM, "middle"))
    else:
        text = " ".join(labels[:2])
        shapes.append(Text(centre + SMALL_MM * 0.36, y1 - 1.2, _fit(text, y1 - y - 3.4), SMALL_MM,
                           rotate_deg=-90.0))
    words = "; ".join(f"{wire.name}: {wire.colour or 'colour unknown'} {wire.area_text}".rstrip()
                      for wire in use.wires)
    return Group(tuple(shapes), css="cavity" if use.wires else "cavity unused",
                 data={"part": part.name, "half": use.half, "cavity": use.cavity, "seen": seen},
                 title=f"{part.name}.{use.half}.{use.cavity}: {words or 'unused'}")


def _fit(text: str, width: float) -> str:
    if text_width(text, SMALL_MM) <= width:
        return text
    short = text.replace(" mm2", "")
    while short and text_width(short, SMALL_MM) > width:
        short = short[:-1]
    return short


def wire_end(x: float, y: float, colour: str, radius: float) -> list[Shape]:
    """Return a cut wire end: a disc in the base colour, with a band for each tracer."""
    known = wire_colours(colour)
    base = known[0].rgb if known else UNKNOWN_RGB
    edge = Style(OUTLINE_RGB, 0.2, base)
    shapes: list[Shape] = [Circle(x, y, radius, edge)]
    tracers = [each.rgb for each in known[1:]]
    if known and known[0].code == "GNYE":
        tracers = [wire_colours("YE")[0].rgb, *tracers]
    bands = len(tracers)
    for index, rgb in enumerate(tracers):
        half = radius * 0.62 / bands
        middle = (index - (bands - 1) / 2) * 2.1 * half
        low, high = middle - half * 0.8, middle + half * 0.8
        low_x = math.sqrt(max(0.0, radius**2 - low**2))
        high_x = math.sqrt(max(0.0, radius**2 - high**2))
        shapes.append(Path(
            f"M {x - low_x:.3f} {y + low:.3f} L {x + low_x:.3f} {y + low:.3f} "
            f"A {radius:.3f} {radius:.3f} 0 0 1 {x + high_x:.3f} {y + high:.3f} "
            f"L {x - high_x:.3f} {y + high:.3f} "
            f"A {radius:.3f} {radius:.3f} 0 0 1 {x - low_x:.3f} {y + low:.3f} Z",
            Style("none", 0.1, rgb)))
    if bands:
        shapes.append(Circle(x, y, radius, Style(OUTLINE_RGB, 0.2)))
    return shapes


# --- the list of cavities


def wire_words(vehicle: Vehicle, part: Part, half: str, wire: Wire) -> str:
    """Return a wire from this connector's point of view: colour, size, where it goes."""
    body = part.connector
    owner = body.of if body is not None and body.of else part.name
    here = wire.a if wire.a.part == owner and (wire.a.half == half or not wire.a.half) else wire.b
    far = wire.b if here is wire.a else wire.a
    label = vehicle.parts[far.part].label if far.part in vehicle.parts else ""
    look = " ".join(word for word in (wire.colour or "colour unknown", wire.area_text) if word)
    sure = "" if wire.evidence.verified else f" ({wire.evidence.trust.word})"
    return f"{look} to {far} {label}".rstrip() + sure


@dataclass(frozen=True, slots=True)
class _CavityRows:
    """The list of cavities: one line for each, in one column or two."""

    part: Part
    halves: tuple[str, ...]
    rows: tuple[tuple[str, tuple[tuple[str, tuple[Line, ...]], ...]], ...]
    """(cavity, for each half (colour of its first wire or '', lines))."""
    columns: int
    half_width: float

    @property
    def height(self) -> float:
        """The height of the whole when it stands in one piece."""
        per_column = math.ceil(len(self.rows) / self.columns)
        return _LIST_HEAD_MM + max(
            (sum(_row_height(row) for row in self.rows[first : first + per_column])
             for first in range(0, len(self.rows), per_column)), default=0.0)

    def draw(self, area: Box) -> list[list[Shape]]:
        """Return the shapes of as many sheets as it takes; each fills `area` from its top."""
        x0, y0, x1, y1 = area
        column_width = (x1 - x0 + _COLUMN_GAP_MM) / self.columns
        sheets: list[list[Shape]] = []
        pending = list(self.rows)
        while pending:
            shapes: list[Shape] = []
            share = math.ceil(len(pending) / self.columns)
            for column in range(self.columns):
                left = x0 + column * column_width
                right = left + column_width - _COLUMN_GAP_MM
                if pending:
                    shapes += self._heads(left, y0)
                y, taken = y0 + _LIST_HEAD_MM, 0
                while pending and taken < share and y + _row_height(pending[0]) <= y1 + 1e-9:
                    row = pending.pop(0)
                    shapes.append(self._row(row, left, right, y))
                    y, taken = y + _row_height(row), taken + 1
                if not taken and pending:
                    row = pending.pop(0)  # taller than a sheet: it may run over its edge
                    shapes.append(self._row(row, left, right, y))
            sheets.append(shapes)
        return sheets

    def _heads(self, left: float, y: float) -> list[Shape]:
        heads: list[Shape] = [Text(left, y + SMALL_MM, "Cavity", SMALL_MM, bold=True)]
        for index, half in enumerate(self.halves):
            heads.append(Text(left + _NUMBER_MM + index * self.half_width, y + SMALL_MM,
                              half_words(self.part, half), SMALL_MM, bold=True))
        return heads

    def _row(
        self, row: tuple[str, tuple[tuple[str, tuple[Line, ...]], ...]], left: float, right: float,
        y: float,
    ) -> Group:
        cavity, cells = row
        shapes: list[Shape] = [Polyline(((left, y), (right, y)), Style("#c9cccf", 0.15)),
                               *set_lines([Line(cavity, bold=True)], left, y + 0.8)]
        for index, (colour, lines) in enumerate(cells):
            x = left + _NUMBER_MM + index * self.half_width
            if colour:
                shapes += wire_end(x + 1.6, y + 2.3, colour, 1.2)
            shapes += set_lines(lines, x + 4.2, y + 0.8)
        return Group(tuple(shapes), css="row", data={"part": self.part.name, "cavity": cavity})


_NUMBER_MM = 14.0
_LIST_HEAD_MM = LINE_MM + 1.0
_COLUMN_GAP_MM = 6.0
_UNKNOWN_COLOUR = "?"


def _row_height(row: tuple[str, tuple[tuple[str, tuple[Line, ...]], ...]]) -> float:
    return max(LINE_MM, *(height_of(lines) for _, lines in row[1])) + 1.6


def _cavity_rows(
    vehicle: Vehicle, part: Part, halves: tuple[str, ...], width: float
) -> _CavityRows:
    body = part.connector
    assert body is not None
    columns = 2 if len(halves) == 1 else 1
    half_width = ((width + _COLUMN_GAP_MM) / columns - _COLUMN_GAP_MM - _NUMBER_MM) / len(halves)
    uses = {half: {use.cavity: use for use in face(vehicle, part, half, "mating")}
            for half in halves}
    rows = []
    for cavity in body.cavities:
        cells = []
        for half in halves:
            wires = uses[half][cavity].wires
            lines: list[Line] = []
            for wire in wires:
                lines += wrapped(wire_words(vehicle, part, half, wire), half_width - 7.0)
            cells.append((
                (wires[0].colour or _UNKNOWN_COLOUR) if wires else "",
                tuple(lines or wrapped("unused", half_width - 7.0, colour=QUIET, italic=True))))
        rows.append((cavity, tuple(cells)))
    return _CavityRows(part, halves, tuple(rows), columns, half_width)
