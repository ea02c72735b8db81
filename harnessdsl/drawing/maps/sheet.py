"""A sheet of a locator drawing: paper size, frame, title and the flow of text in columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from harnessdsl.drawing.furniture import PAGE_SIZES_MM, Legend, TitleBlock, frame
from harnessdsl.drawing.scene import Group, Page, Shape, Text
from harnessdsl.drawing.text_metrics import SMALL_MM, Box, line_height, wrap
from harnessdsl.model.vehicle import Vehicle


@dataclass(frozen=True, slots=True)
class SheetStyle:
    """What the user chose for all sheets of a drawing."""

    page_size: str = "A4"
    date: str = ""
    drawn_by: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet before its number is known: its name, title, contents and what its strip says."""

    name: str
    title: str
    shapes: tuple[Shape, ...]
    colours: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def drawing_area(
    vehicle: Vehicle,
    style: SheetStyle,
    title: str,
    colours: Sequence[str] = (),
    cautions: Sequence[str] = (),
) -> Box:
    """Return the free rectangle of a sheet with this title, legend and these cautions."""
    return frame(style.page_size, _title_block(vehicle, style, title, 88, 88),
                 Legend(tuple(colours), contacts=False), cautions).area


def _title_block(
    vehicle: Vehicle, style: SheetStyle, title: str, sheet: int, sheets: int
) -> TitleBlock:
    earth = "positive" if vehicle.positive_earth else "negative"
    return TitleBlock(
        vehicle.name, title, vehicle.build, sheet, sheets, style.date, style.drawn_by,
        supply=f"{vehicle.nominal_v:g} V, {earth} earth",
    )


def finish(vehicle: Vehicle, style: SheetStyle, sheets: Sequence[Sheet]) -> list[Page]:
    """Return the sheets as pages, numbered among themselves."""
    width, height = PAGE_SIZES_MM[style.page_size]
    pages: list[Page] = []
    for number, sheet in enumerate(sheets, 1):
        furniture = frame(
            style.page_size, _title_block(vehicle, style, sheet.title, number, len(sheets)),
            Legend(sheet.colours, contacts=False), sheet.cautions,
        )
        pages.append(Page(sheet.name, width, height, (*furniture.shapes, *sheet.shapes),
                          f"{vehicle.name}: {sheet.title}" if vehicle.name else sheet.title))
    return pages


def numbered(sheets: Sequence[Sheet], stem: str, title: str) -> list[Sheet]:
    """Return sheets named and titled alike, told apart by a number when there are several."""
    if len(sheets) == 1:
        return [replace(sheets[0], name=stem, title=title)]
    return [replace(sheet, name=f"{stem}-{number}", title=f"{title} ({number} of {len(sheets)})")
            for number, sheet in enumerate(sheets, 1)]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text in a column; the size is that of the smallest lettering."""

    text: str
    indent_mm: float = 0.0
    bold: bool = False
    italic: bool = False
    colour: str = "#1d1f22"
    space_before_mm: float = 0.0


LINE_MM = line_height(SMALL_MM)


def wrapped(text: str, width_mm: float, indent_mm: float = 0.0, bold: bool = False,
            colour: str = "#1d1f22", italic: bool = False) -> list[Line]:
    """Return a text as lines no wider than `width_mm`, every word of it kept."""
    pieces = wrap(text, SMALL_MM, width_mm - indent_mm, max_lines=200, bold=bold)
    return [Line(piece, indent_mm, bold, italic, colour) for piece in pieces]


def height_of(lines: Sequence[Line]) -> float:
    """Return the height of lines set below one another."""
    return sum(LINE_MM + line.space_before_mm for line in lines)


def set_lines(lines: Sequence[Line], x: float, y: float) -> list[Shape]:
    """Return lines as texts, the top of the first at y."""
    shapes: list[Shape] = []
    for line in lines:
        y += line.space_before_mm
        shapes.append(Text(x + line.indent_mm, y + SMALL_MM * 0.95, line.text, SMALL_MM,
                           bold=line.bold, italic=line.italic, colour=line.colour))
        y += LINE_MM
    return shapes


def flow(blocks: Sequence[list[Line]], height: float) -> list[list[Line]]:
    """Fill columns with blocks, keeping a block together where one column can hold it."""
    columns: list[list[Line]] = []
    for block in blocks:
        if columns and height_of(columns[-1]) + height_of(block) <= height:
            columns[-1] += block
            continue
        piece: list[Line] = []
        for line in block:  # a block taller than a column is cut
            if height_of([*piece, line]) > height:
                columns.append(piece)
                piece = []
            piece.append(line)
        columns.append(piece)
    return columns


# --- the map on one side, its key on the other

KEY_WIDTH_MM = 88.0
"""The least width of a column of the key."""
_GUTTER_MM = 4.0


def split_area(area: Box) -> tuple[Box, list[Box]]:
    """Part a sheet into the rectangle of the views and the columns of the key: beside the views
    on a wide sheet, below them on a tall one."""
    x0, y0, x1, y1 = area
    if x1 - x0 >= y1 - y0:
        border = x1 - KEY_WIDTH_MM
        return (x0, y0, border - _GUTTER_MM, y1), [(border, y0, x1, y1)]
    border = y0 + (y1 - y0) * 0.56
    return (x0, y0, x1, border), columns_of((x0, border + _GUTTER_MM, x1, y1), KEY_WIDTH_MM)


def columns_of(area: Box, least_mm: float) -> list[Box]:
    """Return as many equal columns as fit, none narrower than `least_mm` (but at least one)."""
    x0, y0, x1, y1 = area
    count = max(1, int((x1 - x0 + _GUTTER_MM) / (least_mm + _GUTTER_MM)))
    width = (x1 - x0 - (count - 1) * _GUTTER_MM) / count
    return [(x0 + index * (width + _GUTTER_MM), y0, x0 + index * (width + _GUTTER_MM) + width, y1)
            for index in range(count)]


def on_keys(columns: Sequence[Sequence[Line]], keys: Sequence[Box]) -> list[Group]:
    """Return one group for each sheet with the columns of lines set into the key's columns."""
    sheets: list[Group] = []
    for first in range(0, len(columns), len(keys)):
        shapes: list[Shape] = []
        for lines, key in zip(columns[first : first + len(keys)], keys, strict=False):
            shapes += set_lines(lines, key[0], key[1])
        sheets.append(Group(tuple(shapes), css="key"))
    return sheets
