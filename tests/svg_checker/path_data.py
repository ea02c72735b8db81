"""The `d` of an SVG path as polylines, with a mark on each piece that stands for a curve."""

from __future__ import annotations

import math
import re
from itertools import pairwise

Point = tuple[float, float]

_TOKEN = re.compile(r"[MmLlHhVvCcSsQqTtAaZz]|[-+]?(?:\d*\.\d+|\d+\.?)(?:[eE][-+]?\d+)?")
_COUNT = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
CURVE_STEPS = 12


class SubPath:
    """One stretch of a path: `curved[i]` says whether the piece from point i is of a curve."""

    def __init__(self, start: Point) -> None:
        self.points: list[Point] = [start]
        self.curved: list[bool] = []
        self.closed = False

    def line_to(self, point: Point, curved: bool = False) -> None:
        self.points.append(point)
        self.curved.append(curved)


def _numbers(d: str) -> list[tuple[str, list[float]]]:
    """Return the commands with their numbers, repeated commands spelled out.

    The two flags of an arc may be written without a gap, which the token pattern cannot see;
    such paths are refused rather than misread.
    """
    commands: list[tuple[str, list[float]]] = []
    letter = ""
    numbers: list[float] = []
    tokens = _TOKEN.findall(d)
    for token in [*tokens, "end"]:
        if token == "end" or token.isalpha():
            if letter:
                count = _COUNT[letter.upper()]
                if count == 0:
                    commands.append((letter, []))
                elif not numbers or len(numbers) % count:
                    raise ValueError(f"path command {letter} with {len(numbers)} numbers: {d[:80]}")
                for i in range(0, len(numbers) if count else 0, count or 1):
                    name = letter if i == 0 else {"M": "L", "m": "l"}.get(letter, letter)
                    commands.append((name, numbers[i : i + count]))
            letter, numbers = token, []
        else:
            numbers.append(float(token))
    return commands


def _arc(start: Point, values: list[float], end: Point) -> list[Point]:
    """Return points along an elliptical arc (SVG 1.1, appendix F.6.5: end point to centre)."""
    rx, ry, turn, large, sweep = abs(values[0]), abs(values[1]), values[2], values[3], values[4]
    if rx == 0 or ry == 0 or start == end:
        return [end]
    phi = math.radians(turn)
    cos, sin = math.cos(phi), math.sin(phi)
    dx, dy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    x, y = cos * dx + sin * dy, -sin * dx + cos * dy
    grow = (x / rx) ** 2 + (y / ry) ** 2
    if grow > 1:
        rx, ry = rx * math.sqrt(grow), ry * math.sqrt(grow)
    over = max(0.0, rx**2 * ry**2 - rx**2 * y**2 - ry**2 * x**2)
    factor = math.sqrt(over / (rx**2 * y**2 + ry**2 * x**2))
    if large == sweep:
        factor = -factor
    cx, cy = factor * rx * y / ry, -factor * ry * x / rx
    centre = (
        cos * cx - sin * cy + (start[0] + end[0]) / 2,
        sin * cx + cos * cy + (start[1] + end[1]) / 2,
    )
    first = math.atan2((y - cy) / ry, (x - cx) / rx)
    delta = (math.atan2((-y - cy) / ry, (-x - cx) / rx) - first) % (2 * math.pi)
    if not sweep:
        delta -= 2 * math.pi
    points = []
    for i in range(1, CURVE_STEPS + 1):
        angle = first + delta * i / CURVE_STEPS
        px, py = rx * math.cos(angle), ry * math.sin(angle)
        points.append((cos * px - sin * py + centre[0], sin * px + cos * py + centre[1]))
    points[-1] = end
    return points


def _bezier(*control: Point) -> list[Point]:
    points = []
    for i in range(1, CURVE_STEPS + 1):
        t = i / CURVE_STEPS
        layer = list(control)
        while len(layer) > 1:  # de Casteljau
            layer = [
                (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t) for a, b in pairwise(layer)
            ]
        points.append(layer[0])
    return points


def sub_paths(d: str) -> list[SubPath]:
    """Return the stretches of the path `d` in its own coordinates; raises ValueError."""
    found: list[SubPath] = []
    here: Point = (0.0, 0.0)
    start: Point = here
    handle: tuple[str, Point] = ("", here)
    for letter, values in _numbers(d):
        command = letter.upper()
        ox, oy = here if letter.islower() else (0.0, 0.0)
        if command == "M":
            here = start = (values[0] + ox, values[1] + oy)
            found.append(SubPath(here))
            continue
        if not found:
            raise ValueError(f"path does not begin with a move: {d[:80]}")
        if command != "Z" and found[-1].closed:
            found.append(SubPath(here))
        path = found[-1]
        if command == "Z":
            path.line_to(start)
            path.closed = True
            here = start
            continue
        if command == "H":
            end = (values[0] + ox, here[1])
        elif command == "V":
            end = (here[0], values[0] + oy)
        else:
            end = (values[-2] + ox, values[-1] + oy)
        pairs = [(values[i] + ox, values[i + 1] + oy) for i in range(0, len(values) - 1, 2)]
        if command in "LHV":
            path.line_to(end)
        elif command == "A":
            for point in _arc(here, values, end):
                path.line_to(point, curved=True)
        else:
            mirrored = here
            if command in "ST" and handle[0] == {"S": "C", "T": "Q"}[command]:
                mirrored = (2 * here[0] - handle[1][0], 2 * here[1] - handle[1][1])
            control = {"C": pairs, "Q": pairs, "S": [mirrored, *pairs], "T": [mirrored, end]}[
                command
            ]
            for point in _bezier(here, *control):
                path.line_to(point, curved=True)
            handle = ({"S": "C", "T": "Q"}.get(command, command), control[-2])
        if command in "LHVA":
            handle = ("", end)
        here = end
    return found
