"""Composes one page: its size, its supply lines and earth line, and where its components stand.

Components stand side by side; the page is the smallest one that holds them. What room is left
goes between the components and into their channels, so that the earth line is at the bottom of
the page and no corner stays empty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from harnessdsl.drawing.component import LaidOut
from harnessdsl.drawing.furniture import RAIL_NAME_MM, TRACK_STRIP_MM
from harnessdsl.drawing.placement import element_extent
from harnessdsl.drawing.routing import Course
from harnessdsl.drawing.sheet_graph import MarkKind, SheetGraph
from harnessdsl.drawing.text_metrics import SMALL_MM, Box, line_height, text_width

RAIL_PITCH_MM = 5.0
RAIL_REFERENCE_MM = 2.4
"""More for a line whose name has a reference below it."""
RAIL_TOP_MM = 2.6
BELOW_RAILS_MM = 1.5
COMPONENT_GAP_MM = 3.0
MAX_COMPONENT_GAP_MM = 14.0
MAX_CHANNEL_STRETCH_MM = 9.0
ABOVE_EARTH_MM = 2.0
"""Between the earth line and what hangs above it."""
BAND_GAP_MM = 6.0
MAX_BANDS = 3
EARTH_NAMES_MM = 1.0
"""From the earth line to the names below it."""


@dataclass(slots=True)
class Band:
    """A strip of the page from its supply lines down to its track numbers; millimetres on paper.

    A page has one, or several below each other where its components are wide and low.
    """

    members: list[int]
    """Indices of components, from left to right."""
    rails: dict[str, float] = field(default_factory=dict)
    """Supply line -> its y."""
    rail_x: tuple[float, float] = (0.0, 0.0)
    earth_y: float = 0.0
    earth_rail: bool = False
    tracks_y: float = 0.0


@dataclass(slots=True)
class Composed:
    """A page with the place of everything."""

    size: str
    bands: list[Band]
    origins: dict[int, tuple[float, float]] = field(default_factory=dict)
    """Component -> its upper left corner."""
    band_of: dict[int, int] = field(default_factory=dict)
    dropped: set[int] = field(default_factory=set)
    """Threads that go straight down to the earth line."""


def rails_used(laid: Sequence[LaidOut], lines: Sequence[str]) -> list[str]:
    """Return the supply lines that wires of these components go up to, in the order of `lines`."""
    used = {
        course.thread.mark.text
        for component in laid
        for course in component.routed.courses
        if course.to_rail and course.thread.mark is not None
    }
    return [line for line in lines if line in used]


def _rails_height(rails: Sequence[str], referred: Sequence[str]) -> float:
    if not rails:
        return 0.0
    pitch = sum(RAIL_PITCH_MM + RAIL_REFERENCE_MM * (rail in referred) for rail in rails)
    return RAIL_TOP_MM + pitch - RAIL_PITCH_MM / 2 + BELOW_RAILS_MM


def _earth_names_height(laid: Sequence[LaidOut]) -> float:
    """Return the room below the earth line: names of one or two lines."""
    lines = 0
    for component in laid:
        for course in component.routed.courses:
            mark = course.thread.mark
            if mark is not None and mark.kind is MarkKind.EARTH:
                lines = max(lines, 2 if mark.length_mm > 3.1 + 1.8 * line_height(SMALL_MM) else 1)
    return EARTH_NAMES_MM + lines * line_height(SMALL_MM) + 0.8 if lines else 0.0


def _rail_room(rails: Sequence[str]) -> float:
    """Return the room that the names of the lines need to their left."""
    return max([RAIL_NAME_MM, *(text_width(rail, SMALL_MM, True) + 2.0 for rail in rails)])


def _width(laid: Sequence[LaidOut]) -> float:
    return sum(c.routed.width_mm for c in laid) + COMPONENT_GAP_MM * (len(laid) + 1)


def _band_height(laid: Sequence[LaidOut], rails: Sequence[str], referred: Sequence[str]) -> float:
    highest = max((c.routed.channels[0] for c in laid), default=0.0)
    height = max((c.routed.height_mm + highest - c.routed.channels[0] for c in laid), default=0.0)
    below = _earth_names_height(laid) + ABOVE_EARTH_MM + TRACK_STRIP_MM + 1.0
    return _rails_height(rails, referred) + height + below


def _groups(laid: Sequence[LaidOut], bands: int) -> list[list[int]]:
    """Deal the components out to bands of about equal width, the high ones first."""
    order = list(range(len(laid)))
    if bands == 1:
        return [order]
    order.sort(key=lambda index: (-laid[index].routed.height_mm, index))
    share = sum(c.routed.width_mm + COMPONENT_GAP_MM for c in laid) / bands
    groups: list[list[int]] = [[]]
    used = 0.0
    for index in order:
        need = laid[index].routed.width_mm + COMPONENT_GAP_MM
        if groups[-1] and used + need / 2 > share and len(groups) < bands:
            groups.append([])
            used = 0.0
        groups[-1].append(index)
        used += need
    return [sorted(group) for group in groups]


def compose(
    laid: Sequence[LaidOut],
    graph: SheetGraph,
    size: str,
    area: Box,
    lines: Sequence[str],
    referred: Sequence[str],
    force: bool = False,
) -> Composed | None:
    """Return the page with its components in their places, in as few bands as will do; None when
    the page is too small (unless by `force`)."""
    x0, y0, x1, y1 = area
    for count in range(1, MAX_BANDS + 1):
        groups = _groups(laid, count)
        if len(groups) < count:
            break
        rails = [rails_used([laid[i] for i in group], lines) for group in groups]
        heights = [
            _band_height([laid[i] for i in group], own, referred)
            for group, own in zip(groups, rails, strict=True)
        ]
        room = max(_rail_room(own) for own in rails)
        width = max(_width([laid[i] for i in group]) for group in groups) + room
        free = y1 - y0 - sum(heights) - BAND_GAP_MM * (count - 1)
        if (width <= x1 - x0 and free >= 0) or force:
            page = Composed(size, [Band(group) for group in groups])
            y = y0
            for band, own, height in zip(page.bands, rails, heights, strict=True):
                bottom = y + height + max(0.0, free) / count
                _fill(page, band, laid, graph, own, referred, (x0 + room, y, x1, bottom))
                y = bottom + BAND_GAP_MM
            return page
    return None


def _fill(
    page: Composed,
    band: Band,
    laid: Sequence[LaidOut],
    graph: SheetGraph,
    rails: Sequence[str],
    referred: Sequence[str],
    box: Box,
) -> None:
    """Place the components of a band in `box`."""
    left, y0, x1, y1 = box
    y = y0 + RAIL_TOP_MM
    for rail in rails:
        band.rails[rail] = y
        y += RAIL_PITCH_MM + RAIL_REFERENCE_MM * (rail in referred)
    own = [laid[index] for index in band.members]
    top = y0 + _rails_height(rails, referred)
    band.rail_x = (left, x1)
    band.tracks_y = y1 - TRACK_STRIP_MM
    band.earth_y = band.tracks_y - 1.0 - _earth_names_height(own)
    highest = max((component.routed.channels[0] for component in own), default=0.0)
    for component in own:  # first rows level
        component.routed.channels[0] = highest
        component.routed.settle()
        _stretch(component, band.earth_y - ABOVE_EARTH_MM - top)
    widths = sum(c.routed.width_mm for c in own)
    free = x1 - left - widths - 2 * COMPONENT_GAP_MM
    gap = min(MAX_COMPONENT_GAP_MM, free / max(1, len(own) - 1)) if len(own) > 1 else 0.0
    used = widths + gap * (len(own) - 1)
    x = left + COMPONENT_GAP_MM + max(0.0, (x1 - left - 2 * COMPONENT_GAP_MM - used) / 2)
    number = page.bands.index(band)
    for index, component in zip(band.members, own, strict=True):
        page.origins[index] = (x, top)
        page.band_of[index] = number
        x += component.routed.width_mm + gap
        _drop_earths(graph, component, page, band)


def _stretch(component: LaidOut, height: float) -> None:
    """Spread the height that is left over the channels between the rows."""
    routed = component.routed
    free = height - routed.height_mm
    inner = len(routed.channels) - 2
    if free <= 0.5 or inner < 1:
        return
    share = min(MAX_CHANNEL_STRETCH_MM, free / (inner + 0.5))
    for index in range(1, 1 + inner):
        routed.channels[index] += share
    routed.settle()


def _boxes(graph: SheetGraph, component: LaidOut) -> list[tuple[Box, int]]:
    """Return everything that a wire to the earth line must not meet, with its thread (-1 for an
    element)."""
    found: list[tuple[Box, int]] = []
    for index, (x, y) in component.routed.element_at.items():
        e = graph.elements[index]
        left, right = element_extent(e)
        box = (x - left, y - e.top_mm, x + right, y + e.bottom_mm)
        found.append((box, -1))
    for course in component.routed.courses:
        pin = course.thread.pins[0]
        mark = course.thread.mark
        points = list(course.points)
        if mark is not None and not course.to_rail:
            x, y = points[-1]
            down = pin.side == "bottom"
            points.append((x, y + mark.length_mm if down else y - mark.length_mm))
        if course.to_rail:
            points.append((points[-1][0], 0.0))
        for (ax, ay), (bx, by) in pairwise(points):
            if abs(ax - bx) < 1e-6:
                box = (ax - pin.left_mm, min(ay, by), ax + pin.right_mm, max(ay, by))
            else:
                box = (min(ax, bx) - 1.3, ay - 1.3, max(ax, bx) + 1.3, ay + 1.3)
            found.append((box, course.thread.index))
    return found


def _drop_earths(graph: SheetGraph, component: LaidOut, page: Composed, band: Band) -> None:
    """Find the wires to earth points that can go straight down to the earth line."""
    boxes = _boxes(graph, component)
    for course in component.routed.courses:
        if _can_drop(course, boxes):
            page.dropped.add(course.thread.index)
            band.earth_rail = True
            x, y = course.points[-1]
            pin = course.thread.pins[0]
            box = (x - pin.left_mm, y, x + pin.right_mm, y + 1000.0)
            boxes.append((box, course.thread.index))


def _can_drop(course: Course, boxes: Sequence[tuple[Box, int]]) -> bool:
    thread = course.thread
    if thread.mark is None or thread.mark.kind is not MarkKind.EARTH:
        return False
    if thread.pins[0].side != "bottom":
        return False
    x, y = course.points[-1]
    left, right = x - thread.pins[0].left_mm, x + thread.pins[0].right_mm
    return not any(
        owner != thread.index and box[0] < right and box[2] > left and box[3] > y
        for box, owner in boxes
    )
