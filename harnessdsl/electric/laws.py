"""The laws of the elements over arrays: current and slope at a voltage, and limited steps.

Each family of laws takes its parameters as an array of shape (parameters, elements, 1) and
voltages of shape (elements, columns), a column being one state of the network.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import wrightomega

from harnessdsl.electric.elements import (
    ALTERNATOR_KNEE_A,
    ALTERNATOR_OWN_S,
    CELL_KNEE_V,
    DIODE_LEAK_S,
    FILAMENT_EXPONENT,
    MOTOR_KNEE_V,
    Alternator,
    Cell,
    Filament,
    Junction,
    Law,
    Motor,
)

Array = NDArray[np.float64]
_EXPONENT_CAP = 80.0
_HALF_POWER = (FILAMENT_EXPONENT - 1) / 2


def _ramp(x: Array, knee: float) -> tuple[Array, Array]:
    """Return max(x, 0) with its corner rounded over about `knee`, and the slope.

    Written so that nothing cancels on either side of the corner.
    """
    root = np.sqrt(x * x + 4 * knee * knee)
    rise = np.where(x >= 0, 0.5 * (x + root), 2 * knee * knee / (root + np.abs(x)))
    return rise, rise / root


def _cell(p: Array, u: Array) -> tuple[Array, Array]:
    emf, giving, taking = p
    x = emf - u
    rise, slope = _ramp(x, CELL_KNEE_V)
    extra = giving - taking
    return -(taking * x + extra * rise), taking + extra * slope


def _alternator(p: Array, u: Array) -> tuple[Array, Array]:
    regulated, siemens, limit = p
    x = (regulated - u) * siemens
    low, low_slope = _ramp(x, ALTERNATOR_KNEE_A)
    high, high_slope = _ramp(x - limit, ALTERNATOR_KNEE_A)
    own = np.where(limit > 0, ALTERNATOR_OWN_S, 0.0)
    return high - low + own * u, np.maximum(low_slope - high_slope, 0.0) * siemens + own


def _filament(p: Array, u: Array) -> tuple[Array, Array]:
    factor, cold2 = p
    u2 = u * u
    total = u2 + cold2
    siemens = factor * total**_HALF_POWER
    return siemens * u, siemens * (1 + 2 * _HALF_POWER * u2 / total)


def _junction(p: Array, u: Array) -> tuple[Array, Array]:
    saturation, slope_v = p
    x = u / slope_v
    over = np.maximum(x - _EXPONENT_CAP, 0.0)
    grown = np.exp(np.minimum(x, _EXPONENT_CAP)) * saturation
    return (grown * (1 + over) - saturation + DIODE_LEAK_S * u,
            grown / slope_v + DIODE_LEAK_S)


def _motor(p: Array, u: Array) -> tuple[Array, Array]:
    still, lost, starting = p
    ahead, ahead_slope = _ramp(u - starting, MOTOR_KNEE_V)
    back, back_slope = _ramp(-u - starting, MOTOR_KNEE_V)
    return (still * u - lost * (ahead - back), still - lost * (ahead_slope + back_slope))


def _limit_junction(p: Array, old: Array, new: Array) -> Array:
    """Keep the exponential from running away: steps are logarithmic above the knee, scaled with
    n*Vt (the usual junction limiting of circuit simulators)."""
    saturation, slope_v = p
    critical = slope_v * np.log(slope_v / (1.4142135623730951 * saturation))
    wild = (new > critical) & (np.abs(new - old) > 2 * slope_v)
    if not wild.any():
        return new
    grown = 1 + (new - old) / slope_v
    from_on = np.where(grown > 0, old + slope_v * np.log(np.maximum(grown, 1e-300)), critical)
    from_off = slope_v * np.log(np.maximum(new / slope_v, 1e-300))
    return np.where(wild, np.where(old > 0, from_on, from_off), new)


BEHIND_STEPS = 2


def _junction_behind(p: Array, across: Array, ohm: Array) -> Array:
    """Return the voltage of a junction behind `ohm` with `across` over both.

    Without leakage that is Wright's omega: ohm (i + Is) / nVt = omega((U + ohm Is) / nVt
    + ln(ohm Is / nVt)). The leakage, and the last digits, are left to Newton's method.
    """
    saturation, slope_v = p
    lost = ohm * saturation
    drop = slope_v * wrightomega((across + lost) / slope_v + np.log(lost / slope_v)) - lost
    u = across - np.maximum(drop, 0.0)
    for _ in range(BEHIND_STEPS):
        amperes, siemens = _junction(p, u)
        u = u - (u + ohm * amperes - across) / (1 + ohm * siemens)
    return np.asarray(u)


def _limit_alternator(p: Array, old: Array, new: Array) -> Array:
    """A step that jumps over the regulating band, where both sides are flat, lands inside it."""
    regulated, siemens, limit = p
    before, after = (regulated - old) * siemens, (regulated - new) * siemens
    jumps = ((before > limit) & (after < 0)) | ((before < 0) & (after > limit))
    return np.where(jumps, regulated - 0.5 * limit / siemens, new)


@dataclass(frozen=True, slots=True)
class LawFamily:
    """How one kind of law is evaluated, and how its Newton steps are limited."""

    evaluate: Callable[[Array, Array], tuple[Array, Array]]
    limit: Callable[[Array, Array, Array], Array] | None
    behind: Callable[[Array, Array, Array], Array] | None
    """Solves the element alone, behind a resistance, where single steps would be slow."""
    secant: bool
    """Whether the first step uses the chord from zero to the rated point."""
    stops: bool
    """Whether no current means no voltage: true of everything but a source."""
    off: Callable[[Array], Array]
    """The parameters of the same element, dead."""


def _without(*rows: int) -> Callable[[Array], Array]:
    def off(p: Array) -> Array:
        dead = p.copy()
        dead[list(rows)] = 0.0
        return dead

    return off


def _junction_off(p: Array) -> Array:
    dead = p.copy()
    dead[0] = 1e-200
    return dead


FAMILIES: dict[str, LawFamily] = {
    "cell": LawFamily(_cell, None, None, False, False, _without(1, 2)),
    "alternator": LawFamily(_alternator, _limit_alternator, None, False, False, _without(2)),
    "filament": LawFamily(_filament, None, None, True, True, _without(0)),
    "junction": LawFamily(_junction, _limit_junction, _junction_behind, False, True, _junction_off),
    "motor": LawFamily(_motor, None, None, True, True, _without(0, 1)),
}


def starting_voltage(law: Law) -> float:
    """Return the voltage at which the first step looks at an element."""
    match law:
        case Cell():
            return law.emf_v - 0.1
        case Alternator():
            return law.regulated_v - 0.5 * law.limit_a * law.ohm
        case Filament() | Motor():
            return law.rated_v
        case _:
            return 0.0


def rated_siemens(law: Law) -> float:
    """Return about how well an element conducts when it works."""
    match law:
        case Cell():
            return 1 / law.ohm
        case Alternator():
            return 1 / law.ohm
        case Filament():
            return law.rated_a / law.rated_v
        case Motor():
            return law.running_a / law.rated_v
        case Junction():
            return law.forward_a / (law.forward_v + law.forward_a * law.series_ohm)
        case _:
            return law.siemens
