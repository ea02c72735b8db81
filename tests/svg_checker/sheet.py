"""What was measured on one sheet: groups, shapes and texts, in mm from the top left."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any

from svg_checker.geometry import Box, Point, bounds
from svg_checker.path_data import sub_paths

SYMBOL_CLASSES = ("part", "plug", "splice", "earth", "reference")


@dataclass(frozen=True)
class Group:
    """A `<g>` (or a single element) with a class or data- attributes."""

    index: int
    parent: int
    classes: tuple[str, ...]
    data: Mapping[str, str]


@dataclass(frozen=True)
class Shape:
    """One line, outline or area as painted."""

    points: tuple[Point, ...]
    curved: tuple[bool, ...]
    closed: bool
    filled: bool
    stroked: bool
    stroke_mm: float
    fill: str
    stroke: str
    dashed: bool
    group: int
    order: int
    """Later shapes are painted over earlier ones."""

    @property
    def visible(self) -> bool:
        return self.filled or self.stroked

    @cached_property
    def box(self) -> Box:
        return bounds(self.points, self.stroke_mm / 2 if self.stroked else 0.0)

    @cached_property
    def strokes(self) -> list[tuple[Point, ...]]:
        """The painted stretches of the outline, as rectangles with square ends (butt caps)."""
        ends = [*self.points, self.points[0]] if self.closed else list(self.points)
        half = max(self.reach_mm, 1e-3)
        found: list[tuple[Point, ...]] = []
        for (ax, ay), (bx, by) in pairwise(ends):
            length = math.hypot(bx - ax, by - ay)
            if length > 1e-9:
                nx, ny = (by - ay) / length * half, (ax - bx) / length * half
                found.append(
                    ((ax + nx, ay + ny), (bx + nx, by + ny), (bx - nx, by - ny), (ax - nx, ay - ny))
                )
        return found

    @property
    def reach_mm(self) -> float:
        """How far the paint goes beyond the geometry."""
        return self.stroke_mm / 2 if self.stroked else 0.0


@dataclass(frozen=True)
class Text:
    """One piece of text. `box` is the font's line box, `ink` the glyphs' own extent."""

    text: str
    box: tuple[Point, ...]
    ink: tuple[Point, ...]
    size_mm: float
    capital_mm: float
    """Height of a capital letter, which is what drawing standards call the size of lettering."""
    mirrored: bool
    group: int
    order: int

    @property
    def at(self) -> Point:
        return (sum(p[0] for p in self.ink) / 4, sum(p[1] for p in self.ink) / 4)


@dataclass(frozen=True)
class Sheet:
    """One drawing as the browser laid it out."""

    name: str
    width_mm: float
    height_mm: float
    groups: tuple[Group, ...]
    shapes: tuple[Shape, ...]
    texts: tuple[Text, ...]
    _members: dict[int, list[int]] = field(default_factory=dict, repr=False)

    def chain(self, index: int) -> Iterator[Group]:
        """Yield the group `index` and the groups around it, innermost first."""
        while index >= 0:
            group = self.groups[index]
            yield group
            index = group.parent

    def with_class(self, *names: str) -> list[Group]:
        return [group for group in self.groups if any(name in group.classes for name in names)]

    def nearest(self, index: int, *names: str) -> Group | None:
        """Return the innermost group around `index` with one of these classes."""
        for group in self.chain(index):
            if any(name in group.classes for name in names):
                return group
        return None

    def inside(self, index: int, outer: int) -> bool:
        return any(group.index == outer for group in self.chain(index))

    def shapes_in(self, outer: int, without: tuple[str, ...] = ()) -> list[Shape]:
        """Return the visible and invisible shapes within a group, leaving out nested groups of
        the classes `without`."""
        if not self._members:
            for i, shape in enumerate(self.shapes):
                for group in self.chain(shape.group):
                    self._members.setdefault(group.index, []).append(i)
        found = []
        for i in self._members.get(outer, ()):
            shape = self.shapes[i]
            nested = False
            for group in self.chain(shape.group):
                if group.index == outer:
                    break
                nested = nested or any(name in group.classes for name in without)
            if not nested:
                found.append(shape)
        return found

    def owners(self, index: int) -> frozenset[str]:
        """Return every name that the groups around `index` give: what a text belongs to.

        A node such as `K2.30` also names its part, `K2`.
        """
        names: set[str] = set()
        for group in self.chain(index):
            for key in ("of", "part", "node", "wire", "place"):
                names.add(group.data.get(key, ""))
            names.add(group.data.get("node", "").split(".")[0])
        return frozenset(names - {""})


def _shapes(raw: Mapping[str, Any]) -> Iterator[Shape]:
    rest = {
        "filled": bool(raw["filled"]),
        "stroked": bool(raw["stroked"]),
        "stroke_mm": raw["width"] if raw["stroked"] else 0.0,
        "fill": raw["fill"],
        "stroke": raw["stroke"],
        "dashed": bool(raw["dashed"]),
        "group": raw["group"],
        "order": raw["order"],
    }
    if "d" not in raw:
        points = tuple((float(x), float(y)) for x, y in raw["points"])
        closed = bool(raw.get("closed"))
        round_ = raw["tag"] in ("circle", "ellipse")
        if points:
            pieces = len(points) if closed else len(points) - 1
            yield Shape(points, (round_,) * pieces, closed, **rest)
        return
    a, b, c, d, e, f = raw["matrix"]
    for path in sub_paths(raw["d"]):
        points = tuple((a * x + c * y + e, b * x + d * y + f) for x, y in path.points)
        closed = path.closed or (len(points) > 2 and points[0] == points[-1])
        if closed:
            points = points[:-1]
        yield Shape(points, tuple(path.curved), closed, **rest)


def sheet_from_measurement(name: str, raw: Mapping[str, Any]) -> Sheet:
    """Return the sheet for what the script in the browser returned."""
    groups = tuple(
        Group(i, g["parent"], tuple(g["classes"]), dict(g["data"]))
        for i, g in enumerate(raw["groups"])
    )
    shapes = tuple(shape for item in raw["shapes"] for shape in _shapes(item))
    texts = tuple(
        Text(
            t["text"],
            tuple((p[0], p[1]) for p in t["box"]),
            tuple((p[0], p[1]) for p in t["ink"]),
            t["size"],
            t["capital"],
            t["mirrored"],
            t["group"],
            t["order"],
        )
        for t in raw["texts"]
        if t["visible"]
    )
    return Sheet(name, raw["width"], raw["height"], groups, shapes, texts)


def symbol_name(group: Group) -> str:
    """Return what a symbol stands for: its part, or its node."""
    return group.data.get("part") or group.data.get("node") or ""
