"""A vehicle body as drawn on locator maps: outlines, wheels and zones in millimetres.

The axes are those of places: x back from the front bumper, y to the right, z up from the ground.
Outlines are two-dimensional: plan points are (x, y) seen from above, side points (x, z) seen from
the left.
"""

from __future__ import annotations

import enum
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from harnessdsl.text import NOWHERE, Span

Point3 = tuple[float, float, float]


class View(enum.StrEnum):
    """How one looks at the vehicle."""

    PLAN = "plan"
    SIDE = "side"


class Drive(enum.StrEnum):
    """Where the steering wheel is."""

    LEFT = "left"
    RIGHT = "right"
    CENTRE = "centre"

    @property
    def other(self) -> Drive:
        return {Drive.LEFT: Drive.RIGHT, Drive.RIGHT: Drive.LEFT}.get(self, self)


LINE_STYLES = ("body", "glass", "panel", "seat", "metal", "lamp", "hidden", "trim")
"""What an outline stands for; the drawing decides how each looks."""

OPEN_STYLES = frozenset({"panel", "hidden"})
"""Styles that are open lines unless the file says `closed`."""


@dataclass(frozen=True, slots=True)
class Outline:
    """One line of a view, already flattened to short straight pieces."""

    view: View
    style: str
    points_mm: tuple[tuple[float, float], ...]
    closed: bool = False
    side: str = ""
    """'left' or 'right' when it is on that flank only, so that a side view can hide it."""


@dataclass(frozen=True, slots=True)
class Wheel:
    """A road wheel; `exposed` when no bodywork covers it from above."""

    name: str
    centre_mm: Point3
    radius_mm: float
    width_mm: float
    exposed: bool = False


@dataclass(frozen=True, slots=True)
class Zone:
    """A named region of the body, a box from its least to its greatest corner."""

    name: str
    label: str
    least_mm: Point3
    greatest_mm: Point3
    span: Span = NOWHERE

    @property
    def centre_mm(self) -> Point3:
        (ax, ay, az), (bx, by, bz) = self.least_mm, self.greatest_mm
        return ((ax + bx) / 2, (ay + by) / 2, (az + bz) / 2)


@dataclass(frozen=True, slots=True)
class Backdrop:
    """A picture behind a view: the path as written and its corners in view millimetres."""

    view: View
    path: str
    top_left_mm: tuple[float, float]
    bottom_right_mm: tuple[float, float]
    span: Span = NOWHERE


@dataclass(frozen=True, slots=True)
class Layout:
    """One body. Mappings keep the order of the file."""

    name: str
    label: str
    drive: Drive = Drive.CENTRE
    outlines: tuple[Outline, ...] = ()
    wheels: tuple[Wheel, ...] = ()
    zones: Mapping[str, Zone] = field(default_factory=dict)
    backdrops: tuple[Backdrop, ...] = ()
    mirrored: bool = False
    """True when it is the mirror image of what the file draws."""
    path: str = ""
    """The file it came from; pictures are found beside it."""

    @property
    def views(self) -> tuple[View, ...]:
        """The views that have something drawn in them, plan first."""
        drawn = {outline.view for outline in self.outlines}
        return tuple(view for view in View if view in drawn)

    def bounds_mm(self, view: View) -> tuple[float, float, float, float]:
        """Return (least a, least b, greatest a, greatest b) of a view: a is x, b is y or z."""
        points = [point for line in self.outlines if line.view is view for point in line.points_mm]
        for wheel in self.wheels:
            x, y, z = wheel.centre_mm
            b, reach = (y, wheel.width_mm / 2) if view is View.PLAN else (z, wheel.radius_mm)
            points += [(x - wheel.radius_mm, b - reach), (x + wheel.radius_mm, b + reach)]
        if not points:
            raise ValueError(f"the layout has no {view} view")
        across = [point[0] for point in points]
        along = [point[1] for point in points]
        return min(across), min(along), max(across), max(along)

    def mirror(self) -> Layout:
        """Return the body with left and right exchanged, as the other market built it.

        Geometry changes sides; a zone that is now on the other side takes that side's name, so
        `left-footwell` is always on the left, while `steering-column` moves with the wheel.
        """
        zones = {}
        for zone in self.zones.values():
            (ax, ay, az), (bx, by, bz) = zone.least_mm, zone.greatest_mm
            name = swap_sides(zone.name)
            zones[name] = Zone(
                name, swap_sides(zone.label), (ax, -by, az), (bx, -ay, bz), zone.span
            )
        return replace(
            self,
            drive=self.drive.other,
            outlines=tuple(
                replace(
                    line,
                    points_mm=tuple((x, -y) for x, y in line.points_mm)
                    if line.view is View.PLAN
                    else line.points_mm,
                    side=swap_sides(line.side),
                )
                for line in self.outlines
            ),
            wheels=tuple(
                replace(
                    wheel,
                    name=swap_sides(wheel.name),
                    centre_mm=(wheel.centre_mm[0], -wheel.centre_mm[1], wheel.centre_mm[2]),
                )
                for wheel in self.wheels
            ),
            zones={name: zones[name] for name in self.zones if name in zones}
            | {name: zone for name, zone in zones.items() if name not in self.zones},
            backdrops=(),
            mirrored=not self.mirrored,
        )

    def zone(self, word: str) -> Zone | None:
        """Return the zone called `word`, whatever the order of its words (`dash-left`) and
        whichever side of the ocean they are from (`left-fender`)."""
        found = self.zones.get(word)
        if found is not None:
            return found
        wanted = _zone_words(word)
        for zone in self.zones.values():
            if _zone_words(zone.name) == wanted:
                return zone
        return None


_SIDES = {"left": "right", "right": "left", "Left": "Right", "Right": "Left"}


def swap_sides(text: str) -> str:
    """Return `text` with the words left and right exchanged; other words stay."""
    words: list[str] = []
    word = ""
    for character in text:
        if character.isalnum():
            word += character
            continue
        words += [_SIDES.get(word, word), character]
        word = ""
    return "".join([*words, _SIDES.get(word, word)])


_SAME_WORD = {
    "trunk": "boot",
    "fender": "wing",
    "hood": "bonnet",
    "firewall": "bulkhead",
    "rocker": "sill",
    "dashboard": "dash",
    "fascia": "dash",
    "middle": "centre",
    "center": "centre",
    "rear-gate": "tailgate",
    "liftgate": "tailgate",
    "hatch": "tailgate",
    "glovebox": "glove-box",
    "underfloor": "under-floor",
    "headlight": "headlamp",
    "taillight": "tail-lamp",
    "taillamp": "tail-lamp",
    "lh": "left",
    "rh": "right",
    "enginebay": "engine-bay",
    "transmission": "gearbox",
    "interior": "cabin",
}
"""Words for one thing in the trade, on either side of the ocean."""


def _zone_words(name: str) -> tuple[str, ...]:
    words: list[str] = []
    for word in name.casefold().replace("_", "-").split("-"):
        words += _SAME_WORD.get(word, word).split("-")
    return tuple(sorted(word for word in words if word))
