"""A vehicle body as shapes on paper: the backdrop of every locator map.

The front is always to the left. In the plan the left-hand side of the vehicle is at the bottom,
the side that faces the viewer in the side view above it. Sides are exchanged in the layout's
numbers, never by turning shapes over, so text is never mirrored.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from harnessdsl.drawing.scene import Circle, Group, Polyline, Rect, Shape, Style
from harnessdsl.model.layout import Layout, Outline, Point3, View, Wheel

_STYLES = {
    "body": Style("#4a4f55", 0.4, "#f6f6f3"),
    "glass": Style("#7f8b95", 0.2, "#e3edf2"),
    "panel": Style("#9aa0a6", 0.18),
    "seat": Style("#b4b4ae", 0.18, "#eceae4"),
    "metal": Style("#8d8d88", 0.2, "#e4e3de"),
    "lamp": Style("#8d8d88", 0.2, "#fbf3d4"),
    "trim": Style("#6d7176", 0.18, "#c9cccf"),
    "hidden": Style("#a8a8a3", 0.18, "none", (1.2, 0.9)),
}
_FAR_SIDE = Style("#b4b8bb", 0.18, "none", (1.2, 0.9))
_TYRE = Style("#4a4f55", 0.3, "#8b8f93")
_RIM = Style("#6d7176", 0.2, "#e4e6e8")
_SPOKE = Style("#a8a8a3", 0.12)
_TYRE_BELOW = Style("#a8a8a3", 0.18, "none", (1.2, 0.9))


@dataclass(frozen=True, slots=True)
class MapFrame:
    """How millimetres on the vehicle become millimetres on paper in one view."""

    view: View
    left: float
    """Paper x of vehicle x = 0."""
    base: float
    """Paper y of vehicle y = 0 (plan) or z = 0 (side)."""
    scale: float
    """Paper millimetres for one vehicle millimetre: 0.04 is 1:25."""

    def at(self, position_mm: Point3) -> tuple[float, float]:
        """Return where a point of the vehicle lies on paper."""
        x, y, z = position_mm
        return self.flat((x, y if self.view is View.PLAN else z))

    def flat(self, point_mm: tuple[float, float]) -> tuple[float, float]:
        """Return where a point of the view lies on paper."""
        return (self.left + point_mm[0] * self.scale, self.base - point_mm[1] * self.scale)


def body_shapes(layout: Layout, frame: MapFrame) -> Group:
    """Return the outline of one view."""
    shapes: list[Shape] = []
    if frame.view is View.PLAN:
        shapes += [_wheel_from_above(layout, index, frame) for index in _wheels(layout, True)]
    lines = [line for line in layout.outlines if line.view is frame.view]
    shapes += [_outline(line, frame) for line in lines]
    if frame.view is View.PLAN:
        shapes += [_wheel_from_above(layout, index, frame) for index in _wheels(layout, False)]
    else:
        shapes += _wheels_from_the_side(layout, frame)
    return Group(
        tuple(shapes),
        css="body",
        data={
            "view": str(frame.view),
            "layout": layout.name,
            "mirrored": "yes" if layout.mirrored else "no",
            "left": f"{frame.left:.3f}",
            "base": f"{frame.base:.3f}",
            "scale": f"{frame.scale:.6f}",
        },
    )


def _outline(line: Outline, frame: MapFrame) -> Polyline:
    style = _STYLES[line.style]
    if frame.view is View.SIDE and line.side == "right":
        style = _FAR_SIDE  # on the flank that one does not see
    elif not line.closed:
        style = replace(style, fill="none")
    return Polyline(tuple(frame.flat(point) for point in line.points_mm), style, line.closed)


def _wheels(layout: Layout, exposed: bool) -> list[int]:
    return [index for index, wheel in enumerate(layout.wheels) if wheel.exposed is exposed]


def _wheel_from_above(layout: Layout, index: int, frame: MapFrame) -> Rect:
    wheel = layout.wheels[index]
    x, y, _ = wheel.centre_mm
    left, top = frame.flat((x - wheel.radius_mm, y + wheel.width_mm / 2))
    width, height = 2 * wheel.radius_mm * frame.scale, wheel.width_mm * frame.scale
    style = _TYRE if wheel.exposed else _TYRE_BELOW
    return Rect(left, top, width, height, style, radius_mm=min(width, height) * 0.28)


def _wheels_from_the_side(layout: Layout, frame: MapFrame) -> list[Shape]:
    """Wheels that stand one behind the other are drawn once."""
    shapes: list[Shape] = []
    drawn: set[tuple[float, float]] = set()
    for wheel in sorted(layout.wheels, key=lambda each: -each.centre_mm[1]):
        key = (round(wheel.centre_mm[0]), round(wheel.radius_mm))
        if key in drawn:
            continue
        drawn.add(key)
        shapes += _wheel_from_the_side(wheel, frame)
    return shapes


def _wheel_from_the_side(wheel: Wheel, frame: MapFrame) -> list[Shape]:
    x, y = frame.at(wheel.centre_mm)
    radius = wheel.radius_mm * frame.scale
    rim = (wheel.radius_mm - min(0.38 * wheel.radius_mm, 0.63 * wheel.width_mm)) * frame.scale
    hub = radius * 0.16
    if wheel.width_mm > 0.4 * wheel.radius_mm:
        return [
            Circle(x, y, radius, _TYRE),
            Circle(x, y, rim, _RIM),
            Circle(x, y, hub, _RIM),
        ]
    # a narrow wheel has spokes, and one looks through it
    shapes: list[Shape] = [
        Circle(x, y, (radius + rim) / 2, replace(_TYRE, stroke=_TYRE.fill, stroke_mm=radius - rim,
                                                 fill="none")),
        Circle(x, y, radius, replace(_TYRE, fill="none")),
        Circle(x, y, rim, replace(_RIM, fill="none")),
    ]
    for spoke in range(20):
        angle = math.tau * spoke / 20
        lean = angle + (0.5 if spoke % 2 else -0.5)
        shapes.append(
            Polyline(
                (
                    (x + hub * math.cos(lean), y + hub * math.sin(lean)),
                    (x + rim * math.cos(angle), y + rim * math.sin(angle)),
                ),
                _SPOKE,
            )
        )
    return [*shapes, Circle(x, y, hub, _RIM)]
