"""One place on one sheet: where it is in words, how to reach it, what is there, and its photo with
the spot marked."""

from __future__ import annotations

from harnessdsl.drawing.cautions import standard_cautions
from harnessdsl.drawing.maps.map_pages import (
    access_lines,
    drawable,
    file_name,
    pointer,
)
from harnessdsl.drawing.maps.pictures import Pictures
from harnessdsl.drawing.maps.sheet import (
    Sheet,
    SheetStyle,
    drawing_area,
    finish,
    flow,
    numbered,
    on_keys,
    split_area,
    wrapped,
)
from harnessdsl.drawing.maps.views import ACCENT, draw_views
from harnessdsl.drawing.scene import Circle, Group, Image, Page, Polyline, Rect, Shape, Style
from harnessdsl.drawing.text_metrics import Box
from harnessdsl.model.layout import Layout, Point3
from harnessdsl.model.location import Spot, access, enclosing, find_spots
from harnessdsl.model.vehicle import Photo, Vehicle

MARK_RADIUS_MM = 6.0
_MARK = Style(ACCENT, 0.9)
_HALO = Style("#ffffff", 1.9)


def position_words(position_mm: Point3) -> str:
    """Return a position as one would say it standing by the vehicle."""
    x, y, z = position_mm
    back = f"{x:.0f} mm behind the front bumper" if x >= 0 else f"{-x:.0f} mm ahead of it"
    if abs(y) < 1:
        across = "on the centre line"
    else:
        across = f"{abs(y):.0f} mm to the {'right' if y > 0 else 'left'} of the centre line"
    return f"{back}, {across}, {z:.0f} mm above the ground"


def draw_place(
    vehicle: Vehicle,
    layout: Layout | None,
    name: str,
    *,
    pictures: Pictures | None = None,
    page_size: str = "A4",
    date: str = "",
    drawn_by: str = "",
) -> list[Page]:
    """Return the card of a place: steps in order beginning with the places around it, minutes,
    cautions, what is there; beside it the photo with the marked spot where the file names one
    that can be shown (`pictures` reads it and keeps what was wrong), else the place on the map.
    Raises KeyError for an unknown place."""
    place = vehicle.places[name]
    style = SheetStyle(page_size, date, drawn_by)
    label = place.label or name
    words = frozenset(access(vehicle, name).cautions)
    families = frozenset(part.family for part in vehicle.parts.values() if part.place == name)
    cautions = standard_cautions(families, words)
    area = drawing_area(vehicle, style, f"{label} (1 of 1)", (), cautions)
    left, keys = split_area(area)
    width = keys[0][2] - keys[0][0]
    spots = find_spots(vehicle, layout)
    spot = next(each for each in spots if each.name == name)
    lines = wrapped(label, width, bold=True)
    for outer in reversed(enclosing(vehicle, name)[:-1]):
        lines += wrapped(f"in {outer.label or outer.name}", width)
    lines += wrapped(where_words(spot), width)
    for word in place.exposure:
        lines += wrapped(f"it is {word} there", width)
    lines += access_lines(vehicle, name, width, 0.0)
    for part in spot.parts:
        found = vehicle.parts[part]
        slot = f", slot {found.slot}" if found.slot and found.place == name else ""
        lines += wrapped(f"{part}  {found.label}{slot}", width, 3.0)
    if place.note:
        lines += wrapped(place.note, width, italic=True)
    picture_shapes: tuple[Shape, ...] = ()
    if place.photo is not None and pictures is not None:
        shown = photo_shapes(place.photo, name, pictures, left)
        picture_shapes = () if shown is None else (shown,)
    if not picture_shapes and layout is not None:
        known = [each for each in spots if drawable(each, layout)]
        picture_shapes = draw_views(
            layout, left, [pointer(each, True) for each in known if each.name == name],
            faint=[pointer(each) for each in known if each.name != name]).shapes
    columns = flow([lines], keys[0][3] - keys[0][1])
    sheets = [Sheet("", "", (*picture_shapes, words), (), cautions)
              for words in on_keys(columns, keys)]
    return finish(vehicle, style, numbered(sheets, f"place-{file_name(name)}", label))


def where_words(spot: Spot) -> str:
    """Return where a spot is in words, and how well that is known."""
    if spot.position_mm is None:
        return "nobody has written down where it is"
    if spot.approximate:
        return "only its zone is known: somewhere near " + position_words(spot.position_mm)
    return position_words(spot.position_mm)


def photo_shapes(photo: Photo, place: str, pictures: Pictures, area: Box) -> Group | None:
    """Return a photo as large as the area allows, with its marked spot ringed; None when it can't
    be shown (`pictures` holds the reason)."""
    picture = pictures.read(photo.path, photo.span.path, photo.span)
    if picture is None:
        return None
    x0, y0, x1, y1 = area
    scale = min((x1 - x0) / picture.width_px, (y1 - y0) / picture.height_px)
    width, height = picture.width_px * scale, picture.height_px * scale
    left, top = x0 + (x1 - x0 - width) / 2, y0
    shapes: list[Shape] = [
        Image(left, top, width, height, picture.href),
        Rect(left, top, width, height, Style("#5a5f66", 0.25)),
    ]
    if photo.mark is not None:
        x, y = left + photo.mark[0] * width, top + photo.mark[1] * height
        rings: list[Shape] = []
        for style in (_HALO, _MARK):  # a white edge, so that it shows on any picture
            rings.append(Circle(x, y, MARK_RADIUS_MM, style))
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                near, far = MARK_RADIUS_MM + 0.2, MARK_RADIUS_MM + 3.0
                rings.append(Polyline(
                    ((x + dx * near, y + dy * near), (x + dx * far, y + dy * far)), style))
        shapes.append(Group(tuple(rings), css="mark", data={"place": place}))
    return Group(tuple(shapes), css="photo", data={"place": place, "path": photo.path})
