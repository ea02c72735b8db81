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
EARTH_NAMES_MM = 1.0
"""From the earth line to the names below it."""


@dataclass(slots=True)
class Composed:
    """A page with the place of everything; millimetres on paper."""

    size: str
    area: Box
    rails: dict[str, float]
    """Supply line -> its y."""
    rail_x: tuple[float, float]
    earth_y: float
    earth_rail: bool
    origins: list[tuple[float, float]]
    """Component -> its upper left corner."""
    tracks_y: float
    dropped: set[int] = field(default_factory=set)
    """Threads that go straight down to the earth line."""


@dataclass(slots=True)
class Need:
    """What a page must hold: width and height of its drawing, without the border."""

    width_mm: float
    height_mm: float


def rails_used(graph: SheetGraph, laid: Sequence[LaidOut], lines: Sequence[str]) -> list[str]:
    """Return the supply lines that wires of the sheet go up to, in the order of `lines`."""
    used = {
        course.thread.mark.text
        for component in laid
        for course in component.routed.courses
        if course.to_rail and course.thread.mark is not None
    }
    return [line for line in lines if line in used]


def rails_height(rails: Sequence[str], referred: Sequence[str]) -> float:
    if not rails:
        return 0.0
    pitch = sum(RAIL_PITCH_MM + RAIL_REFERENCE_MM * (rail in referred) for rail in rails)
    return RAIL_TOP_MM + pitch - RAIL_PITCH_MM / 2 + BELOW_RAILS_MM


def earth_names_height(graph: SheetGraph, laid: Sequence[LaidOut]) -> float:
    """Return the room below the earth line: names of one or two lines."""
    lines = 0
    for component in laid:
        for course in component.routed.courses:
            mark = course.thread.mark
            if mark is not None and mark.kind is MarkKind.EARTH:
                lines = max(lines, 2 if mark.length_mm > 3.1 + 1.8 * line_height(SMALL_MM) else 1)
    return EARTH_NAMES_MM + lines * line_height(SMALL_MM) + 0.8 if lines else 0.0


def rail_room(rails: Sequence[str]) -> float:
    """Return the room that the names of the lines need to their left."""
    return max([RAIL_NAME_MM, *(text_width(rail, SMALL_MM, True) + 2.0 for rail in rails)])


def need_of(
    graph: SheetGraph, laid: Sequence[LaidOut], rails: Sequence[str], referred: Sequence[str]
) -> Need:
    """Return the least width and height of a page's drawing."""
    width = rail_room(rails) + sum(c.routed.width_mm for c in laid)
    width += COMPONENT_GAP_MM * (len(laid) + 1)
    height = rails_height(rails, referred) + max((c.routed.height_mm for c in laid), default=0.0)
    return Need(width, height + earth_names_height(graph, laid) + TRACK_STRIP_MM + 1.0)


def level_tops(laid: Sequence[LaidOut]) -> None:
    """Give all components the same room above their first row, so that those rows are level."""
    highest = max((component.routed.channels[0] for component in laid), default=0.0)
    for component in laid:
        if component.routed.channels[0] != highest:
            component.routed.channels[0] = highest
            component.routed.settle()


def compose(
    graph: SheetGraph,
    laid: Sequence[LaidOut],
    size: str,
    area: Box,
    rails: Sequence[str],
    referred: Sequence[str],
) -> Composed:
    """Return the page with its components in their places; it must be large enough."""
    x0, y0, x1, y1 = area
    rail_y: dict[str, float] = {}
    y = y0 + RAIL_TOP_MM
    for rail in rails:
        rail_y[rail] = y
        y += RAIL_PITCH_MM + RAIL_REFERENCE_MM * (rail in referred)
    top = y0 + rails_height(rails, referred)
    earth_y = y1 - TRACK_STRIP_MM - 1.0 - earth_names_height(graph, laid)
    for component in laid:
        _stretch(component, earth_y - top)
    left = x0 + rail_room(rails)
    free = x1 - left - sum(c.routed.width_mm for c in laid) - 2 * COMPONENT_GAP_MM
    gap = min(MAX_COMPONENT_GAP_MM, free / max(1, len(laid) - 1)) if len(laid) > 1 else 0.0
    used = sum(c.routed.width_mm for c in laid) + gap * (len(laid) - 1)
    x = left + COMPONENT_GAP_MM + max(0.0, (x1 - left - 2 * COMPONENT_GAP_MM - used) / 2)
    origins: list[tuple[float, float]] = []
    for component in laid:
        origins.append((x, top))
        x += component.routed.width_mm + gap
    page = Composed(size, area, rail_y, (left, x1), earth_y, False, origins, y1 - TRACK_STRIP_MM)
    _drop_earths(graph, laid, page)
    return page


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


def _drop_earths(graph: SheetGraph, laid: Sequence[LaidOut], page: Composed) -> None:
    """Find the wires to earth points that can go straight down to the earth line."""
    for component in laid:
        boxes = _boxes(graph, component)
        for course in component.routed.courses:
            if _can_drop(course, boxes):
                page.dropped.add(course.thread.index)
                x, y = course.points[-1]
                pin = course.thread.pins[0]
                box = (x - pin.left_mm, y, x + pin.right_mm, y + 1000.0)
                boxes.append((box, course.thread.index))
    page.earth_rail = bool(page.dropped)


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
