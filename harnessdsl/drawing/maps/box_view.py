"""Fuse and relay boxes from the front: what sits in each slot, its rating, what it feeds."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from harnessdsl.drawing.cautions import standard_cautions
from harnessdsl.drawing.colours import COLOURS, Colour, fuse_colour, on_colour
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
from harnessdsl.drawing.scene import Group, Page, Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import NAME_MM, SMALL_MM, Box, shorten, text_width, wrap
from harnessdsl.model.feeds import Feeds
from harnessdsl.model.location import access
from harnessdsl.model.vehicle import Part, Place, Slot, Vehicle

FedParts = Callable[[str], Sequence[str]]
"""Part name -> the names of the parts that it feeds."""

INK = "#1d1f22"
QUIET = "#5a5f66"
_GAP_MM = 1.6
_CELL_MAX_MM = 52.0
_CELL_HEIGHT_MM = (17.0, 36.0)
_EDGE = Style("#4a4f55", 0.4, "#f6f6f3")
_CELL = Style("#5a5f66", 0.25, "#ffffff")
_EMPTY = Style("#9aa0a6", 0.2, "none", (1.2, 0.9))
_UNKNOWN = Style("#5a5f66", 0.25, "#fff7e0", (2.0, 0.8))
_TORPEDO = {5.0: "YE", 8.0: "WH", 16.0: "RD", 25.0: "BU"}
"""DIN 72581-1."""


@dataclass(frozen=True, slots=True)
class SlotContent:
    """A slot and what the file says of it."""

    slot: Slot
    parts: tuple[Part, ...]
    feeds: tuple[str, ...] = ()

    @property
    def state(self) -> str:
        """`filled`; `unknown` when something is there that nobody has identified, or the lid
        names it and the file does not; `empty` when the file knows of nothing in it."""
        if any(part.family == "unknown" for part in self.parts):
            return "unknown"
        if self.parts:
            return "filled"
        return "unknown" if self.slot.label or not self.slot.type else "empty"


def boxes(vehicle: Vehicle) -> list[str]:
    """Return the names of the places that have slots, in the order of the file."""
    return [name for name, place in vehicle.places.items() if place.slots]


def housing_colour(part: Part, slot_type: str = "") -> Colour | None:
    """Return the colour of a fuse's body by its type and rating, None where none is standard.

    Blade fuses by ISO 8820-3 (regular and large blades use the same colours for other ratings),
    torpedo fuses by DIN 72581-1.
    """
    rating = part.rating_a()
    if part.family != "fuse" or rating is None:
        return None
    for word in (part.kind.name, *part.kind.fits, slot_type):
        if "torpedo" in word:
            code = _TORPEDO.get(rating)
            return None if code is None else COLOURS[code]
        found = fuse_colour(word, rating) if word else None
        if found is not None:
            return found
    return None


def slot_contents(
    vehicle: Vehicle, box: str, feeds_of: FedParts | None = None
) -> tuple[list[SlotContent], list[Part]]:
    """Return every slot of a box with what sits in it, and the parts in the box without a slot.

    `feeds_of` says what a part feeds; without it that follows from the wiring. Raises KeyError
    for a place that is not in the vehicle.
    """
    place = vehicle.places[box]
    if feeds_of is None:
        known = Feeds(vehicle)

        def feeds_of(name: str) -> Sequence[str]:
            return known.fed_by(name)

    inside = [part for part in vehicle.parts.values() if part.place == box]
    contents = []
    for slot in place.slots.values():
        parts = tuple(part for part in inside if part.slot == slot.name)
        fed = tuple(dict.fromkeys(each for part in parts for each in feeds_of(part.name)))
        contents.append(SlotContent(slot, parts, fed))
    loose = [part for part in inside if part.slot not in place.slots]
    return contents, loose


def grid_of(place: Place) -> tuple[int, int]:
    """Return (columns, rows) of a box's face; slots fill it row by row in the file's order."""
    count = max(1, len(place.slots))
    columns = place.grid_columns or min(count, 6 if count > 8 else 4)
    columns = min(columns, count)
    return columns, math.ceil(count / columns)


def rating_text(part: Part) -> str:
    """Return `30 A`, or '' when the part has no rating."""
    rating = part.rating_a()
    return "" if rating is None else f"{rating:g} A"


def draw_box(
    vehicle: Vehicle,
    box: str,
    *,
    feeds_of: FedParts | None = None,
    page_size: str = "A4",
    date: str = "",
    drawn_by: str = "",
) -> list[Page]:
    """Return a box seen from the front, slot by slot, and its fuse chart in full words.

    Boxes that lie in this one follow on sheets of their own. Raises KeyError for an unknown
    place, ValueError for one without slots.
    """
    if not vehicle.places[box].slots:
        raise ValueError(f"the place '{box}' has no slots")
    style = SheetStyle(page_size, date, drawn_by)
    if feeds_of is None:
        known = Feeds(vehicle)

        def feeds_of(name: str) -> Sequence[str]:
            return known.fed_by(name)

    inner = [name for name, place in vehicle.places.items()
             if place.slots and place.inside and box in _around(vehicle, name)]
    sheets: list[Sheet] = []
    for name in [box, *inner]:
        label = vehicle.places[name].label or name
        contents, loose = slot_contents(vehicle, name, feeds_of)
        face = _face_sheets(vehicle, name, contents, style, label)
        chart = _chart_sheets(vehicle, name, contents, loose, style, label)
        sheets += numbered(face, f"box-{file_name(name)}", label)
        sheets += numbered(chart, f"box-{file_name(name)}-list", f"{label}: what is in it")
    return finish(vehicle, style, sheets)


def _cautions(vehicle: Vehicle, box: str) -> tuple[str, ...]:
    families = frozenset(part.family for part in vehicle.parts.values() if part.place == box)
    return standard_cautions(families, frozenset(access(vehicle, box).cautions))


def _around(vehicle: Vehicle, name: str) -> list[str]:
    found: list[str] = []
    place = vehicle.places.get(name)
    while place is not None and place.inside and place.inside not in found:
        found.append(place.inside)
        place = vehicle.places.get(place.inside)
    return found


# --- the face


def _face_sheets(
    vehicle: Vehicle, box: str, contents: Sequence[SlotContent], style: SheetStyle, label: str
) -> list[Sheet]:
    cautions = _cautions(vehicle, box)
    x0, y0, x1, y1 = drawing_area(vehicle, style, f"{label} (1 of 1)", (), cautions)
    columns, rows = grid_of(vehicle.places[box])
    head = wrapped(f"{label}, seen from the front. Slots run row by row.", x1 - x0)
    head += access_lines(vehicle, box, x1 - x0, 0.0)
    top = y0 + height_of(head) + 2.0
    cell_width = min(_CELL_MAX_MM, (x1 - x0 - 4.0 - (columns - 1) * _GAP_MM) / columns)
    room = y1 - top - 4.0
    least, most = _CELL_HEIGHT_MM
    rows_a_sheet = max(1, int((room + _GAP_MM) / (least + _GAP_MM)))
    sheet_count = math.ceil(rows / rows_a_sheet)
    rows_a_sheet = math.ceil(rows / sheet_count)
    cell_height = min(most, (room + _GAP_MM) / rows_a_sheet - _GAP_MM)
    width = columns * (cell_width + _GAP_MM) - _GAP_MM + 4.0
    left = (x0 + x1 - width) / 2
    sheets: list[Sheet] = []
    for first in range(0, rows, rows_a_sheet):
        members = contents[first * columns : (first + rows_a_sheet) * columns]
        count = math.ceil(len(members) / columns)
        shapes: list[Shape] = set_lines(head, x0, y0)
        shapes.append(Rect(left, top, width, count * (cell_height + _GAP_MM) - _GAP_MM + 4.0,
                           _EDGE, 1.5))
        for index, content in enumerate(members):
            row, column = divmod(index, columns)
            x = left + 2.0 + column * (cell_width + _GAP_MM)
            y = top + 2.0 + row * (cell_height + _GAP_MM)
            shapes.append(_cell(vehicle, box, content, (x, y, x + cell_width, y + cell_height)))
        sheets.append(Sheet("", "", tuple(shapes), (), cautions))
    return sheets


def _cell(vehicle: Vehicle, box: str, content: SlotContent, area: Box) -> Group:
    x0, y0, x1, y1 = area
    frame = {"filled": _CELL, "unknown": _UNKNOWN, "empty": _EMPTY}[content.state]
    shapes: list[Shape] = [Rect(x0, y0, x1 - x0, y1 - y0, frame, 0.8)]
    inner = x1 - x0 - 2.0
    names = " + ".join(part.name for part in content.parts)
    slot_name = shorten(content.slot.name, NAME_MM, inner * 0.55, True)
    y = y0 + 1.0 + NAME_MM
    shapes.append(Text(x0 + 1.0, y, slot_name, NAME_MM, bold=True, colour=QUIET))
    if names:
        room = inner - text_width(slot_name, NAME_MM, True) - 1.0
        shapes.append(Text(x1 - 1.0, y, shorten(names, NAME_MM, room, True), NAME_MM, "end",
                           bold=True, colour=INK))
    y += 1.0
    body = _body(content, (x0 + x1) / 2, y, inner)
    if body is not None:
        shapes.append(body)
        y += 5.4
    lines = int((y1 - y - 0.6) / LINE_MM)
    words: list[tuple[str, bool]] = []
    label = _cell_label(content)
    if label:
        words += [(line, False) for line in wrap(label, SMALL_MM, inner, max(1, min(2, lines)))]
    fed = ", ".join(_short_name(vehicle, name) for name in content.feeds)
    if fed and lines - len(words) >= 1:
        words += [(line, True) for line in wrap(f"→ {fed}", SMALL_MM, inner, lines - len(words))]
    for text, quiet in words[:lines]:
        y += LINE_MM
        shapes.append(Text(x0 + 1.0, y - 0.5, text, SMALL_MM, colour=QUIET if quiet else INK,
                           italic=content.state != "filled"))
    return Group(
        tuple(shapes), css=f"slot {content.state}",
        data={"box": box, "slot": content.slot.name, "part": " ".join(
            part.name for part in content.parts)},
        title=_sentence(vehicle, content),
    )


def _short_name(vehicle: Vehicle, name: str) -> str:
    label = vehicle.parts[name].label if name in vehicle.parts else ""
    return f"{name} {label}".rstrip()


def _cell_label(content: SlotContent) -> str:
    if content.parts:
        own = content.parts[0].label
        return own or content.slot.label
    if content.slot.label:
        return f"lid says: {content.slot.label}; nobody has looked"
    return "empty" if content.state == "empty" else "not known what it takes"


def _body(content: SlotContent, centre: float, y: float, room: float) -> Group | None:
    """A fuse in its colour with its rating, a relay as a plain block; None for the rest."""
    if not content.parts or content.state == "unknown":
        return None
    part = content.parts[0]
    text = rating_text(part)
    if not text and part.family != "relay":
        return None
    colour = housing_colour(part, content.slot.type)
    fill = colour.rgb if colour is not None else "#ffffff"
    width = min(room, 15.0)
    shapes: list[Shape] = [Rect(centre - width / 2, y, width, 4.6, Style(INK, 0.25, fill), 0.7)]
    if part.family == "relay":
        shapes.append(Polyline(((centre - width / 2, y + 4.6), (centre + width / 2, y)),
                               Style(QUIET, 0.2)))
    else:
        shapes.append(Text(centre, y + 3.2, shorten(text, SMALL_MM, width, True), SMALL_MM,
                           "middle", bold=True, colour=on_colour(fill)))
    name = colour.name if colour is not None else ""
    return Group(tuple(shapes), css="fuse" if part.family != "relay" else "relay",
                 data={"rating": text, "colour": name} if text else {})


# --- the chart


def slot_words(content: SlotContent) -> tuple[str, str, str]:
    """Return (what the slot takes, what sits in it, how it looks) in words."""
    slot = content.slot
    takes = slot.type.replace("-", " ") or "not known"
    if slot.max_current_a is not None:
        takes += f", max {slot.max_current_a:g} A"
    if not content.parts:
        if slot.label:
            return takes, f"lid says: {slot.label}; nobody has looked", ""
        return takes, "empty" if content.state == "empty" else "not known", ""
    sits = "; ".join(f"{part.name} {part.label}".rstrip() for part in content.parts)
    if slot.label and slot.label not in (part.label for part in content.parts):
        sits += f" (lid: {slot.label})"
    looks = []
    for part in content.parts:
        colour = housing_colour(part, slot.type)
        words = " ".join([rating_text(part), colour.name if colour is not None else ""]).strip()
        if words:
            looks.append(words)
    return takes, sits, ", ".join(looks)


def _sentence(vehicle: Vehicle, content: SlotContent) -> str:
    takes, sits, looks = slot_words(content)
    fed = ", ".join(_short_name(vehicle, name) for name in content.feeds)
    return f"slot {content.slot.name} ({takes}): {sits}" + (f", {looks}" if looks else "") + (
        f"; feeds {fed}" if fed else "")


def _chart_sheets(
    vehicle: Vehicle,
    box: str,
    contents: Sequence[SlotContent],
    loose: Sequence[Part],
    style: SheetStyle,
    label: str,
) -> list[Sheet]:
    cautions = _cautions(vehicle, box)
    x0, y0, x1, y1 = drawing_area(vehicle, style, f"{label}: what is in it (1 of 1)", (), cautions)
    wide = x1 - x0 - 16.0
    widths = (16.0, wide * 0.17, wide * 0.25, wide * 0.13, wide * 0.45)
    lefts = [x0 + sum(widths[:column]) for column in range(5)]
    heads = ("Slot", "takes", "holds", "rating", "feeds")
    rows: list[tuple[dict[str, str], list[list[Line]]]] = []
    for content in contents:
        takes, sits, looks = slot_words(content)
        fed = ", ".join(_short_name(vehicle, name) for name in content.feeds)
        if content.parts and not fed:
            fed = "nothing that is wired" if content.parts[0].family in ("fuse", "relay") else ""
        cells = (content.slot.name, takes, sits, looks, fed)
        rows.append(({"box": box, "slot": content.slot.name}, [
            wrapped(cell, width - 2.5, bold=column == 0)
            for column, (cell, width) in enumerate(zip(cells, widths, strict=True))]))
    for part in loose:
        where = f"slot {part.slot}, which the box does not have" if part.slot else "no slot"
        cells = ("–", where, f"{part.name} {part.label}".rstrip(), rating_text(part), "")
        rows.append(({"box": box}, [wrapped(cell, width - 2.5)
                                    for cell, width in zip(cells, widths, strict=True)]))
    sheets: list[Sheet] = []
    shapes: list[Shape] = []
    y = y1
    for data, lines in rows:
        tall = max(height_of(cell) for cell in lines) + 1.6
        if y + tall > y1:
            if shapes:
                sheets.append(Sheet("", "", tuple(shapes), (), cautions))
            shapes = [Text(left, y0 + SMALL_MM, head, SMALL_MM, bold=True)
                      for left, head in zip(lefts, heads, strict=True)]
            y = y0 + LINE_MM + 1.0
        row: list[Shape] = [Polyline(((x0, y), (x1, y)), Style("#c9cccf", 0.15))]
        for left, cell in zip(lefts, lines, strict=True):
            row += set_lines(cell, left, y + 0.8)
        shapes.append(Group(tuple(row), css="row", data=data))
        y += tall
    if shapes:
        sheets.append(Sheet("", "", tuple(shapes), (), cautions))
    return sheets
