"""The table of symptoms for the book: pages to print, two columns, every symptom in one piece where
it fits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from harnessdsl.drawing.furniture import PAGE_SIZES_MM, Legend, TitleBlock, frame
from harnessdsl.drawing.scene import Group, Page, Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import ASCENT, line_height, text_width, wrap
from harnessdsl.faults.step_text import named
from harnessdsl.faults.symptoms import Symptom
from harnessdsl.model.vehicle import Vehicle

PAPER = "A4-portrait"
TITLE = "Symptoms, and what may be behind them"
HEAD_MM, TEXT_MM = 2.8, 2.3
COLUMNS, GAP_MM = 2, 6.0
SHARE_MM = 11.0
"""Room for the percentage."""
TICK_MM = 1.9
AFTER_MM = 2.2
NOTE = ("Chances are common practice and hold for one symptom alone: what else you see changes "
        "them. [F5]: the fuse that it blows.")
CAUTIONS = (
    "A fuse is only replaced by one of the same rating; find out why it blew.",
    "Airbags: keep off; licensed hands only. Fuel: no spark. Never a test lamp on a control "
    "module.",
    "The maker's data and local rules come first.")


@dataclass(frozen=True, slots=True)
class _Row:
    """One line of a column: shapes from its upper left corner, and its height in mm."""

    shapes: tuple[Shape, ...]
    height: float
    head: bool = False


def symptom_pages(vehicle: Vehicle, symptoms: Iterable[Symptom], date: str = "") -> list[Page]:
    """Return the pages. `date` is the user's, never the clock's."""
    title = TitleBlock(vehicle.name, TITLE, vehicle.build, 88, 88, date, notes=NOTE)
    area = frame(PAPER, title, Legend(contacts=False), CAUTIONS).area
    width = (area[2] - area[0] - GAP_MM * (COLUMNS - 1)) / COLUMNS
    height = area[3] - area[1]
    blocks = [_block(vehicle, symptom, width) for symptom in symptoms]
    columns = _columns(blocks, height)
    pages = [columns[i:i + COLUMNS] for i in range(0, len(columns), COLUMNS)]
    found = []
    for number, page in enumerate(pages, 1):
        block = TitleBlock(vehicle.name, TITLE, vehicle.build, number, len(pages), date,
                           notes=NOTE)
        furniture = frame(PAPER, block, Legend(contacts=False), CAUTIONS)
        shapes: list[Shape] = [*furniture.shapes]
        for place, rows in enumerate(page):
            x = area[0] + place * (width + GAP_MM)
            y = area[1]
            for row in rows:
                shapes.append(Group(row.shapes, css="symptom" if row.head else "cause",
                                    shift=(round(x, 3), round(y, 3))))
                y += row.height
        size = PAGE_SIZES_MM[PAPER]
        found.append(Page(f"symptoms-{number:02d}", size[0], size[1], tuple(shapes),
                          f"{vehicle.name}: symptoms" if vehicle.name else "Symptoms"))
    return found


def _block(vehicle: Vehicle, symptom: Symptom, width: float) -> list[_Row]:
    """Return the rows of one symptom: what is seen, where, and the causes with boxes to tick."""
    name = named(vehicle, symptom.part) + (f" '{symptom.load}'" if symptom.load else "")
    rows = []
    for text in wrap(f"{name}: {symptom.word}", HEAD_MM, width, 2, bold=True):
        rows.append(_Row((Text(0, ASCENT * HEAD_MM, text, HEAD_MM, bold=True),),
                         line_height(HEAD_MM), head=True))
    seen = ", ".join(symptom.conditions[:4]) + (", ..." if len(symptom.conditions) > 4 else "")
    for text in wrap(f"seen in: {seen}", TEXT_MM, width, 2):
        rows.append(_Row((Text(0, ASCENT * TEXT_MM, text, TEXT_MM, italic=True),),
                         line_height(TEXT_MM), head=True))
    x = TICK_MM + 1.2 + SHARE_MM
    for words, share, blown in symptom.causes:
        text = words + (f" [{blown}]" if blown else "")
        for line, piece in enumerate(wrap(text, TEXT_MM, width - x, 3)):
            shapes: list[Shape] = [Text(x, ASCENT * TEXT_MM, piece, TEXT_MM)]
            if not line:
                figure = f"{share:.0%}" if share >= 0.01 else "<1%"
                shapes += [Rect(0, 0.4, TICK_MM, TICK_MM, Style("#000000", 0.2)),
                           Text(round(x - 1.2 - text_width(figure, TEXT_MM), 3),
                                ASCENT * TEXT_MM, figure, TEXT_MM)]
            rows.append(_Row(tuple(shapes), line_height(TEXT_MM)))
    rule = Polyline(((0, AFTER_MM / 2), (width, AFTER_MM / 2)), Style("#a0a0a0", 0.15))
    return [*rows, _Row((rule,), AFTER_MM)]


def _columns(blocks: Sequence[list[_Row]], height: float) -> list[list[_Row]]:
    """Return the rows of each column; a symptom longer than a column goes on in the next."""
    columns: list[list[_Row]] = [[]]
    used = 0.0
    for block in blocks:
        if used and used + sum(row.height for row in block) > height:
            columns.append([])
            used = 0.0
        for row in block:
            if used + row.height > height:
                columns.append([])
                used = 0.0
            columns[-1].append(row)
            used += row.height
    return [column for column in columns if column]
