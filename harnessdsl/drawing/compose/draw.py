"""Draws an arrangement: rows of symbols, channels between them, leads, outline and texts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from harnessdsl.drawing.block import GRID_MM, Block, Port
from harnessdsl.drawing.compose.arrange import (
    PORT_TEXT_MM,
    Arrangement,
    Lead,
    Placed,
    arrange,
)
from harnessdsl.drawing.compose.channel import Channel, route
from harnessdsl.drawing.compose.element import INK, LINKED, PAPER, Caption, Element, line
from harnessdsl.drawing.scene import Circle, Group, Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    DESCENT,
    LABEL_MM,
    NAME_MM,
    SMALL_MM,
    line_height,
    shorten,
    text_width,
    wrap,
)
from harnessdsl.model.kind import Kind

EDGE_MM = 0.6
"""From the edge to a terminal's name: as far from the end of the thickest wire as beside it."""
STRIP_MM = (ASCENT + DESCENT) * SMALL_MM + EDGE_MM + 0.2
"""The height that terminal numbers take up at the upper and lower edge."""
MARGIN_MM = 1.5
"""From the outline to what is inside, left and right."""
CAPTION_GAP_MM = 1.4
FREE_CAPTION_GAP_MM = 2.2
CAPTION_MM = 26.0
"""The widest caption beside a symbol."""
OUTLINE = Style("#4d5359", 0.2, "#f4f5f6")
PART_OUTLINE = Style("#4d5359", 0.2, "#f4f5f6", dash_mm=(2.0, 0.8, 0.4, 0.8))
"""Around a piece of a part that has more of it elsewhere (IEC 60617: boundary, dash and dot)."""
ELSEWHERE_RGB = "#5a5f66"
"""The names of terminals that are drawn on another sheet."""
TERMINAL = Style(INK, 0.2, PAPER)
TERMINAL_RADIUS_MM = 0.4
LINK_LEVELS_MM = (0.0, -0.9, 0.9, -1.7, 1.7)


@dataclass(frozen=True, slots=True)
class BlockSpec:
    """What a block is made of, apart from the arrangement."""

    name: str
    part: str
    caption: Caption
    data: dict[str, str]
    title: str
    piece: bool = False
    """Only a piece of the part is drawn here."""


def compose(
    elements: Sequence[Element], leads: Sequence[Lead], kind: Kind, spec: BlockSpec
) -> Block:
    """Return the block of some elements with leads to the outside."""
    plan = arrange(elements, leads, kind)
    outlined = _needs_outline(plan, leads)
    channels = _channels(plan, leads)
    left = max((p.element.left - p.x for p in plan.placed), default=0.0)
    margin = MARGIN_MM if outlined else 0.0
    shift = math.ceil((left + margin) / GRID_MM - 1e-6) * GRID_MM
    edge = shift - left - margin
    axes, bands, inner = _down(plan, channels, outlined)
    caption, caption_width, caption_height = _caption(spec.caption)
    spare = max(0.0, caption_height - inner)
    height = inner + spare
    # extra room goes into the leads, half above and half below
    axes = [axis + spare / 2 for axis in axes]

    right = shift + plan.width + margin
    solid = _moved_all(_body(plan, channels, axes, bands, spare, height), shift)
    texts = [s for s in solid if isinstance(s, Text)]
    shapes: list[Shape] = []
    if outlined:
        style = PART_OUTLINE if spec.piece else OUTLINE
        shapes.append(Rect(edge, 0.0, right - edge, height, style))
    shapes.extend(s for s in solid if not isinstance(s, Text))
    ports: list[Port] = []
    for lead in leads:
        x = shift + plan.lead_x[lead.terminal]
        y = 0.0 if lead.facing == "top" else height
        shapes.append(_lead(lead, x, y))
        shapes.append(_terminal(lead, x, y))
        if lead.node:
            ports.append(Port(lead.node, lead.terminal, x, y, lead.facing))
    shapes.extend(texts)
    caption_x = right + (CAPTION_GAP_MM if outlined else FREE_CAPTION_GAP_MM)
    top = (height - caption_height) / 2
    shapes.append(
        Group(
            tuple(_shifted_text(t, caption_x, top) for t in caption),
            css="label",
            data={"of": spec.part},
        )
    )
    group = Group(tuple(shapes), css="part", data=spec.data, title=spec.title)
    return Block(
        spec.name,
        spec.part,
        0.0,
        0.0,
        caption_x + caption_width if caption else right,
        height,
        tuple(ports),
        (group,),
        ((edge, 0.0, right, height),),
    )


def _needs_outline(plan: Arrangement, leads: Sequence[Lead]) -> bool:
    """A lone symbol stands free; several together, or one with a box's wiring, get an outline."""
    symbols = [
        p.element
        for p in plan.placed
        if (p.element.tops or p.element.bottoms) and not (p.element.plain or p.element.free)
    ]
    taps = any(p.tap for p in plan.placed)
    return len(symbols) > 1 or taps or not all(lead.node for lead in leads)


def _channels(plan: Arrangement, leads: Sequence[Lead]) -> list[Channel]:
    nets: list[dict[str, tuple[set[float], set[float]]]] = [{} for _ in range(plan.rows + 1)]

    def enter(channel: int, net: str, x: float, side: int) -> None:
        nets[channel].setdefault(net, (set(), set()))[side].add(round(x, 3))

    for p in plan.placed:
        for pin in p.element.tops:
            enter(p.row, pin.net, p.x + pin.x, 1)
        for pin in p.element.bottoms:
            enter(p.row + 1, pin.net, p.x + pin.x, 0)
    for lead in leads:
        top = lead.facing == "top"
        enter(0 if top else plan.rows, lead.net, plan.lead_x[lead.terminal], 0 if top else 1)
    return [
        route({net: (frozenset(up), frozenset(down)) for net, (up, down) in channel.items()})
        for channel in nets
    ]


def _down(
    plan: Arrangement, channels: Sequence[Channel], outlined: bool
) -> tuple[list[float], list[tuple[float, float]], float]:
    """Return each row's axis, each row's (top, bottom) and the whole height in mm."""
    y = STRIP_MM
    axes: list[float] = []
    bands: list[tuple[float, float]] = []
    for row in range(plan.rows):
        y += channels[row].height(0.0 if row == 0 else 1.0) + (0.4 if channels[row].count else 0.0)
        here = [p.element for p in plan.placed if p.row == row]
        up = max((e.up for e in here), default=0.0)
        down = max((e.down for e in here), default=0.0)
        bands.append((y, y + up + down))
        axes.append(y + up)
        y += up + down
    y += channels[-1].height(0.0) + (0.4 if channels[-1].count else 0.0) + STRIP_MM
    return axes, bands, y


def _body(
    plan: Arrangement,
    channels: Sequence[Channel],
    axes: Sequence[float],
    bands: Sequence[tuple[float, float]],
    spare: float,
    height: float,
) -> list[Shape]:
    """Return links, conductors and symbols; the spare height lengthens the outer leads."""
    shapes: list[Shape] = _links(plan, axes)
    edges: list[tuple[float, float]] = []
    for index in range(plan.rows + 1):
        top = STRIP_MM if index == 0 else bands[index - 1][1] + spare / 2
        bottom = bands[index][0] + spare / 2 if index < plan.rows else height - STRIP_MM
        edges.append((top, bottom))
    for channel, (top, bottom) in zip(channels, edges, strict=True):
        shapes.extend(channel.shapes(top, bottom))
    for p in plan.placed:
        axis = axes[p.row]
        top, bottom = bands[p.row][0] + spare / 2, bands[p.row][1] + spare / 2
        if p.element.plain and p.tap is None:
            shapes.append(line((p.x, top), (p.x, bottom)))
            continue
        for pin in p.element.tops:
            if axis - p.element.up - top > 1e-6:
                shapes.append(line((p.x + pin.x, top), (p.x + pin.x, axis - p.element.up)))
        for pin in p.element.bottoms:
            if bottom - axis - p.element.down > 1e-6:
                shapes.append(line((p.x + pin.x, axis + p.element.down), (p.x + pin.x, bottom)))
        shapes.extend(_moved(s, p.x, axis) for s in p.element.shapes)
    return shapes


def _links(plan: Arrangement, axes: Sequence[float]) -> list[Shape]:
    """Return the dashed mechanical links; links that pass each other run at different heights."""
    shapes: list[Shape] = []
    for row in range(plan.rows):
        spans: dict[str, list[tuple[Placed, float, float]]] = {}
        for p in plan.placed:
            if p.row == row:
                for link in p.element.links:
                    spans.setdefault(link.key, []).append((p, link.x, link.slope))
        levels: list[list[tuple[float, float]]] = [[] for _ in LINK_LEVELS_MM]
        for found in spans.values():
            if len(found) < 2:
                continue
            low, high = min(p.x for p, _, _ in found) - 3, max(p.x for p, _, _ in found) + 3
            level = next(
                (
                    index
                    for index, taken in enumerate(levels)
                    if all(high <= a or b <= low for a, b in taken)
                ),
                0,
            )
            levels[level].append((low, high))
            y = LINK_LEVELS_MM[level]
            ends = [p.x + x + slope * y for p, x, slope in found]
            shapes.append(
                line((min(ends), axes[row] + y), (max(ends), axes[row] + y), style=LINKED)
            )
    return shapes


def _lead(lead: Lead, x: float, y: float) -> Shape:
    down = 1.0 if lead.facing == "top" else -1.0
    start = y if lead.node else y + (2 * TERMINAL_RADIUS_MM + 0.3) * down
    return line((x, start), (x, y + STRIP_MM * down))


def _terminal(lead: Lead, x: float, y: float) -> Shape:
    top = lead.facing == "top"
    base = y + EDGE_MM + ASCENT * SMALL_MM if top else y - EDGE_MM - DESCENT * SMALL_MM
    colour = INK if lead.node else ELSEWHERE_RGB
    text = Text(x + PORT_TEXT_MM, base, lead.shown, SMALL_MM, colour=colour)
    if not lead.node:  # not wired here: an open end inside the outline
        inside = y + (TERMINAL_RADIUS_MM + 0.3) * (1 if top else -1)
        return Group((Circle(x, inside, TERMINAL_RADIUS_MM, TERMINAL), text), css="elsewhere")
    return Group(
        (Circle(x, y, TERMINAL_RADIUS_MM, TERMINAL), text),
        css="terminal",
        data={"node": lead.node, "terminal": lead.terminal},
    )


def _caption(caption: Caption) -> tuple[list[Text], float, float]:
    """Return the texts beside a block from (0, 0) on, their width and height."""
    rows: list[tuple[str, float, bool]] = []
    if caption.name:
        rows.append((shorten(caption.name, NAME_MM, CAPTION_MM + 6, bold=True), NAME_MM, True))
    rows += [(text, LABEL_MM, False) for text in wrap(caption.label, LABEL_MM, CAPTION_MM, 3)]
    rows += [(text, LABEL_MM, False) for text in wrap(caption.rating, LABEL_MM, CAPTION_MM)]
    texts: list[Text] = []
    width = y = 0.0
    for text, size, bold in rows:
        texts.append(Text(0.0, y + ASCENT * size, text, size, bold=bold))
        width = max(width, text_width(text, size, bold))
        y += line_height(size)
    return texts, width, y


def _shifted_text(text: Text, x: float, y: float) -> Text:
    moved = _moved(text, x, y)
    assert isinstance(moved, Text)
    return moved


def _moved_all(shapes: Sequence[Shape], dx: float) -> list[Shape]:
    return [_moved(s, dx, 0.0) for s in shapes]


def _moved(shape: Shape, dx: float, dy: float) -> Shape:
    if isinstance(shape, Polyline):
        return replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points))
    if isinstance(shape, Group):
        return replace(shape, shift=(shape.shift[0] + dx, shape.shift[1] + dy))
    if isinstance(shape, Rect | Circle | Text):
        return replace(shape, x=shape.x + dx, y=shape.y + dy)
    return Group((shape,), shift=(dx, dy))
