"""What a meter and a test lamp show between two points, and why they differ."""

from __future__ import annotations

from typing import Any

from harnessdsl.electric.instruments import Reading, measure
from harnessdsl.electric.operating_point import OperatingPoint

CAUTION = ("A test lamp draws current: never on airbags, belt tensioners, sensors or control "
           "modules. A meter on amperes is a short: read volts.")
_FULL_SHARE = 0.75
"""A reading that a person takes for full battery voltage."""


def readings(point: OperatingPoint, red: str, black: str | None) -> tuple[Reading, Reading]:
    """Return what a 10-megohm meter and a 5 W test lamp show from `red` to `black` (to the body
    without it)."""
    return measure(point, red, black, "meter"), measure(point, red, black, "lamp")


def reading_line(point: OperatingPoint, meter: Reading, lamp: Reading) -> str:
    """Return one line: what the meter reads, how the lamp looks, and what follows from both."""
    text = f"{meter.voltage_v + 0.0:7.2f} V   lamp {lamp.shows}"
    if lamp.shows != "dark":
        text += f" ({abs(lamp.current_a) * 1000:.0f} mA)"
    note = explanation(point, meter, lamp)
    return f"{text}   {note}" if note else text


def explanation(point: OperatingPoint, meter: Reading, lamp: Reading) -> str:
    """Return what a person should make of the two readings, '' where they agree."""
    full = max((abs(v) for v in point.volts.tolist()), default=0.0)
    if full and abs(meter.voltage_v) > _FULL_SHARE * full and lamp.shows in ("dark", "dim"):
        ohm = ((abs(meter.voltage_v) - abs(lamp.voltage_v)) / abs(lamp.current_a)
               if lamp.current_a else float("inf"))
        through = f"about {_ohms(ohm)} in the way" if ohm < 1e8 else "no real supply"
        return f"full voltage, but nothing behind it: {through}"
    if meter.point.floating_nodes and abs(meter.voltage_v) < 0.01 and lamp.shows == "dark":
        return ""
    if set(lamp.point.opened) - set(point.opened):
        return "the lamp's current opens a fuse"
    if lamp.point.energised != point.energised:
        return "the lamp's current makes a relay move"
    return ""


def _ohms(value: float) -> str:
    for size, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if value >= size:
            return f"{value / size:.2g} {unit}"
    return f"{value:.2g} ohm"


def reading_data(condition: str, red: str, black: str, meter: Reading, lamp: Reading
                 ) -> dict[str, Any]:
    """Return the two readings as plain data; the keys are stable."""
    return {"condition": condition, "red": red, "black": black,
            "meter_v": round(meter.voltage_v, 6) + 0.0, "lamp": lamp.shows,
            "lamp_v": round(lamp.voltage_v, 6) + 0.0, "lamp_a": round(lamp.current_a, 6) + 0.0}
