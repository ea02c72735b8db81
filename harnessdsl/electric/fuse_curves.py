"""How long a fuse, link or breaker carries a current: the time bands of the standards.

Times are in seconds at 23 C. A band says that between `shortest_s` and `longest_s` it opens; what
happens between two rows of a table is interpolated on logarithmic scales.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

FOREVER_S = math.inf


@dataclass(frozen=True, slots=True)
class Band:
    """Opening time at one current."""

    shortest_s: float
    longest_s: float

    @property
    def opens(self) -> bool:
        """Whether it opens in any case, sooner or later."""
        return self.longest_s < FOREVER_S

    @property
    def may_open(self) -> bool:
        return self.shortest_s < FOREVER_S

    def text(self) -> str:
        """Say the band in words a person would use."""
        if not self.may_open:
            return "carries it for good"
        if not self.opens:
            return f"may open after {_time(self.shortest_s)} or never"
        return f"opens within {_time(self.shortest_s)} to {_time(self.longest_s)}"


def _time(seconds: float) -> str:
    for size, unit in ((3600.0, "h"), (60.0, "min")):
        if seconds >= 1.5 * size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds:.2g} s"


@dataclass(frozen=True, slots=True)
class FuseCurve:
    """A family of fuses: rows of (current as a multiple of the rating, shortest, longest time).

    Below the first row it carries the current for good; the last row's shortest and longest times
    go on falling with the square of the current, as the heat of a short does.
    """

    name: str
    source: str
    rows: tuple[tuple[float, float, float], ...]

    @property
    def carries(self) -> float:
        """The largest multiple of the rating that it carries for good."""
        return self.rows[0][0]

    @property
    def opens_above(self) -> float:
        """The smallest multiple of the rating at which it opens in any case."""
        return next(multiple for multiple, _, longest in self.rows if longest < FOREVER_S)

    def band(self, multiple: float) -> Band:
        """Return the band at `multiple` times the rating."""
        if multiple <= self.carries:
            return Band(FOREVER_S, FOREVER_S)
        last_multiple, last_short, last_long = self.rows[-1]
        if multiple >= last_multiple:
            fall = (last_multiple / multiple) ** 2
            return Band(last_short * fall, last_long * fall)
        for (x0, s0, l0), (x1, s1, l1) in zip(self.rows, self.rows[1:], strict=False):
            if multiple <= x1:
                share = math.log(multiple / x0) / math.log(x1 / x0)
                longest = l1 if multiple == x1 else _between(l0, l1, share)
                return Band(_between(s0, s1, share), longest)
        raise AssertionError("rows are ascending")


def _between(first: float, second: float, share: float) -> float:
    if math.isinf(first):
        return FOREVER_S
    return math.exp(math.log(first) * (1 - share) + math.log(second) * share)


_H100 = 360_000.0
_BLADE_SOURCE = (
    "ISO 8820-3 type C and F, SAE J1284/J2077, from memory; the longest times at 2, 3.5 and 6 "
    "times from a relay and fuse data sheet quoting ISO 8820-3. At 1.35 times the longest time "
    "found is 1800 s there and 600 s from memory: the slower one is taken, the safe side for "
    "the wire")

BLADE = FuseCurve("blade fuse, regular", _BLADE_SOURCE, (
    (1.10, _H100, FOREVER_S), (1.35, 0.75, 1800.0), (1.60, 0.25, 50.0), (2.00, 0.15, 5.0),
    (3.50, 0.04, 0.5), (6.00, 0.02, 0.1)))
MINI = FuseCurve("blade fuse, mini", _BLADE_SOURCE, BLADE.rows)
MAXI = FuseCurve("blade fuse, maxi", "ISO 8820-3 type E, SAE J1888, from memory", (
    (1.10, _H100, FOREVER_S), (1.35, 60.0, 1800.0), (2.00, 2.0, 60.0), (3.50, 0.2, 7.0),
    (6.00, 0.04, 1.0)))
TORPEDO = FuseCurve(
    "torpedo fuse", "DIN 72581-1: carries 1.5 times its rating for an hour and opens within an "
    "hour at about 1.8 times; from memory, low confidence", (
        (1.50, 3600.0, FOREVER_S), (1.80, 10.0, 3600.0), (2.50, 0.5, 30.0), (4.00, 0.1, 2.0),
        (6.00, 0.03, 0.5)))
GLASS = FuseCurve(
    "glass fuse", "quarter-inch glass fuses: carry 1.1 times, open within an hour at 1.35 times "
    "and within 2 minutes at twice the rating (UL 248-14 figures as a fuse guide gives them)", (
        (1.10, 14_400.0, FOREVER_S), (1.35, 5.0, 3600.0), (2.00, 0.5, 120.0), (4.00, 0.05, 2.0),
        (6.00, 0.02, 0.5)))
STRIP = FuseCurve(
    "strip fuse", "DIN 72581-2 style bolted strips; from memory, low confidence", (
        (1.10, _H100, FOREVER_S), (1.35, 60.0, 3600.0), (2.00, 3.0, 120.0), (3.50, 0.3, 7.0),
        (6.00, 0.1, 1.0)))
LINK = FuseCurve(
    "fusible link", "a link is slow by design; the band is common practice, no source", (
        (1.20, _H100, FOREVER_S), (2.00, 30.0, 1800.0), (3.50, 2.0, 30.0), (6.00, 0.4, 5.0),
        (10.0, 0.1, 1.5)))
BREAKER = FuseCurve(
    "thermal breaker", "SAE J553 style thermal breakers: hold 1.0 times, trip within an hour at "
    "1.35 times and within 2 minutes at twice the rating; from memory, low confidence", (
        (1.05, 3600.0, FOREVER_S), (1.35, 10.0, 3600.0), (2.00, 3.0, 120.0), (4.00, 0.5, 15.0),
        (6.00, 0.2, 6.0)))

_BY_WORD = (("mini", MINI), ("maxi", MAXI), ("torpedo", TORPEDO), ("glass", GLASS),
            ("strip", STRIP), ("midi", STRIP), ("mega", STRIP), ("link", LINK),
            ("breaker", BREAKER))


def curve_of(primitive_type: str, kind_name: str, fits: tuple[str, ...] = ()) -> FuseCurve:
    """Return the curve of a protection part: by its primitive, then by the name of its kind or of
    the slot that it fits. A fuse that says nothing of the sort is a regular blade fuse."""
    if primitive_type == "link":
        return LINK
    if primitive_type == "breaker":
        return BREAKER
    for name in (*fits, kind_name):
        for word, curve in _BY_WORD:
            if word in name:
                return curve
    return BLADE


BLADE_COLD_MOHM = ((1.0, 123.0), (2.0, 53.0), (3.0, 31.0), (5.0, 17.9), (7.5, 10.9), (10.0, 7.7),
                   (15.0, 4.8), (20.0, 3.4), (25.0, 2.5), (30.0, 2.0), (40.0, 1.4))
"""Cold resistance of regular blade fuses by rating (a fuse data sheet, from memory, low
confidence: the order is right, the digits are unverified)."""


def fuse_ohm(rating_a: float) -> float:
    """Return the cold resistance of a fuse in ohm: by the table, between its rows on logarithmic
    scales, and outside of them in proportion to 1 / rating."""
    table = BLADE_COLD_MOHM
    if rating_a <= table[0][0]:
        return table[0][1] * 1e-3 * table[0][0] / rating_a
    for (x0, y0), (x1, y1) in pairwise(table):
        if rating_a <= x1:
            share = math.log(rating_a / x0) / math.log(x1 / x0)
            return math.exp(math.log(y0) * (1 - share) + math.log(y1) * share) * 1e-3
    return table[-1][1] * 1e-3 * table[-1][0] / rating_a
