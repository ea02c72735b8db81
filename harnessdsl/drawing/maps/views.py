"""Side view and plan on one sheet, with the rows of call-outs above and below each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from harnessdsl.drawing.maps.body import MapFrame, body_shapes
from harnessdsl.drawing.maps.callouts import (
    HEIGHT_MM,
    TEXT_MM,
    CallOut,
    Mark,
    Rows,
    place_callouts,
)
from harnessdsl.drawing.scene import Circle, Group, Image, Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import LABEL_MM, SMALL_MM, Box
from harnessdsl.model.layout import Layout, Point3, View

LEADER_ROOM_MM = 7.0
"""Between the outline and the call-outs: enough for leaders to fan out."""
CAPTION_MM = 5.4
SIDE_ROOM_MM = 6.0
_BLOCK_MM = 2 * (LEADER_ROOM_MM + HEIGHT_MM) + CAPTION_MM
_FAR_MM = 60.0
"""A mark further than this to the right of the centre line is behind the body in a side view."""

INK = "#1d1f22"
ACCENT = "#b3261e"
FAINT = "#9aa0a6"

_LEADER = Style("#5a5f66", 0.15)
_LEADER_STRONG = Style(INK, 0.3)


@dataclass(frozen=True, slots=True)
class Pointer:
    """Something to be pointed out on a map."""

    key: str
    """What ends up in the data- attribute: a place's or a run's name."""
    text: str
    position_mm: Point3
    css: str = "place"
    """`place` or `run`: the name of the data- attribute and the stem of the classes."""
    approximate: bool = False
    strong: bool = False
    square: bool = False
    """A box (fuses, relays) has a square call-out."""
    title: str = ""


@dataclass(frozen=True, slots=True)
class DrawnViews:
    """The shapes of the views, and the frames by which millimetres were put on paper."""

    shapes: tuple[Shape, ...]
    frames: dict[View, MapFrame]


def call_out_capacity(width_mm: float, widest: str) -> int:
    """Return how many call-outs, with a text as wide as `widest`, fit around one view."""
    return Rows(0.0, width_mm, 0.0, 0.0).capacity(widest)


def fit_views(layout: Layout, area: Box, points: Sequence[Point3]) -> dict[View, MapFrame]:
    """Return a frame for each view of the layout, one scale for all: the side view above the
    plan, as large as the area allows, with all points inside."""
    x0, y0, x1, y1 = area
    views = [view for view in (View.SIDE, View.PLAN) if view in layout.views]
    bounds = {view: _bounds(layout, view, points) for view in views}
    least = min(box[0] for box in bounds.values())
    most = max(box[2] for box in bounds.values())
    tall = sum(box[3] - box[1] for box in bounds.values())
    room = (y1 - y0) - len(views) * _BLOCK_MM
    scale = min((x1 - x0 - 2 * SIDE_ROOM_MM) / (most - least), room / tall)
    left = (x0 + x1) / 2 - (least + most) / 2 * scale
    spare = (room - tall * scale) / len(views)
    frames: dict[View, MapFrame] = {}
    y = y0
    for view in views:
        _, low, _, high = bounds[view]
        top = y + spare / 2 + HEIGHT_MM + LEADER_ROOM_MM
        frames[view] = MapFrame(view, left, top + high * scale, scale)
        y += _BLOCK_MM + (high - low) * scale + spare
    return frames


def _bounds(
    layout: Layout, view: View, points: Sequence[Point3]
) -> tuple[float, float, float, float]:
    x0, b0, x1, b1 = layout.bounds_mm(view)
    flat = [(x, y if view is View.PLAN else z) for x, y, z in points]
    return (
        min([x0, *(x for x, _ in flat)]), min([b0, *(b for _, b in flat)]),
        max([x1, *(x for x, _ in flat)]), max([b1, *(b for _, b in flat)]),
    )


def draw_views(
    layout: Layout,
    area: Box,
    pointers: Sequence[Pointer],
    *,
    faint: Sequence[Pointer] = (),
    between: dict[View, tuple[Shape, ...]] | None = None,
    backdrops: dict[View, Image] | None = None,
    frames: dict[View, MapFrame] | None = None,
) -> DrawnViews:
    """Return both views with a call-out for each pointer in each; `faint` ones get a dot only.

    `between` is drawn over the body and under the marks. Raises ValueError when there are more
    pointers than call-outs fit (see call_out_capacity).
    """
    everything = [pointer.position_mm for pointer in (*pointers, *faint)]
    frames = frames or fit_views(layout, area, everything)
    shapes: list[Shape] = []
    for view, frame in frames.items():
        _, low, _, high = _bounds(layout, view, everything)
        top, bottom = frame.base - high * frame.scale, frame.base - low * frame.scale
        rows = Rows(area[0], area[2], top - LEADER_ROOM_MM - HEIGHT_MM / 2,
                    bottom + LEADER_ROOM_MM + HEIGHT_MM / 2)
        inside: list[Shape] = []
        if backdrops and view in backdrops:
            inside.append(backdrops[view])
        inside.append(body_shapes(layout, frame))
        inside += (between or {}).get(view, ())
        inside += [_dot(pointer, frame, quiet=True) for pointer in faint]
        marks = [Mark(pointer.key, pointer.text, frame.at(pointer.position_mm))
                 for pointer in pointers]
        placed = place_callouts(marks, rows)
        inside += [_leader(pointer, callout, view)
                   for pointer, callout in zip(pointers, placed, strict=True)]
        inside += [_dot(pointer, frame) for pointer in pointers]
        inside += [_callout(pointer, callout, view)
                   for pointer, callout in zip(pointers, placed, strict=True)]
        inside.append(_caption(view, frame, (area[0] + area[2]) / 2,
                               rows.lower_y + HEIGHT_MM / 2 + 3.6))
        shapes.append(Group(tuple(inside), css="view", data={"view": str(view)}))
    return DrawnViews(tuple(shapes), frames)


def _caption(view: View, frame: MapFrame, centre: float, y: float) -> Text:
    ratio = 1 / frame.scale
    if view is View.PLAN:
        words = "seen from above, left-hand side below, right-hand side above"
    else:
        words = "seen from the left-hand side"
    return Text(centre, y, f"← front · {words} · 1 : {ratio:.0f}", LABEL_MM, "middle", italic=True,
                colour="#4a4f55")


def _data(pointer: Pointer, view: View) -> dict[str, str]:
    return {pointer.css: pointer.key, "view": str(view)}


def _stem(pointer: Pointer) -> str:
    return "" if pointer.css == "place" else f"{pointer.css}-"


def _leader(pointer: Pointer, callout: CallOut, view: View) -> Group:
    start, end = callout.leader
    style = _LEADER_STRONG if pointer.strong else _LEADER
    return Group((Polyline((end, start), style),), css=f"{_stem(pointer)}leader",
                 data=_data(pointer, view))


def _callout(pointer: Pointer, callout: CallOut, view: View) -> Group:
    x, y = callout.centre
    fill, ink = (INK, "#ffffff") if pointer.strong else ("#ffffff", INK)
    dash = (0.7, 0.5) if pointer.approximate else ()
    radius = 0.6 if pointer.square else HEIGHT_MM / 2
    return Group(
        (
            Rect(x - callout.width / 2, y - HEIGHT_MM / 2, callout.width, HEIGHT_MM,
                 Style(INK, 0.25, fill, dash), radius),
            Text(x, y + TEXT_MM * 0.36, pointer.text, TEXT_MM, "middle", bold=True, colour=ink),
        ),
        css=f"{_stem(pointer)}callout",
        data=_data(pointer, view),
        title=pointer.title,
    )


def _dot(pointer: Pointer, frame: MapFrame, quiet: bool = False) -> Group:
    """The mark of a place itself: full on this side, hollow behind, ringed where only the zone
    is known."""
    x, y = frame.at(pointer.position_mm)
    ink = FAINT if quiet else ACCENT if pointer.strong else INK
    behind = frame.view is View.SIDE and pointer.position_mm[1] > _FAR_MM
    shapes: list[Shape] = []
    radius = 0.55 if quiet else 1.0 if pointer.strong else 0.8
    if pointer.approximate:
        shapes.append(Circle(x, y, radius + 0.9, Style(ink, 0.18, "none", (0.6, 0.5))))
    shapes.append(Circle(x, y, radius, Style(ink if behind else "#ffffff", 0.25,
                                             "#ffffff" if behind else ink)))
    css = "place" if pointer.css == "place" else f"{pointer.css}-mark"
    if quiet:
        css += " other"
    return Group(tuple(shapes), css=css, data=_data(pointer, frame.view), title=pointer.title)


def legend_shapes(x: float, y: float) -> tuple[Group, float]:
    """Return the explanation of marks and call-outs from (x, y) down, and its height in mm."""
    rows = (
        ("dot", "where it is"), ("hollow", "in the side view: on the far, right-hand side"),
        ("ring", "known by its zone only: somewhere there"), ("square", "a fuse or relay box"),
    )
    shapes: list[Shape] = []
    for index, (kind, words) in enumerate(rows):
        middle = y + 1.6 + index * 3.3
        if kind == "square":
            shapes.append(Rect(x + 0.4, middle - 1.2, 2.4, 2.4, Style(INK, 0.25, "#ffffff"), 0.4))
        else:
            fill = "#ffffff" if kind == "hollow" else INK
            if kind == "ring":
                shapes.append(Circle(x + 1.6, middle, 1.4, Style(INK, 0.18, "none", (0.6, 0.5))))
            shapes.append(Circle(x + 1.6, middle, 0.75, Style(INK, 0.25, fill)))
        shapes.append(Text(x + 4.4, middle + 0.75, words, SMALL_MM, colour="#4a4f55"))
    return Group(tuple(shapes), css="legend"), len(rows) * 3.3
