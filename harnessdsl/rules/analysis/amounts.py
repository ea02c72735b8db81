"""How figures are written in messages: two or three digits, a unit, no more."""

from __future__ import annotations

import math

from harnessdsl.electric.study import AT_REST, PARKED, Study
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.wording import area_words


def amperes(value: float) -> str:
    """Return `13.6 A`, `157 A` or `143 mA`."""
    value = abs(value)
    if value < 0.2995:
        milli = value * 1000
        return f"{milli:.0f} mA" if milli >= 9.95 else f"{milli:.2g} mA"
    return f"{value:.0f} A" if value >= 99.5 else f"{value:.3g} A"


def volts(value: float) -> str:
    """Return `12.4 V` or `0.31 V`."""
    value = abs(value)
    return f"{value:.2f} V" if value < 2 else f"{value:.1f} V"


def celsius(value: float) -> str:
    """Return `83 C`, or what to say of a wire that never settles."""
    return "no end" if math.isinf(value) else f"{value:.0f} C"


def seconds(value: float) -> str:
    """Return `0.4 s`, `12 s`, `30 min`, or `never`."""
    if math.isinf(value):
        return "never"
    if value >= 90:
        return f"{value / 60:.0f} min"
    return f"{value:.2g} s"


def in_condition(study: Study, name: str) -> str:
    """Return how a condition is named within a sentence."""
    if name in study.vehicle.conditions:
        return f"in '{name}'"
    return "with everything at rest" if name in (AT_REST, PARKED) else f"with {name}"


def sentence(text: str) -> str:
    """Return text that begins a sentence: the first letter large, names left as they are."""
    return text[:1].upper() + text[1:]


def size_words(wire: Wire) -> str:
    """Return `1 mm2, 6.9 m`."""
    length = f", {wire.length_m:.3g} m" if wire.length_m else ""
    return f"{area_words(wire)}{length}"
