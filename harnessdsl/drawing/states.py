"""How a wire looks by what is on it: a halo whose pattern, not only its colour, tells the state.

Live wires have a whole halo, earthed ones a broken one, faulty ones a dotted one, dead wires have
none and are pale; so a print in black and white says the same as one in colour.
"""

from __future__ import annotations

from harnessdsl.drawing.scene import Style

HALO_MM = 1.2
"""How much wider than its wire a halo is."""
MOST_HALO_MM = 2.4
"""Wider, the halos of wires on neighbouring tracks would run into each other."""
SYMBOL_HALO_MM = 0.9
"""Width of the band around a symbol."""
BESIDE_HALO_MM = MOST_HALO_MM / 2 + 0.3
"""From the middle of a wire with a halo to the text beside it."""
DEAD_OPACITY = 0.28

_HALOS: dict[str, tuple[str, tuple[float, ...], str]] = {
    "live": ("#f6a800", (), "live"),
    "earthed": ("#2f6fd0", (2.2, 1.6), "joined to earth"),
    "fault": ("#e0202b", (0.7, 0.7), "fault"),
    "marked": ("#a03cc8", (4.0, 0.8, 0.8, 0.8), "marked"),
}

STATE_NAMES = {**{state: name for state, (_, _, name) in _HALOS.items()}, "dead": "dead"}
"""What the legend calls each state."""


def halo_style(state: str, wire_width_mm: float) -> Style | None:
    """Return how the halo around a wire of this drawn width is stroked; None without one."""
    return _style(state, min(wire_width_mm + HALO_MM, MOST_HALO_MM))


def symbol_halo_style(state: str) -> Style | None:
    """Return how the band around a symbol is stroked; None without one."""
    return _style(state, SYMBOL_HALO_MM)


def _style(state: str, width_mm: float) -> Style | None:
    if state not in _HALOS:
        return None
    rgb, dash, _ = _HALOS[state]
    return Style(rgb, round(width_mm, 3), dash_mm=dash, opacity=0.7)
