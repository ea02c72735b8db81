"""Colours of wires and fuses against the published standards, and the drawn wire itself."""

from __future__ import annotations

import itertools

import pytest

from harnessdsl.drawing.channel import TRACK_PITCH_MM
from harnessdsl.drawing.colours import (
    COLOURS,
    DIN_CODES,
    fuse_colour,
    legend_codes,
    on_colour,
    wire_colours,
    wire_shapes,
    wire_width,
)
from harnessdsl.drawing.scene import Polyline
from harnessdsl.drawing.states import BESIDE_HALO_MM, DEAD_OPACITY, halo_style

# IEC 60757:2021 table 1 (also printed in GOST 28763): letter codes in the standard's order
IEC_60757 = {
    "BK": "black", "BN": "brown", "RD": "red", "OG": "orange", "YE": "yellow", "GN": "green",
    "BU": "blue", "VT": "violet", "GY": "grey", "WH": "white", "PK": "pink", "GD": "gold",
    "TQ": "turquoise", "SR": "silver", "GNYE": "green-yellow",
}  # fmt: skip

# DIN 72551 / DIN 47002 as used in German vehicle diagrams, from memory
DIN = {
    "sw": "BK", "br": "BN", "ro": "RD", "or": "OG", "ge": "YE", "gn": "GN", "bl": "BU",
    "vi": "VT", "li": "VT", "gr": "GY", "ws": "WH", "rs": "PK",
}  # fmt: skip

# ISO 8820-3 type C and F, SAE J1284: printed on "Fuse Color Codes, by Amp" (OnAllCylinders);
# 35 and 40 A from memory
BLADE = {
    1: "black", 2: "grey", 3: "violet", 4: "pink", 5: "tan", 7.5: "brown", 10: "red",
    15: "blue", 20: "yellow", 25: "clear", 30: "green", 35: "blue-green", 40: "orange",
}  # fmt: skip

# ISO 8820-3 type E, SAE J1888, from memory; 40 and 50 A printed on "Fuse Color Code Chart"
MAXI = {
    20: "yellow", 25: "grey", 30: "green", 35: "brown", 40: "orange", 50: "red", 60: "blue",
    70: "tan", 80: "clear", 100: "violet",
}  # fmt: skip


def test_codes_and_names_are_those_of_iec_60757() -> None:
    assert {code: colour.name for code, colour in COLOURS.items()} == IEC_60757
    assert list(COLOURS) == list(IEC_60757)


def test_german_letters_mean_the_same_colours() -> None:
    assert {letters: DIN_CODES[letters] for letters in DIN} == DIN


@pytest.mark.parametrize(
    ("written", "codes"),
    [
        ("RD", ["RD"]),
        ("RD/YE", ["RD", "YE"]),
        ("ro/ge", ["RD", "YE"]),
        ("GNYE", ["GNYE"]),
        ("GY/RD/GN", ["GY", "RD", "GN"]),
        ("XX", []),
        ("", []),
    ],
)
def test_base_comes_before_tracer(written: str, codes: list[str]) -> None:
    assert [colour.code for colour in wire_colours(written)] == codes


@pytest.mark.parametrize(("rating", "name"), BLADE.items())
def test_blade_fuse_colours(rating: float, name: str) -> None:
    for kind in ("blade-fuse", "mini-fuse"):
        colour = fuse_colour(kind, rating)
        assert colour is not None and colour.name == name


@pytest.mark.parametrize(("rating", "name"), MAXI.items())
def test_maxi_fuse_colours(rating: float, name: str) -> None:
    colour = fuse_colour("maxi-fuse", rating)
    assert colour is not None and colour.name == name


def test_large_and_regular_blades_reuse_colours_for_other_ratings() -> None:
    small, large = fuse_colour("blade-fuse", 10), fuse_colour("maxi-fuse", 50)
    assert small is not None and large is not None
    assert small.rgb == large.rgb
    assert fuse_colour("maxi-fuse", 10) is None


def test_no_colour_is_made_up() -> None:
    assert fuse_colour("blade-fuse", 12) is None
    assert fuse_colour("strip-fuse", 30) is None
    assert fuse_colour("fusible-link", 30) is None


def _light(rgb: str) -> float:
    return sum(int(rgb[i : i + 2], 16) for i in (1, 3, 5)) / 3


def test_colours_can_be_told_apart() -> None:
    """Any two colours differ clearly in at least one channel, so that a legend is of use."""
    for a, b in itertools.combinations([c for c in COLOURS.values() if c.code != "GNYE"], 2):
        gap = max(abs(int(a.rgb[i : i + 2], 16) - int(b.rgb[i : i + 2], 16)) for i in (1, 3, 5))
        assert gap >= 40, (a.code, b.code)


def test_white_shows_on_white_paper_by_its_outline() -> None:
    shapes = [s for s in wire_shapes(((0, 0), (20, 0)), "WH") if isinstance(s, Polyline)]
    assert _light(shapes[0].style.stroke) < 80
    assert shapes[0].style.stroke_mm > shapes[1].style.stroke_mm
    assert shapes[1].style.stroke == "#ffffff"


def test_tracer_is_a_stripe_along_the_wire() -> None:
    plain = wire_shapes(((0, 0), (20, 0)), "RD")
    striped = wire_shapes(((0, 0), (20, 0)), "RD/YE")
    assert len(striped) == len(plain) + 1
    tracer = striped[-1]
    assert isinstance(tracer, Polyline)
    assert tracer.style.stroke == COLOURS["YE"].rgb
    assert tracer.style.dash_mm and sum(tracer.style.dash_mm) > 0
    assert tracer.points == ((0, 0), (20, 0))
    two = wire_shapes(((0, 0), (20, 0)), "GY/RD/GN")
    starts = [s.style.dash_mm[1] for s in two[-2:] if isinstance(s, Polyline)]
    share = next(s.style.dash_mm[2] for s in two[-2:] if isinstance(s, Polyline))
    assert abs(starts[1] - starts[0]) >= share, "two tracers lie on each other"


@pytest.mark.parametrize("colour", ["RD", "WH", "BK", "RD/YE", "GNYE", ""])
def test_unverified_wire_reads_without_colour(colour: str) -> None:
    """The breaks go through the outline too, and a thin line leads the eye over them."""
    verified = wire_shapes(((0, 0), (20, 0)), colour, verified=True)
    guessed = wire_shapes(((0, 0), (20, 0)), colour, verified=False)
    widest = max((s for s in guessed if isinstance(s, Polyline)), key=lambda s: s.style.stroke_mm)
    assert widest.style.dash_mm
    assert widest.style.dash_mm[1] >= 1.0, "gap too small to be seen on paper"
    whole = [s for s in guessed if isinstance(s, Polyline) and not s.style.dash_mm]
    assert [s.style.stroke_mm for s in whole] == [0.18]
    first = verified[0]
    assert isinstance(first, Polyline) and not first.style.dash_mm


def test_thicker_wire_is_drawn_wider_within_bounds() -> None:
    widths = [wire_width(area) for area in (None, 0.5, 1, 2.5, 6, 25, 70)]
    assert widths == sorted(widths)
    assert widths[0] >= 0.9 and widths[-1] <= 1.6


def test_legend_lists_single_codes_in_the_standards_order() -> None:
    assert legend_codes(["WH/BK", "RD", "BK/RD", "GNYE"]) == ("BK", "RD", "WH", "GNYE")


def test_text_on_a_colour_can_be_read() -> None:
    assert on_colour("#ffffff") == "#000000"
    assert on_colour(COLOURS["YE"].rgb) == "#000000"
    assert on_colour(COLOURS["BK"].rgb) == "#ffffff"
    assert on_colour(COLOURS["BN"].rgb) == "#ffffff"


def test_states_of_a_wire_can_be_told_apart_without_colour() -> None:
    """Each state has a pattern of its own that shows at both sides of the wire, and none reaches
    the text beside the wire or the halo on the next track."""
    halos = {state: halo_style(state, 1.0) for state in ("live", "earthed", "fault", "marked")}
    assert len({halo.dash_mm for halo in halos.values() if halo is not None}) == 4
    for width in (0.9, 1.0, 1.6):
        for state in halos:
            halo = halo_style(state, width)
            assert halo is not None and halo.stroke_mm < TRACK_PITCH_MM
            assert (halo.stroke_mm - width) / 2 > 0.39
            assert BESIDE_HALO_MM - halo.stroke_mm / 2 >= 0.2
    assert halo_style("dead", 1.0) is None
    assert 0 < DEAD_OPACITY < 0.5
