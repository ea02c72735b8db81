"""Writes a page as SVG: the only place that knows the format.

The same page gives the same bytes: svgwrite sorts attributes, numbers are rounded to a
thousandth of a millimetre, nothing comes from the clock. svgwrite's validator is off, because it
knows no data- attributes; the tests parse the result instead.
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Any

from svgwrite import (  # type: ignore[import-untyped]
    Drawing,
    container,
    image,
    path,
    shapes,
    text,
)

from harnessdsl.drawing.scene import (
    Circle,
    Group,
    Image,
    Page,
    Path,
    Polyline,
    Rect,
    Shape,
    Style,
    Text,
)
from harnessdsl.drawing.text_metrics import FONT_STACK

_DEFAULT = Style()
_NUMBER = re.compile(r"-?(?:\d+\.\d*|\.\d+|\d+)(?:[eE][-+]?\d+)?")
_NOT_NAME = re.compile(r"[^a-z0-9-]+")
_COLOUR = re.compile(r"#[0-9a-fA-F]{6}|none")
_IMAGE_DATA = re.compile(r"data:image/(?:png|jpeg|gif|webp);base64,[A-Za-z0-9+/=\s]*")


def render_svg(page: Page) -> str:
    """Return the page as SVG text in millimetres, the same bytes for the same page, with real
    text, `Group.data` as data- attributes and all user text made safe for XML.

    Raises ValueError for a coordinate that is not a finite number and for a picture whose
    reference is neither an embedded image nor a path relative to the drawing.
    """
    width, height = number(page.width_mm), number(page.height_mm)
    drawing = Drawing(
        size=(f"{width}mm", f"{height}mm"), viewBox=f"0 0 {width} {height}", debug=False
    )
    drawing.attribs["font-family"] = FONT_STACK
    paper = shapes.Rect(insert=(0, 0), size=(width, height), debug=False)
    paper.attribs.update({"fill": "#ffffff", "class": "paper"})
    drawing.add(paper)
    sheet = container.Group(debug=False)
    sheet.attribs.update(
        {
            "class": "sheet",
            "fill": _DEFAULT.fill,
            "stroke": _DEFAULT.stroke,
            "stroke-linejoin": "round",
            "stroke-width": number(_DEFAULT.stroke_mm),
        }
    )
    for shape in page.shapes:
        sheet.add(_element(shape))
    drawing.add(sheet)
    if page.title:
        drawing.set_desc(title=clean(page.title))
    return f'<?xml version="1.0" encoding="utf-8"?>\n{drawing.tostring()}\n'


def clean(text: str) -> str:
    """Return user text without what XML forbids and without characters that turn the reading
    direction; line ends become spaces, half of a surrogate pair a question mark."""
    kept: list[str] = []
    for character in text:
        code = ord(character)
        if character in "\t\n\r":
            kept.append(" ")
        elif 0xD800 <= code <= 0xDFFF:
            kept.append("?")
        elif not (
            code & 0xFFFE == 0xFFFE
            or 0xFDD0 <= code <= 0xFDEF
            or unicodedata.category(character) == "Cc"
            or character in _DIRECTION
        ):
            kept.append(character)
    return "".join(kept)


_DIRECTION = frozenset(
    chr(code) for code in (0x200E, 0x200F, 0x061C, *range(0x202A, 0x202F), *range(0x2066, 0x206A))
)


def number(value: float) -> str:
    """Return a number with at most three decimals, without trailing zeros or a minus zero."""
    if not math.isfinite(value):
        raise ValueError(f"{value} is no place on paper")
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _element(shape: Shape) -> Any:
    match shape:
        case Group():
            return _group(shape)
        case Polyline(points, style, closed):
            rounded = [(number(x), number(y)) for x, y in points]
            kind = shapes.Polygon if closed else shapes.Polyline
            return _styled(kind(points=rounded, debug=False), style)
        case Rect(x, y, width, height, style, radius_mm):
            size = (number(width), number(height))
            element = shapes.Rect((number(x), number(y)), size, debug=False)
            if radius_mm:
                element.attribs["rx"] = number(radius_mm)
            return _styled(element, style)
        case Circle(x, y, radius, style):
            centre = (number(x), number(y))
            return _styled(shapes.Circle(centre, number(radius), debug=False), style)
        case Path(d, style):
            return _styled(path.Path(_path_data(d), debug=False), style)
        case Text():
            return _text(shape)
        case Image():
            return _image(shape)


def _group(group: Group) -> Any:
    element = container.Group(debug=False)
    if group.css:
        element.attribs["class"] = clean(group.css)
    for key in sorted(group.data):
        name = _NOT_NAME.sub("-", key.lower()).strip("-") or "x"
        element.attribs[f"data-{name}"] = clean(group.data[key])
    if group.shift != (0.0, 0.0):
        x, y = map(number, group.shift)
        element.attribs["transform"] = f"translate({x} {y})"
    for shape in group.shapes:
        element.add(_element(shape))
    if group.title:
        element.set_desc(title=clean(group.title))
    return element


def _styled(element: Any, style: Style) -> Any:
    """Write only what differs from the sheet's own style."""
    attributes = element.attribs
    if style.fill != _DEFAULT.fill:
        attributes["fill"] = _colour(style.fill)
    if style.stroke != _DEFAULT.stroke:
        attributes["stroke"] = _colour(style.stroke)
    if style.stroke_mm != _DEFAULT.stroke_mm and style.stroke != "none":
        attributes["stroke-width"] = number(style.stroke_mm)
    if style.dash_mm:
        attributes["stroke-dasharray"] = " ".join(map(number, style.dash_mm))
    if style.opacity != 1.0:
        attributes["opacity"] = number(style.opacity)
    return element


def _text(shape: Text) -> Any:
    element = text.Text(clean(shape.text), debug=False)
    x, y = number(shape.x), number(shape.y)
    attributes = element.attribs
    attributes.update(
        {
            "fill": _colour(shape.colour),
            "font-size": number(shape.size_mm),
            "stroke": "none",
            "x": x,
            "y": y,
        }
    )
    if shape.anchor != "start":
        attributes["text-anchor"] = shape.anchor
    if shape.rotate_deg:
        attributes["transform"] = f"rotate({number(shape.rotate_deg)} {x} {y})"
    if shape.bold:
        attributes["font-weight"] = "bold"
    if shape.italic:
        attributes["font-style"] = "italic"
    return element


def _image(shape: Image) -> Any:
    href = shape.href
    if href.startswith("data:"):
        safe = _IMAGE_DATA.fullmatch(href) is not None
    else:
        safe = not re.match(r"[/\\]|[A-Za-z][A-Za-z0-9+.-]*:", href)
    if not safe:
        raise ValueError("a picture must be embedded, or a path relative to the drawing")
    return image.Image(
        clean(href),
        insert=(number(shape.x), number(shape.y)),
        size=(number(shape.width), number(shape.height)),
        debug=False,
    )


def _path_data(d: str) -> str:
    return _NUMBER.sub(lambda found: number(float(found.group())), d)


def _colour(colour: str) -> str:
    if not _COLOUR.fullmatch(colour):
        raise ValueError(f"'{clean(colour)}' is no colour; write #rrggbb or none")
    return colour
