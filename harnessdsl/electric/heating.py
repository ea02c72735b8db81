"""How hot a wire gets: in continuous use, in a bundle, and while a fuse has not yet opened.

Temperatures are in degrees Celsius, currents in amperes, areas in mm2, times in seconds. The
continuous currents are those of DIN VDE 0298-4 for single-core PVC cable (also printed in
handbooks of vehicle electrics); 0.5 mm2 is from memory, what lies beside the table follows its
trend.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from itertools import pairwise

AREAS_MM2 = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0)
AT_30_C_A = (12.0, 15.0, 19.0, 24.0, 32.0, 42.0, 54.0, 73.0, 98.0, 129.0, 158.0, 198.0, 245.0,
             292.0, 344.0)
"""Current that brings a single PVC wire from 30 to 70 C (DIN VDE 0298-4)."""
TABLE_AMBIENT_C, TABLE_CONDUCTOR_C = 30.0, 70.0

ALUMINIUM_SHARE = 0.78
"""Aluminium carries this share of what copper of the same area does: sqrt(58 / 35.4), the ratio of
the conductivities in IEC 60028 and IEC 60889 (from memory)."""

BUNDLE_FACTORS = ((1, 1.0), (3, 0.85), (5, 0.75), (7, 0.65), (10, 0.55), (14, 0.50), (19, 0.45),
                  (24, 0.40), (40, 0.35), (61, 0.30))
"""Loaded wires side by side -> factor on the current (DIN VDE 0298-4 table 26 from 5 wires up; the
table for single wires begins at 1, three is between)."""

IGNORED_SHARE = 0.3
"""A wire that carries at most this share of what it may in the bundle is not counted as loaded
(IEC 60364-5-52, 523.5, from memory)."""

COPPER_PER_K_AT_20 = 0.00393
_PER_K_AT_TABLE = COPPER_PER_K_AT_20 / (1 + COPPER_PER_K_AT_20 * (TABLE_CONDUCTOR_C - 20))
"""Rise of copper's resistance per kelvin, as a share of that at 70 C."""

COPPER_J_PER_MM3_K = 3.45e-3
"""Volumetric heat capacity of copper (IEC 60949, from memory)."""
COPPER_OHM_MM2_PER_M_AT_70 = 0.0185 * (1 + COPPER_PER_K_AT_20 * 50)

ADIABATIC_LIMIT_S = 5.0
"""Up to here no heat leaves the conductor worth counting (IEC 60949)."""


@dataclass(frozen=True, slots=True)
class Insulation:
    """What an insulation bears: `steady_c` for good, `short_c` once, for seconds."""

    name: str
    steady_c: float
    short_c: float


PVC = Insulation("PVC", 70.0, 160.0)
"""DIN VDE 0298-4 and IEC 60364-5-54; what is taken when nothing is written, as in old looms."""
XLPE = Insulation("cross-linked polyethylene", 125.0, 250.0)
"""Vehicle cable class C, 125 C (class letters of a car maker's cable specification)."""
SILICONE = Insulation("silicone", 180.0, 350.0)
RUBBER = Insulation("rubber", 60.0, 200.0)
"""IEC 60364-5-54, 60 C rubber."""
_BY_WORD = {"pvc": PVC, "xlpe": XLPE, "silicone": SILICONE, "rubber": RUBBER, "cotton": RUBBER,
            "ptfe": Insulation("PTFE", 200.0, 350.0)}


def insulation_of(word: str = "", class_c: float | None = None) -> Insulation:
    """Return what a wire's insulation bears: by its word, by the temperature of its class, else
    PVC.

    A class above 110 C is taken as cross-linked for the seconds of a short, above 150 C as
    silicone; PVC keeps 160 C whatever its class (assumed).
    """
    known = _BY_WORD.get(word)
    if class_c is None:
        return known or PVC
    if known is not None:
        return Insulation(known.name, class_c, max(known.short_c, class_c))
    base = PVC if class_c <= 110 else XLPE if class_c <= 150 else SILICONE
    return Insulation(f"{class_c:g} C class", class_c, max(base.short_c, class_c))


def table_current_a(area_mm2: float, material: str = "copper") -> float:
    """Return the current that heats a single wire from 30 to 70 C: between the table's rows on a
    straight line in logarithms. Raises ValueError for an area that is not positive."""
    if not area_mm2 > 0:
        raise ValueError(f"a wire of {area_mm2} mm2 carries nothing")
    index = min(max(bisect_left(AREAS_MM2, area_mm2), 1), len(AREAS_MM2) - 1)
    x0, x1 = AREAS_MM2[index - 1], AREAS_MM2[index]
    y0, y1 = AT_30_C_A[index - 1], AT_30_C_A[index]
    share = math.log(area_mm2 / x0) / math.log(x1 / x0)
    amperes = y0 * math.exp(share * math.log(y1 / y0))
    return amperes * (ALUMINIUM_SHARE if material == "aluminium" else 1.0)


def ambient_factor(ambient_c: float, steady_c: float = TABLE_CONDUCTOR_C) -> float:
    """Return the factor on the table's current: sqrt((limit - ambient) / 40), 0 at the limit.

    IEC 60287 / DIN VDE 0298-4; agrees with the printed factors of its table 17 for a limit of 70 C.
    """
    rise = TABLE_CONDUCTOR_C - TABLE_AMBIENT_C
    return math.sqrt(max(steady_c - ambient_c, 0.0) / rise)


def bundle_factor(loaded: int) -> float:
    """Return the factor for `loaded` wires side by side, between the table's rows on a straight
    line (1 for a wire alone)."""
    if loaded <= 1:
        return 1.0
    for (x0, y0), (x1, y1) in pairwise(BUNDLE_FACTORS):
        if loaded <= x1:
            return y0 + (y1 - y0) * (loaded - x0) / (x1 - x0)
    return BUNDLE_FACTORS[-1][1]


def may_carry_a(area_mm2: float, ambient_c: float = 30.0, loaded: int = 1,
                steady_c: float = TABLE_CONDUCTOR_C, material: str = "copper") -> float:
    """Return the continuous current of a wire by area, ambient, bundle and insulation."""
    return (table_current_a(area_mm2, material) * ambient_factor(ambient_c, steady_c)
            * bundle_factor(loaded))


def steady_c(current_a: float, area_mm2: float, ambient_c: float = 30.0, loaded: int = 1,
             material: str = "copper") -> float:
    """Return the temperature at which a wire settles, `inf` where it does not.

    The rise goes with the square of the current and with copper's resistance at the temperature
    reached: 40 K at the table's current, as the table says.
    """
    own = table_current_a(area_mm2, material) * bundle_factor(loaded)
    rise = (TABLE_CONDUCTOR_C - TABLE_AMBIENT_C) * (current_a / own) ** 2
    growth = rise * _PER_K_AT_TABLE
    if growth >= 1:
        return math.inf
    return ambient_c + rise * (1 + _PER_K_AT_TABLE * (ambient_c - TABLE_CONDUCTOR_C)) / (1 - growth)


def adiabatic_k(start_c: float, end_c: float) -> float:
    """Return k of I2t = k2 S2 for copper, in A s^0.5 / mm2: 226 sqrt(ln((234.5 + end) / (234.5 +
    start))), IEC 60949."""
    return 226.0 * math.sqrt(math.log((234.5 + end_c) / (234.5 + start_c)))


def adiabatic_s(current_a: float, area_mm2: float, start_c: float, end_c: float,
                material: str = "copper") -> float:
    """Return how long a current takes to heat a wire from `start_c` to `end_c` with no heat "
    "lost."""
    k = adiabatic_k(start_c, end_c) * (0.66 if material == "aluminium" else 1.0)
    # aluminium: 148 against 226 (IEC 60949)
    return (k * area_mm2 / current_a) ** 2 if current_a else math.inf


def heating_constant_s(area_mm2: float) -> float:
    """Return the time constant of a bare single wire that settles 40 K above its surroundings at
    the table's current. The insulation's own heat is left out: the safe side."""
    watts_per_m = table_current_a(area_mm2) ** 2 * COPPER_OHM_MM2_PER_M_AT_70 / area_mm2
    joules_per_m = 40.0 * COPPER_J_PER_MM3_K * area_mm2 * 1000.0
    return joules_per_m / watts_per_m


def heated_for_s(current_a: float, area_mm2: float, start_c: float, end_c: float,
                 ambient_c: float = 30.0, material: str = "copper") -> float:
    """Return how long a wire at `start_c` can carry a current until it is at `end_c`; `inf` when it
    settles below.

    Up to 5 s adiabatic; beyond, on the exponential that begins with the adiabatic slope.
    """
    short = adiabatic_s(current_a, area_mm2, start_c, end_c, material)
    if short <= ADIABATIC_LIMIT_S:
        return short
    final = steady_c(current_a, area_mm2, ambient_c, material=material)
    if final <= end_c:
        return math.inf
    if math.isinf(final) or start_c >= final:
        return short
    constant = heating_constant_s(area_mm2)
    return max(short, constant * math.log((final - start_c) / (final - end_c)))
