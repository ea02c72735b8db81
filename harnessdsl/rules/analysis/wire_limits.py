"""Which fuse a wire's area allows.

The current that a wire carries for good is that of DIN VDE 0298-4, single-core PVC, conductor at
70 C, for 30 and 50 C around it (also in handbooks of vehicle electrics); 0.5 mm2 at 30 C is from
memory, the areas below that and beside the table follow its trend.
"""

from __future__ import annotations

import math
from bisect import bisect_left

from harnessdsl.electric.heating import ALUMINIUM_SHARE, AT_30_C_A
from harnessdsl.electric.heating import AREAS_MM2 as AREAS_MM2

_AT_50_C_A = (8.5, 10.6, 13.5, 17.0, 22.7, 29.8, 38.3, 51.8, 69.6, 91.6, 112.0, 140.0, 174.0,
              207.0, 244.0)

ROUNDING = 1.025
"""Ratings come in steps: 100 A counts as 98 A (16 mm2 at 30 C) for the wire."""
THIN_MM2 = 1.0
"""Thinner wires lie deep in the loom and have little copper to heat up, so that the 50 C column
holds for them; thicker ones may go up to the 30 C column."""
RATINGS_A = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0,
             70.0, 80.0, 100.0, 125.0, 150.0, 175.0, 200.0, 250.0, 300.0)
"""Ratings on sale, of blade and bolted fuses together."""
LINK_AREA_RATIO = 2.5
"""A fusible link protects wires of this many times its area: four gauge numbers, ratio 2.53."""


def _along(area_mm2: float, amperes: tuple[float, ...]) -> float:
    """Return the table's value, between its rows on a straight line in logarithms."""
    index = min(max(bisect_left(AREAS_MM2, area_mm2), 1), len(AREAS_MM2) - 1)
    x0, x1 = AREAS_MM2[index - 1], AREAS_MM2[index]
    y0, y1 = amperes[index - 1], amperes[index]
    share = math.log(area_mm2 / x0) / math.log(x1 / x0)
    return y0 * math.exp(share * math.log(y1 / y0))


def continuous_a(area_mm2: float, ambient_c: int = 30, material: str = "copper") -> float:
    """Return the continuous current in amperes of a wire of `area_mm2` at 30 or 50 C."""
    table = {30: AT_30_C_A, 50: _AT_50_C_A}[ambient_c]
    share = ALUMINIUM_SHARE if material == "aluminium" else 1.0
    return _along(area_mm2, table) * share


def fuse_limit_a(area_mm2: float, material: str = "copper") -> float:
    """Return the largest rating in amperes that should protect a wire of `area_mm2`."""
    ambient_c = 50 if area_mm2 < THIN_MM2 else 30
    return continuous_a(area_mm2, ambient_c, material) * ROUNDING


def fuse_ceiling_a(area_mm2: float, material: str = "copper") -> float:
    """Return the rating in amperes above which the wire burns before the fuse goes."""
    return continuous_a(area_mm2, 30, material) * ROUNDING


def largest_fuse_a(area_mm2: float, material: str = "copper") -> float:
    """Return the largest rating that one can buy within `fuse_limit_a`, in amperes."""
    limit = fuse_limit_a(area_mm2, material)
    return max((rating for rating in RATINGS_A if rating <= limit), default=limit)


def link_rating_a(area_mm2: float) -> float:
    """Return what a fusible link of `area_mm2` counts as, as a fuse's rating in amperes."""
    return continuous_a(LINK_AREA_RATIO * area_mm2)
