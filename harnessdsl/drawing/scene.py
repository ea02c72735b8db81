"""Neutral positioned shapes: what layout makes and what a renderer writes.

All lengths are millimetres on paper, y grows downwards. A shape knows nothing of vehicles;
`Group.data` carries plain names (such as wire=..., part=..., terminal=...) that end up as data-
attributes, so that a drawing can be checked and searched.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Style:
    """How a shape is stroked and filled; colours are '#rrggbb' or 'none'."""

    stroke: str = "#000000"
    stroke_mm: float = 0.25
    fill: str = "none"
    dash_mm: tuple[float, ...] = ()
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Polyline:
    """A line through points."""

    points: tuple[Point, ...]
    style: Style = Style()
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Rect:
    x: float
    y: float
    width: float
    height: float
    style: Style = Style()
    radius_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Circle:
    x: float
    y: float
    radius: float
    style: Style = Style()


@dataclass(frozen=True, slots=True)
class Path:
    """An SVG path in millimetres (arcs, curves)."""

    d: str
    style: Style = Style()


@dataclass(frozen=True, slots=True)
class Text:
    """Real text. `size_mm` is the font size; the smallest allowed on paper is 1.8 mm high type."""

    x: float
    y: float
    """The base line."""
    text: str
    size_mm: float = 2.5
    anchor: str = "start"
    """start, middle or end."""
    rotate_deg: float = 0.0
    """Clockwise about (x, y)."""
    bold: bool = False
    italic: bool = False
    colour: str = "#000000"


@dataclass(frozen=True, slots=True)
class Image:
    """A picture: `href` is a data URI or a relative path."""

    x: float
    y: float
    width: float
    height: float
    href: str


@dataclass(frozen=True, slots=True)
class Group:
    """Shapes that belong together: `css` is the class, `data` the data- attributes, `title` the
    tooltip."""

    shapes: tuple[Shape, ...]
    css: str = ""
    data: Mapping[str, str] = field(default_factory=dict)
    title: str = ""
    shift: Point = (0.0, 0.0)


Shape = Polyline | Rect | Circle | Path | Text | Image | Group


@dataclass(frozen=True, slots=True)
class Page:
    """One sheet of paper."""

    name: str
    """The file stem."""
    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]
    title: str = ""
