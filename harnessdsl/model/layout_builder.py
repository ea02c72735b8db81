"""Facts of a layout file -> Layout, with the same kind of messages as the language itself."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from harnessdsl.diagnostics import Diagnostic, Related, Severity, did_you_mean
from harnessdsl.language.facts import Fact
from harnessdsl.model.layout import (
    LINE_STYLES,
    OPEN_STYLES,
    Backdrop,
    Drive,
    Layout,
    Outline,
    View,
    Wheel,
    Zone,
    swap_sides,
)
from harnessdsl.model.layout_reading import BadFact, Items, bad
from harnessdsl.model.outline import Point, arc, circle, rounded, smooth
from harnessdsl.text import Span

MAX_POINTS = 20_000
MAX_MM = 40_000.0
"""No vehicle on the road is longer than this; a greater figure means a wrong scale."""

_FRONTS: dict[str, Point] = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}


@dataclass(slots=True)
class _Frame:
    """How the numbers of one view become millimetres on the vehicle."""

    view: View
    scale_mm: float = 1.0
    origin: Point = (0.0, 0.0)
    front: str = "left"
    rows_down: bool = False
    """True when the second number grows downwards, as in every picture program."""

    def to_mm(self, point: Point) -> Point:
        u, v = point[0] - self.origin[0], point[1] - self.origin[1]
        if self.rows_down:
            v = -v
        fx, fy = _FRONTS[self.front]
        x = -(u * fx + v * fy) * self.scale_mm
        # to the right of one who looks forward (plan), or up (side)
        along = u * fy - v * fx if self.view is View.PLAN else v
        return (x, along * self.scale_mm)


@dataclass(slots=True)
class _Zone:
    name: str
    label: str
    span: Span
    ranges: dict[str, tuple[float, float]] = field(default_factory=dict)
    """Extent in millimetres by axis: x, y, z."""


@dataclass(slots=True)
class _Builder:
    diagnostics: list[Diagnostic] = field(default_factory=list)
    outlines: list[Outline] = field(default_factory=list)
    wheels: list[Wheel] = field(default_factory=list)
    zones: dict[str, _Zone] = field(default_factory=dict)
    backdrops: list[Backdrop] = field(default_factory=list)
    drive: Drive = Drive.CENTRE
    points: int = 0

    def each(self, facts: Sequence[Fact], readers: dict[str, Callable[[Fact], None]],
             inside: str) -> None:
        """Read every fact of a block; one that is wrong does not keep the rest from being read."""
        for fact in facts:
            reader = readers.get(fact.word)
            try:
                if reader is None:
                    raise bad(f"'{fact.word}' is not understood in {inside}", fact.head.span,
                               did_you_mean(fact.word, readers,
                                            f"it can hold: {', '.join(sorted(readers))}"),
                               "layout-unknown-word")
                reader(fact)
            except BadFact as found:
                self.diagnostics.append(found.diagnostic)

    # --- the layout's own lines

    def read_drive(self, fact: Fact) -> None:
        items = Items(fact, "drive left | right | centre")
        item = items.name("left, right or centre")
        word = "centre" if item.text == "center" else item.text
        if word not in list(Drive):
            raise bad(f"'{item.text}' is no side for the steering wheel", item.span,
                       did_you_mean(word, list(Drive), "write left, right or centre"))
        items.done()
        self.drive = Drive(word)

    def read_wheel(self, fact: Fact) -> None:
        items = Items(fact, "wheel NAME [both] at X, Y radius R width W [exposed]")
        name = items.name("the wheel's name").text
        both = items.word("both")
        items.expect("at")
        x, y = items.point("the wheel's place", 2, items.length_mm)
        items.expect("radius")
        radius = self._positive(items, "the radius")
        items.expect("width")
        width = self._positive(items, "the width")
        exposed = items.word("exposed")
        items.done(("exposed",))
        self._within((x, y), fact.span)
        self.wheels.append(Wheel(name, (x, y, radius), radius, width, exposed))
        if both:
            self._two_sided(y, fact)
            self.wheels.append(Wheel(swap_sides(name), (x, -y, radius), radius, width, exposed))

    def read_zone(self, fact: Fact) -> None:
        items = Items(fact, 'zone NAME "label" [both] box X, Y, Z to X, Y, Z')
        name, label, both = self._zone_head(items)
        items.expect("box")
        a = items.triple_mm("a corner of the box")
        items.expect("to")
        b = items.triple_mm("the other corner")
        items.done()
        ranges = {
            axis: (min(a[index], b[index]), max(a[index], b[index]))
            for index, axis in enumerate("xyz")
        }
        self._add_zone(name, label, both, ranges, fact)

    def read_view(self, fact: Fact) -> None:
        items = Items(fact, "view plan { ... } or view side { ... }")
        item = items.name("plan or side")
        if item.text not in list(View):
            raise bad(f"'{item.text}' is no view", item.span,
                       did_you_mean(item.text, list(View), "there are 'plan' and 'side'"))
        items.done()
        if not fact.block:
            raise bad(f"the {item.text} view is empty", fact.span,
                       "put outlines in braces behind it")
        frame = _Frame(View(item.text))
        settings = {"scale", "ruler", "origin", "front", "rows"}
        # the frame comes first, wherever it stands in the block
        self.each(
            [inner for inner in fact.block if inner.word in settings],
            {
                "scale": lambda inner: self._scale(inner, frame),
                "ruler": lambda inner: self._ruler(inner, frame),
                "origin": lambda inner: self._origin(inner, frame),
                "front": lambda inner: self._front(inner, frame),
                "rows": lambda inner: self._rows(inner, frame),
            },
            f"the {frame.view} view",
        )
        readers: dict[str, Callable[[Fact], None]] = {
            "outline": lambda inner: self._outline(inner, frame),
            "circle": lambda inner: self._circle(inner, frame),
            "image": lambda inner: self._image(inner, frame),
            "zone": lambda inner: self._view_zone(inner, frame),
        }
        self.each(
            [inner for inner in fact.block if inner.word not in settings],
            readers | dict.fromkeys(settings, lambda inner: None),
            f"the {frame.view} view",
        )

    # --- the frame of a view

    def _scale(self, fact: Fact, frame: _Frame) -> None:
        items = Items(fact, "scale 1 unit = 2.54 mm")
        first = items.take("a length")
        if first.type == "number" and items.word("unit", "units"):
            items.expect("=")
            units = float(first.text)
            length = items.length_mm("the length of a unit")
        else:
            items.position -= 1
            units, length = 1.0, items.length_mm("the length of one unit")
        items.done()
        if units <= 0 or length <= 0:
            raise bad("the scale must be more than nothing", fact.span, f"write: {items.form}",
                       "layout-scale")
        frame.scale_mm = length / units

    def _ruler(self, fact: Fact, frame: _Frame) -> None:
        items = Items(fact, "ruler U, V to U, V 2450 mm")
        a = items.pair("one end of the ruler")
        items.expect("to")
        b = items.pair("the other end of the ruler")
        item = items.peek()
        length = items.length_mm("the true distance")
        if item is not None and item.type == "number":
            raise bad(f"'{item.text}' needs a unit", item.span, f"write: {item.text} mm")
        items.done()
        traced = math.dist(a, b)
        if traced <= 0 or length <= 0:
            raise bad("the two ends of the ruler are the same point" if traced <= 0
                       else "the true distance must be more than nothing", fact.span,
                       "name two traced points whose distance on the vehicle you have measured, "
                       "such as the wheel centres", "layout-scale")
        frame.scale_mm = length / traced

    def _origin(self, fact: Fact, frame: _Frame) -> None:
        items = Items(fact, "origin U, V")
        frame.origin = items.pair("the point where the front bumper meets "
                                  + ("the centre line" if frame.view is View.PLAN
                                     else "the height of the ground"))
        items.done()

    def _front(self, fact: Fact, frame: _Frame) -> None:
        items = Items(fact, "front left | right | up | down")
        item = items.name("the side of the picture where the front is")
        allowed = list(_FRONTS) if frame.view is View.PLAN else ["left", "right"]
        if item.text not in allowed:
            raise bad(f"the front of a {frame.view} view can't be '{item.text}'", item.span,
                       did_you_mean(item.text, allowed, f"write {', '.join(allowed)}"))
        items.done()
        frame.front = item.text

    def _rows(self, fact: Fact, frame: _Frame) -> None:
        items = Items(fact, "rows down | up")
        item = items.name("down or up")
        if item.text not in ("down", "up"):
            raise bad(f"rows run 'down' or 'up', not '{item.text}'", item.span,
                       "write down when the second number grows downwards, as in a picture")
        items.done()
        frame.rows_down = item.text == "down"

    # --- what a view holds

    def _outline(self, fact: Fact, frame: _Frame) -> None:
        form = "outline STYLE [symmetric | both] [closed | open] [smooth] [round R] " \
               "[on left | right] { points U, V  U, V ... }"
        items = Items(fact, form)
        style = self._style(items)
        closed = style not in OPEN_STYLES
        symmetric = both = curved = False
        radius, side = 0.0, ""
        while (item := items.peek()) is not None:
            if item.type == "text":  # a remark for who reads the file
                items.position += 1
            elif items.word("symmetric"):
                symmetric = True
            elif items.word("both"):
                both = True
            elif items.word("closed"):
                closed = True
            elif items.word("open"):
                closed = False
            elif items.word("smooth"):
                curved = True
            elif items.word("round"):
                radius = self._radius(items)
            elif items.word("on"):
                side = items.name("left or right").text
                if side not in ("left", "right"):
                    raise bad(f"a flank is left or right, not '{side}'", item.span)
            else:
                items.done(("symmetric", "both", "closed", "open", "smooth", "round", "on"))
        if (symmetric or both) and frame.view is not View.PLAN:
            raise bad("'symmetric' and 'both' are for the plan: they mirror about the centre line",
                       fact.span, "leave the word out in the side view")
        if symmetric and both:
            raise bad("an outline is 'symmetric' or on 'both' sides, not both", fact.span)
        corners = self._points(fact, form, radius)
        points = [point for point, _ in corners]
        if len(points) < (3 if closed else 2) and not (symmetric and len(points) >= 2):
            raise bad("an outline needs more points: three when closed, two when open", fact.span,
                       f"write: {form}")
        traced = [(frame.to_mm(point), own * frame.scale_mm) for point, own in corners]
        for point, _ in traced:
            self._within(point, fact.span)
        if symmetric:
            # points on the centre line belong to both halves: a repeated point would be a corner
            traced += [((x, -y), own) for (x, y), own in reversed(traced) if abs(y) > 1e-9]
        line = smooth([point for point, _ in traced], closed) if curved else rounded(traced, closed)
        self.outlines.append(Outline(frame.view, style, tuple(line), closed, side))
        if both:
            self.outlines.append(
                Outline(frame.view, style, tuple((x, -y) for x, y in line), closed, side)
            )

    def _points(self, fact: Fact, form: str, radius: float) -> list[tuple[Point, float]]:
        """Return the points of an outline, each with the radius of its corner."""
        if not fact.block:
            raise bad("the outline has no points", fact.span, f"write: {form}")
        corners: list[tuple[Point, float]] = []
        for inner in fact.block:
            if inner.word == "points":
                items = Items(inner, "points [round R] U, V  U, V ...")
                own = self._radius(items) if items.word("round") else radius
                while items.peek() is not None:
                    corners.append((items.pair("a point"), own))
            elif inner.word == "arc":
                items = Items(inner, "arc U, V radius R from ANGLE to ANGLE")
                centre = items.pair("the centre")
                items.expect("radius")
                reach = self._radius(items)
                items.expect("from")
                start = items.number("an angle in degrees")
                items.expect("to")
                end = items.number("an angle in degrees")
                items.done()
                if abs(end - start) > 360:
                    raise bad("an arc goes round once at most", inner.span,
                               "0 points to the right, 90 up, 180 to the left")
                corners += [(point, 0.0) for point in arc(centre, reach, start, end)]
            else:
                raise bad(f"'{inner.word}' is not understood in an outline", inner.head.span,
                           did_you_mean(inner.word, ["points", "arc"], f"write: {form}"),
                           "layout-unknown-word")
        self.points += len(corners)
        if self.points > MAX_POINTS:
            raise bad(f"the layout has more than {MAX_POINTS:,} points", fact.span,
                       "a few dozen points make a good outline: smooth and round do the rest")
        return corners

    @staticmethod
    def _radius(items: Items) -> float:
        item = items.peek()
        radius = items.number("the radius")
        if radius < 0 and item is not None:
            raise bad("a radius can't be negative", item.span)
        return radius

    def _circle(self, fact: Fact, frame: _Frame) -> None:
        items = Items(fact, 'circle STYLE "remark" [both] at U, V radius R')
        style = self._style(items)
        items.label("")  # a remark for who reads the file
        both = items.word("both")
        items.expect("at")
        centre = frame.to_mm(items.pair("the centre"))
        items.expect("radius")
        radius = items.number("the radius") * frame.scale_mm
        items.done()
        if radius <= 0:
            raise bad("the radius must be more than nothing", fact.span)
        self._within(centre, fact.span)
        self.outlines.append(Outline(frame.view, style, tuple(circle(centre, radius)), True))
        if both:
            if frame.view is not View.PLAN:
                raise bad("'both' is for the plan: it mirrors about the centre line", fact.span,
                           "leave the word out in the side view")
            other = (centre[0], -centre[1])
            self.outlines.append(Outline(frame.view, style, tuple(circle(other, radius)), True))

    def _image(self, fact: Fact, frame: _Frame) -> None:
        form = 'image "photos/side.jpg" at U, V to U, V'
        items = Items(fact, form)
        path = items.name("the picture's file")
        items.expect("at")
        a = frame.to_mm(items.pair("the picture's top left corner"))
        items.expect("to")
        b = frame.to_mm(items.pair("the picture's bottom right corner"))
        items.done()
        if frame.front != "left":
            raise bad("a picture can be shown behind a view only when its front is to the left",
                       fact.span, "turn or flip the picture first, and trace it like that",
                       "layout-image")
        if a[0] >= b[0] or a[1] <= b[1]:
            raise bad("the picture's corners are not top left and bottom right", fact.span,
                       f"write: {form}; is 'rows down' missing?", "layout-image")
        for corner in (a, b):
            self._within(corner, fact.span)
        self.backdrops.append(Backdrop(frame.view, path.text, a, b, path.span))

    def _view_zone(self, fact: Fact, frame: _Frame) -> None:
        items = Items(fact, 'zone NAME "label" [both] area U, V to U, V')
        name, label, both = self._zone_head(items)
        items.expect("area")
        a = frame.to_mm(items.pair("a corner of the area"))
        items.expect("to")
        b = frame.to_mm(items.pair("the other corner"))
        items.done()
        second = "y" if frame.view is View.PLAN else "z"
        if both and second == "z":
            raise bad("'both' is for the plan: it mirrors about the centre line", fact.span)
        ranges = {
            "x": (min(a[0], b[0]), max(a[0], b[0])),
            second: (min(a[1], b[1]), max(a[1], b[1])),
        }
        self._add_zone(name, label, both, ranges, fact)

    # --- shared pieces

    def _style(self, items: Items) -> str:
        item = items.name("what the outline is")
        if item.text not in LINE_STYLES:
            raise bad(f"'{item.text}' is no style of outline", item.span,
                       did_you_mean(item.text, LINE_STYLES, f"one of: {', '.join(LINE_STYLES)}"),
                       "layout-unknown-word")
        return item.text

    def _zone_head(self, items: Items) -> tuple[str, str, bool]:
        name = items.name("the zone's name").text
        label = items.label(name.replace("-", " ").capitalize())
        return name, label, items.word("both")

    def _add_zone(self, name: str, label: str, both: bool,
                  ranges: dict[str, tuple[float, float]], fact: Fact) -> None:
        for axis in ranges.values():
            self._within(axis, fact.span)
        wanted = [(name, label, ranges)]
        if both:
            if swap_sides(name) == name:
                raise bad(f"a zone on both sides needs 'left' or 'right' in its name, "
                           f"'{name}' has neither", fact.span, f"call it left-{name}")
            low, high = ranges["y"]
            wanted.append((swap_sides(name), swap_sides(label), ranges | {"y": (-high, -low)}))
        for each_name, each_label, each_ranges in wanted:
            known = self.zones.get(each_name)
            if known is None:
                known = self.zones[each_name] = _Zone(each_name, each_label, fact.span)
            elif set(known.ranges) & (set(each_ranges) - {"x"}):
                self.diagnostics.append(
                    Diagnostic(Severity.ERROR, "layout-duplicate",
                               f"the zone '{each_name}' is there already", fact.span,
                               "give it another name, or delete one",
                               (Related("first defined here", known.span),)))
                continue
            known.ranges.update(each_ranges)

    def _positive(self, items: Items, what: str) -> float:
        item = items.peek()
        length = items.length_mm(what)
        if length <= 0 and item is not None:
            raise bad(f"{what} must be more than nothing", item.span)
        return length

    def _two_sided(self, y: float, fact: Fact) -> None:
        if y == 0:
            raise bad("a wheel on the centre line has no twin on the other side", fact.span,
                       "leave 'both' out")

    def _within(self, point: Iterable[float], span: Span) -> None:
        for value in point:
            if not math.isfinite(value) or abs(value) > MAX_MM:
                raise bad(f"this lies {abs(value) / 1000:,.0f} m from the front bumper", span,
                           "is the scale right? 'scale 1 unit = 2.54 mm' says how long one unit "
                           "of the view is", "layout-scale")


def build_layout(facts: Sequence[Fact], path: str = "") -> tuple[Layout | None, list[Diagnostic]]:
    """Return the layout that the facts of one file describe, and every mistake found in them.

    The layout is None when there is nothing to draw.
    """
    builder = _Builder()
    heads = [fact for fact in facts if fact.word == "layout"]
    for fact in facts:
        if fact.word != "layout":
            builder.diagnostics.append(
                bad(f"'{fact.word}' does not belong into a layout file", fact.head.span,
                     did_you_mean(fact.word, ["layout"], "a layout file holds one 'layout' fact"),
                     "layout-unknown-word").diagnostic)
    for fact in heads[1:]:
        builder.diagnostics.append(
            Diagnostic(Severity.ERROR, "layout-duplicate", "a file holds one layout", fact.span,
                       "put the second one into a file of its own",
                       (Related("the first is here", heads[0].span),)))
    if not heads:
        if not builder.diagnostics:
            builder.diagnostics.append(
                bad("the file holds no layout", Span(path, 1, 1, 2),
                     'begin with: layout my-car "My car" { view side { ... } }',
                     "layout-missing").diagnostic)
        return None, builder.diagnostics
    head = heads[0]
    items = Items(head, 'layout NAME "label" { ... }')
    try:
        name = items.name("the layout's name").text
        label = items.label(name)
        items.done()
    except BadFact as found:
        return None, [*builder.diagnostics, found.diagnostic]
    builder.each(
        head.block or (),
        {
            "drive": builder.read_drive,
            "view": builder.read_view,
            "wheel": builder.read_wheel,
            "zone": builder.read_zone,
        },
        "a layout",
    )
    if not builder.outlines:
        if not builder.diagnostics:  # else its outlines were there, but wrong
            builder.diagnostics.append(
                bad(f"the layout '{name}' draws nothing", head.span,
                     "give it a view with an outline: view side { outline body { points ... } }",
                     "layout-missing").diagnostic)
        return None, builder.diagnostics
    layout = Layout(name, label, builder.drive, tuple(builder.outlines), tuple(builder.wheels),
                    {}, tuple(builder.backdrops), False, path)
    zones = {zone.name: _finish_zone(zone, layout) for zone in builder.zones.values()}
    return Layout(name, label, builder.drive, layout.outlines, layout.wheels, zones,
                  layout.backdrops, False, path), builder.diagnostics


def _finish_zone(zone: _Zone, layout: Layout) -> Zone:
    """An axis that no view shows is taken over the whole body."""
    x = zone.ranges["x"]
    ranges = []
    for axis, view in (("y", View.PLAN), ("z", View.SIDE)):
        if axis in zone.ranges:
            ranges.append(zone.ranges[axis])
        elif view in layout.views:
            _, low, _, high = layout.bounds_mm(view)
            ranges.append((low, high))
        else:
            ranges.append((0.0, 0.0))
    (ay, by), (az, bz) = ranges
    return Zone(zone.name, zone.label, (x[0], ay, az), (x[1], by, bz), zone.span)
