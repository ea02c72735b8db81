"""Boxes with named pins: control modules, apparatus, sockets, and the unknown."""

from __future__ import annotations

import math
from collections.abc import Sequence

from harnessdsl.drawing.block import GRID_MM, PORT_PITCH_MM
from harnessdsl.drawing.compose.element import (
    FILLED,
    INK,
    PAPER,
    SOLID,
    Element,
    Pin,
)
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Polyline, Rect, Shape, Style, Text
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    DESCENT,
    SMALL_MM,
    line_height,
    text_width,
    wrap,
)

ORDER = 10
MOST_LABEL_MM = 30.0
MOST_LABEL_LINES = 2
BOX = Style(INK, 0.3, PAPER)
UNKNOWN = Style(INK, 0.3, PAPER, dash_mm=(1.6, 0.9))
MANY_PRIMITIVES = 4
"""An apparatus with more in it than this is drawn from outside."""
ARROW_MM = 1.6


def take(pool: Pool) -> list[Element]:
    """Draw as a box: modules whose pins have roles, parts of which only the terminals are known,
    and apparatus with a lot inside."""
    lone = pool.lone_terminals()
    roles = any(t.role not in ("", "inner") for t in pool.kind.terminals.values())
    family = pool.part.family
    bare = len(lone) == len(pool.wanted) or (bool(lone) and family in ("module", "unknown"))
    full = family == "load" and len(pool.kind.primitives) > MANY_PRIMITIVES
    if not (roles or bare or full):
        return []
    pool.close()
    return [_box(pool, family == "unknown")]


def _box(pool: Pool, unknown: bool) -> Element:
    tops = [t for t in pool.wanted if pool.facing(t) == "top"]
    bottoms = [t for t in pool.wanted if pool.facing(t) == "bottom"]
    top_x, bottom_x = _columns(pool, tops), _columns(pool, bottoms)
    width = max([*top_x, *bottom_x], default=5.0)
    # the shorter row of pins stands in the middle of the longer one
    for row in (top_x, bottom_x):
        if row and row[-1] < width:
            shift = math.floor((width - row[-1]) / 2 / GRID_MM) * GRID_MM
            row[:] = [x + shift for x in row]
    upper = max((_label_length(pool, t) for t in tops), default=0.0)
    lower = max((_label_length(pool, t) for t in bottoms), default=0.0)
    mark = 4.0 if unknown else 0.0
    height = max(8.0, upper + lower + mark + 2.5)
    half = height / 2
    first = min([*top_x, *bottom_x], default=0.0)
    origin = first
    lines = max((len(_label_lines(pool, t)) for t in pool.wanted), default=0)
    margin = max(2.5, lines * line_height(SMALL_MM) / 2 + 0.4)
    left, right = -margin, width - origin + margin
    shapes: list[Shape] = [
        Rect(left, -half, right - left, height, UNKNOWN if unknown else BOX)
    ]
    for name, x in zip(tops, top_x, strict=True):
        shapes += _pin(pool, name, x - origin, -half, 1.0)
    for name, x in zip(bottoms, bottom_x, strict=True):
        shapes += _pin(pool, name, x - origin, half, -1.0)
    if unknown:
        y = -half + 0.8 + upper + mark / 2 + 0.36 * 4.0
        shapes.append(Text((left + right) / 2, y, "?", 4.0, anchor="middle", bold=True))
    return Element(
        "box",
        tuple(Pin(x - origin, pool.net(n)) for n, x in zip(tops, top_x, strict=True)),
        tuple(Pin(x - origin, pool.net(n)) for n, x in zip(bottoms, bottom_x, strict=True)),
        left=-left + 0.2,
        right=right + 0.2,
        up=half,
        down=half,
        shapes=tuple(shapes),
    )


def _columns(pool: Pool, names: Sequence[str]) -> list[float]:
    """Return the pins' places: far enough apart for the numbers at the edge and the labels."""
    xs: list[float] = []
    for index, name in enumerate(names):
        if index == 0:
            xs.append(0.0)
            continue
        before = names[index - 1]
        lines = max(len(_label_lines(pool, n)) for n in (name, before))
        need = max(
            PORT_PITCH_MM,
            text_width(before, SMALL_MM) + 1.3,
            lines * line_height(SMALL_MM) + 0.6,
        )
        xs.append(xs[-1] + math.ceil(need / GRID_MM - 1e-6) * GRID_MM)
    return xs


def _label_lines(pool: Pool, name: str) -> list[str]:
    terminal = pool.terminal(name)
    if terminal is None:
        return []
    role = terminal.role if terminal.role != "inner" else ""
    lines = wrap(terminal.label, SMALL_MM, MOST_LABEL_MM, MOST_LABEL_LINES)
    return [role, *lines] if role else list(lines)


def _label_length(pool: Pool, name: str) -> float:
    lines = _label_lines(pool, name)
    if not lines:
        return 0.0
    arrow = ARROW_MM + 0.6 if _direction(pool, name) else 0.6
    return max(text_width(text, SMALL_MM) for text in lines) + arrow + 0.6


def _direction(pool: Pool, name: str) -> str:
    """Return which way the mark at a pin points: in, out, both or ''."""
    terminal = pool.terminal(name)
    role = terminal.role if terminal is not None else ""
    return {"supply": "in", "input": "in", "low-side": "out", "high-side": "out",
            "signal": "both"}.get(role, "")  # fmt: skip


def _pin(pool: Pool, name: str, x: float, edge: float, inward: float) -> list[Shape]:
    """Return the mark and the upright label of one pin at the box's edge."""
    shapes: list[Shape] = []
    direction = _direction(pool, name)
    if direction:
        near, far = edge + 0.3 * inward, edge + (0.3 + ARROW_MM) * inward
        if direction == "both":
            middle = (near + far) / 2
            outline = ((x, near), (x + 0.8, middle), (x, far), (x - 0.8, middle))
            shapes.append(Polyline(outline, FILLED, closed=True))
        else:
            base, point = (near, far) if direction == "in" else (far, near)
            outline3 = ((x - 0.8, base), (x + 0.8, base), (x, point))
            shapes.append(Polyline(outline3, SOLID, closed=True))
    lines = _label_lines(pool, name)
    start = edge + ((ARROW_MM + 0.7) if direction else 0.7) * inward
    pitch = line_height(SMALL_MM)
    strip = x - pitch * len(lines) / 2
    for line in lines:
        base_x = strip + (pitch - (ASCENT + DESCENT) * SMALL_MM) / 2 + ASCENT * SMALL_MM
        anchor = "end" if inward > 0 else "start"
        shapes.append(Text(base_x, start, line, SMALL_MM, anchor=anchor, rotate_deg=-90))
        strip += pitch
    return shapes
