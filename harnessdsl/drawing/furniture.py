"""The furniture of a sheet: frame, title block, legend, cautions, rails, track numbers.

All lengths are millimetres on paper from the sheet's upper left corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from harnessdsl.drawing.cautions import standard_cautions
from harnessdsl.drawing.legend import Legend, legend_shapes
from harnessdsl.drawing.scene import Group, Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    DESCENT,
    LABEL_MM,
    SMALL_MM,
    TITLE_MM,
    Box,
    line_height,
    shorten,
    text_width,
    wrap,
)

__all__ = [
    "PAGE_SIZES_MM",
    "RAIL_NAME_MM",
    "TRACK_STRIP_MM",
    "Frame",
    "Legend",
    "TitleBlock",
    "frame",
    "rail",
    "standard_cautions",
    "track_strip",
]

PAGE_SIZES_MM = {
    "A4": (297.0, 210.0),
    "A4-portrait": (210.0, 297.0),
    "A3": (420.0, 297.0),
    "A3-portrait": (297.0, 420.0),
}
"""Width and height by name; landscape unless it says otherwise (ISO 216)."""

BORDER_MM = 8.0
"""From the paper's edge to the border: what an office printer leaves white, and a little."""
AREA_MARGIN_MM = 3.0
PAD_MM = 1.6
TITLE_WIDTH_MM = 104.0
CAPTION_RGB = "#4d5359"
BORDER = Style("#000000", 0.5)
RULE = Style("#000000", 0.25)
RAIL_NAME_MM = 9.0
RAIL_NAME_SIZE_MM = 3.6
TRACK_STRIP_MM = 5.0


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """What the title block says. Nothing is filled in from the clock: `date` is the user's."""

    vehicle: str
    circuit: str
    """The sheet's title."""
    build: str = ""
    sheet: int = 1
    sheets: int = 1
    date: str = ""
    drawn_by: str = ""
    notes: str = ""
    supply: str = ""
    """Such as `12 V, negative earth`."""
    tracks: str = ""
    """Such as `1-24`."""


_NO_LEGEND = Legend()


@dataclass(frozen=True, slots=True)
class Frame:
    """The furniture's shapes and the rectangle that is left for the drawing."""

    shapes: tuple[Shape, ...]
    area: Box


def frame(
    page_size: str,
    title: TitleBlock,
    legend: Legend = _NO_LEGEND,
    cautions: Sequence[str] = (),
) -> Frame:
    """Return border, title block, legend and cautions of a sheet.

    They fill one strip along the bottom (two on a narrow sheet), as high as the longest of them
    needs; `Frame.area` is the free rectangle above it, 3 mm inside the border. Raises KeyError
    for an unknown page size.
    """
    width, height = PAGE_SIZES_MM[page_size]
    x0, y0, x1, y1 = BORDER_MM, BORDER_MM, width - BORDER_MM, height - BORDER_MM
    inner = x1 - x0
    narrow = inner < 230
    title_width = inner if narrow else TITLE_WIDTH_MM
    rest = inner if narrow else inner - title_width
    caution_width = rest * 0.46 if cautions else 0.0
    legend_width = rest - caution_width

    title_height = _title_block(title, title_width)[1]
    legend_part, legend_height = legend_shapes(legend, legend_width - 2 * PAD_MM)
    caution_part, caution_height = _cautions(cautions, caution_width - 2 * PAD_MM)
    side_height = max(legend_height, caution_height) + 2 * PAD_MM
    strip = title_height + side_height if narrow else max(title_height, side_height)
    top = y1 - strip
    title_top = y1 - title_height if narrow else top
    side_x = x0

    shapes: list[Shape] = [
        Rect(x0, y0, inner, y1 - y0, BORDER),
        Polyline(((x0, top), (x1, top)), BORDER),
        Group(legend_part, css="legend", shift=(side_x + PAD_MM, top + PAD_MM)),
    ]
    side_bottom = y1 - title_height if narrow else y1
    if cautions:
        line_x = side_x + legend_width
        shapes.append(Polyline(((line_x, top), (line_x, side_bottom)), RULE))
        shapes.append(Group(caution_part, css="cautions", shift=(line_x + PAD_MM, top + PAD_MM)))
    title_x = x1 - title_width
    edge = ((title_x, title_top), (x1, title_top)) if narrow else ((title_x, top), (title_x, y1))
    shapes.append(Polyline(edge, BORDER))
    title_part, _ = _title_block(title, title_width, y1 - title_top)
    shapes.append(Group(title_part, css="title-block", shift=(title_x, title_top)))
    margin = AREA_MARGIN_MM
    area = (x0 + margin, y0 + margin, x1 - margin, top - margin)
    return Frame((Group(tuple(shapes), css="frame"),), area)


def _line(text: str, x: float, top: float, size_mm: float, width: float, bold: bool = False,
          colour: str = "#000000") -> Text:  # fmt: skip
    fitted = shorten(text, size_mm, width, bold)
    return Text(x, top + ASCENT * size_mm, fitted, size_mm, bold=bold, colour=colour)


def _title_block(
    title: TitleBlock, width: float, height: float = 0.0
) -> tuple[tuple[Shape, ...], float]:
    """Return the title block from (0, 0) on and its height, at least the one given: sheet title,
    vehicle and build, notes, and a row of cells at the bottom (ISO 7200 names most of them, from
    memory)."""
    room = width - 2 * PAD_MM
    shapes: list[Shape] = []
    y = PAD_MM
    for text in wrap(title.circuit, TITLE_MM, room, 2, bold=True) or ("",):
        shapes.append(_line(text, PAD_MM, y, TITLE_MM, room, bold=True))
        y += line_height(TITLE_MM)
    for text in (title.vehicle, title.build):
        for row in wrap(text, LABEL_MM + 0.3, room, 2):
            shapes.append(_line(row, PAD_MM, y, LABEL_MM + 0.3, room))
            y += line_height(LABEL_MM + 0.3)
    for row in wrap(title.notes, SMALL_MM, room, 2):
        shapes.append(_line(row, PAD_MM, y, SMALL_MM, room, colour=CAPTION_RGB))
        y += line_height(SMALL_MM)
    y += PAD_MM
    cells = [
        ("Supply", title.supply, 0.285),
        ("Tracks", title.tracks, 0.175),
        ("Date", title.date, 0.185),
        ("Drawn by", title.drawn_by, 0.21),
        ("Sheet", f"{title.sheet} / {title.sheets}", 0.145),
    ]
    cell_height = 2 * line_height(SMALL_MM) + 1.0
    y = max(y, height - cell_height)
    shapes.append(Polyline(((0, y), (width, y)), RULE))
    x = 0.0
    for index, (name, value, share) in enumerate(cells):
        if index:
            shapes.append(Polyline(((x, y), (x, y + cell_height)), RULE))
        cell = width * share
        shapes.append(_line(name, x + 0.8, y + 0.5, SMALL_MM, cell - 1.2, colour=CAPTION_RGB))
        shapes.append(_line(value, x + 0.8, y + 0.5 + line_height(SMALL_MM), SMALL_MM, cell - 1.2))
        x += cell
    return tuple(shapes), y + cell_height


def _cautions(cautions: Sequence[str], width: float) -> tuple[tuple[Shape, ...], float]:
    """Return the cautions with their sign from (0, 0) on, and their height."""
    if not cautions:
        return (), 0.0
    sign = 6.0
    shapes: list[Shape] = [
        Polyline(
            ((sign / 2, 0.2), (sign, sign * 0.9), (0, sign * 0.9)),
            Style("#000000", 0.5, "#ffd633"),
            closed=True,
        ),
        Text(sign / 2, sign * 0.82, "!", 4.2, anchor="middle", bold=True),
    ]
    indent = sign + 1.4
    y = 0.0
    for caution in cautions:
        for row in wrap(caution, SMALL_MM, width - indent, 4):
            shapes.append(_line(row, indent, y, SMALL_MM, width - indent))
            y += line_height(SMALL_MM)
        y += 0.5
    return tuple(shapes), max(y, sign)


def rail(
    name: str, x0: float, x1: float, y: float, kind: Literal["supply", "earth"] = "supply"
) -> tuple[Shape, ...]:
    """Return a rail from x0 to x1 at height y with its name to the left of x0, ending 1.5 mm
    before it (a name of up to three characters needs RAIL_NAME_MM of room there)."""
    size = RAIL_NAME_SIZE_MM
    if text_width(name, size, bold=True) > RAIL_NAME_MM - 1.5:
        size = SMALL_MM
    stroke = 0.8 if kind == "supply" else 1.1
    return (
        Group(
            (
                Polyline(((x0, y), (x1, y)), Style("#000000", stroke)),
                Text(
                    x0 - 1.5,
                    y + (ASCENT - DESCENT) / 2 * size * 0.98,
                    name,
                    size,
                    anchor="end",
                    bold=True,
                ),
            ),
            css="rail",
            data={"rail": name},
        ),
    )


def track_strip(x0: float, y: float, pitch_mm: float, first: int, count: int) -> tuple[Shape, ...]:
    """Return the numbers of `count` tracks from `first` on, the centre of the first at x0,
    in a strip TRACK_STRIP_MM high whose top is y."""
    if count < 1:
        return ()
    left, right = x0 - pitch_mm / 2, x0 + pitch_mm * (count - 0.5)
    shapes: list[Shape] = [Polyline(((left, y), (right, y)), Style(CAPTION_RGB, 0.2))]
    base = y + 1.2 + ASCENT * SMALL_MM
    step = 1
    while text_width(str(first + count), SMALL_MM) > pitch_mm * step - 0.5:
        step += 1
    for index in range(count):
        x = x0 + pitch_mm * index
        shapes.append(
            Polyline(((x - pitch_mm / 2, y), (x - pitch_mm / 2, y + 1.0)), Style(CAPTION_RGB, 0.2))
        )
        if index % step == 0:
            shapes.append(
                Text(x, base, str(first + index), SMALL_MM, anchor="middle", colour=CAPTION_RGB)
            )
    shapes.append(Polyline(((right, y), (right, y + 1.0)), Style(CAPTION_RGB, 0.2)))
    return (Group(tuple(shapes), css="tracks"),)
