"""Quantities with their units: the one table of units of the language."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as written, the dimension it belongs to, and value = factor * number + offset."""

    dimension: str
    base: str
    factor: float
    offset: float = 0.0


_UNITS = {
    "A": Unit("current", "A", 1.0),
    "mA": Unit("current", "A", 1e-3),
    "uA": Unit("current", "A", 1e-6),
    "kA": Unit("current", "A", 1e3),
    "V": Unit("voltage", "V", 1.0),
    "mV": Unit("voltage", "V", 1e-3),
    "kV": Unit("voltage", "V", 1e3),
    "ohm": Unit("resistance", "ohm", 1.0),
    "mohm": Unit("resistance", "ohm", 1e-3),
    "uohm": Unit("resistance", "ohm", 1e-6),
    "kohm": Unit("resistance", "ohm", 1e3),
    "Mohm": Unit("resistance", "ohm", 1e6),
    "W": Unit("power", "W", 1.0),
    "kW": Unit("power", "W", 1e3),
    "m": Unit("length", "m", 1.0),
    "cm": Unit("length", "m", 1e-2),
    "mm": Unit("length", "m", 1e-3),
    "mm2": Unit("area", "mm2", 1.0),
    "C": Unit("temperature", "C", 1.0),
    "F": Unit("temperature", "C", 5 / 9, -160 / 9),
    "Ah": Unit("capacity", "Ah", 1.0),
    "s": Unit("time", "s", 1.0),
    "ms": Unit("time", "s", 1e-3),
    "min": Unit("time", "s", 60.0),
    "h": Unit("time", "s", 3600.0),
    "way": Unit("ways", "way", 1.0),
    "%": Unit("share", "", 1e-2),
    "bar": Unit("pressure", "bar", 1.0),
    "rpm": Unit("speed", "rpm", 1.0),
    "uF": Unit("capacitance", "farad", 1e-6),
    "nF": Unit("capacitance", "farad", 1e-9),
    "pF": Unit("capacitance", "farad", 1e-12),
    "mH": Unit("inductance", "henry", 1e-3),
    "uH": Unit("inductance", "henry", 1e-6),
}

_ALIASES = {"mm²": "mm2", "sqmm": "mm2", "Ω": "ohm", "mΩ": "mohm", "kΩ": "kohm", "°C": "C",
            "°F": "F", "ways": "way", "ohms": "ohm", "volt": "V", "amp": "A", "µF": "uF"}

UNITS: dict[str, Unit] = {**_UNITS, **{alias: _UNITS[unit] for alias, unit in _ALIASES.items()}}
"""Every unit that may follow a number, by its spelling. AWG is handled on its own."""

GAUGE_UNIT = "AWG"


def awg_area_mm2(gauge: float) -> float:
    """Return the copper area in mm2 of an AWG number (negative for 2/0: -1, 3/0: -2).

    d = 0.127 mm * 92^((36 - n) / 39), ASTM B258 (formula from memory).
    """
    diameter_mm: float = 0.127 * 92 ** ((36 - gauge) / 39)
    return math.pi / 4 * diameter_mm**2


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value in the base unit of its dimension, and the text that the user wrote."""

    value: float
    dimension: str
    text: str

    @classmethod
    def of(cls, number: float, unit: str) -> Quantity:
        """Return the quantity of `number` in `unit`; raises KeyError for an unknown unit."""
        text = f"{number:g} {unit}"
        if unit == GAUGE_UNIT:
            return cls(awg_area_mm2(number), "area", text)
        found = UNITS[unit]
        return cls(number * found.factor + found.offset, found.dimension, text)
