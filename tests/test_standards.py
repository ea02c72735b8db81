"""Tables of the project against published standards; the source is named beside each check.

Where the wording of a standard was not at hand, "from memory" says so.
"""

from __future__ import annotations

import colorsys
import re

import pytest

from harnessdsl.drawing.colours import COLOURS, DIN_CODES, fuse_colour, legend_codes, wire_colours
from harnessdsl.electric import conductors
from harnessdsl.electric.fuse_curves import curve_of
from harnessdsl.model.colour import DIN_COLOURS, IEC_COLOURS, read_colour
from harnessdsl.model.kind import Kind
from harnessdsl.model.kind_builder import KindLibrary
from harnessdsl.model.kind_shelf import shipped_kinds
from harnessdsl.model.reading import Messages
from harnessdsl.quantity import Quantity, awg_area_mm2

# ------------------------------------------------------------------------------------ colours

IEC_60757 = (
    "BK black, BN brown, RD red, OG orange, YE yellow, GN green, BU blue, VT violet, GY grey, "
    "WH white, PK pink, GD gold, TQ turquoise, SR silver"
)
"""IEC 60757, table of codes, in the standard's order (also GOST 28763, which repeats it)."""

IEC = dict(pair.split() for pair in IEC_60757.split(", "))


def test_colour_codes_are_those_of_iec_60757() -> None:
    assert {code: name for code, name in IEC_COLOURS.items() if code != "GNYE"} == IEC
    assert {code: c.name for code, c in COLOURS.items() if code != "GNYE"} == IEC
    assert "GNYE" in IEC_COLOURS and "GNYE" in COLOURS  # the one pair with a code of its own
    assert list(IEC_COLOURS) == [*IEC, "GNYE"]
    assert set(COLOURS) == set(IEC_COLOURS)


def test_the_legend_keeps_the_order_of_iec_60757() -> None:
    assert list(legend_codes(["WH/RD", "BU", "YE/BK"])) == ["BK", "RD", "YE", "BU", "WH"]


GERMAN = {
    "sw": "BK", "br": "BN", "ro": "RD", "or": "OG", "ge": "YE", "gn": "GN", "bl": "BU",
    "vi": "VT", "li": "VT", "gr": "GY", "ws": "WH", "rs": "PK",
}  # fmt: skip
"""DIN 72551 / DIN 47002, from memory."""


@pytest.mark.parametrize("letters", GERMAN)
def test_german_letters(letters: str) -> None:
    assert DIN_COLOURS[letters] == DIN_CODES[letters] == GERMAN[letters]
    assert read_colour(f"{letters}/ge", din=True) == f"{GERMAN[letters]}/YE"
    assert read_colour(letters) is None  # only where the file says so


HUES = {
    "RD": (345, 15), "OG": (15, 45), "YE": (45, 65), "GN": (90, 160), "BU": (200, 250),
    "VT": (260, 300), "PK": (320, 360), "TQ": (165, 195), "BN": (15, 40), "GD": (35, 55),
}  # fmt: skip
"""Where the colour lies on the colour circle, in degrees (common names of hues, no source)."""


@pytest.mark.parametrize("code", IEC)
def test_a_wire_is_drawn_in_the_colour_of_its_name(code: str) -> None:
    red, green, blue = (int(COLOURS[code].rgb[i : i + 2], 16) / 255 for i in (1, 3, 5))
    hue, lightness, saturation = colorsys.rgb_to_hls(red, green, blue)
    if code in HUES:
        low, high = HUES[code]
        degrees = hue * 360
        assert low <= degrees <= high or (low > high and (degrees >= low or degrees <= high))
        assert saturation > 0.25
    else:  # black, grey, white, silver: no hue to speak of
        assert saturation < 0.25 or lightness > 0.95 or lightness < 0.15
        assert {"BK": lightness < 0.2, "WH": lightness > 0.95}.get(code, 0.2 < lightness < 0.95)


def test_base_comes_first_and_tracer_after() -> None:
    """Common practice, no source: RD/YE is a red wire with a yellow stripe."""
    assert [c.code for c in wire_colours("RD/YE")] == ["RD", "YE"]


# -------------------------------------------------------------------------------------- fuses

BLADE_A = {
    0.5: "dark blue", 1: "black", 2: "grey", 3: "violet", 4: "pink", 5: "tan", 7.5: "brown",
    10: "red", 15: "blue", 20: "yellow", 25: "clear", 30: "green",
    35: "blue-green", 40: "orange",
}  # fmt: skip
"""ISO 8820-3 as in a maker's colour chart; 35 A and 40 A from memory (SAE J1284)."""

MAXI_A = {
    20: "yellow", 25: "grey", 30: "green", 35: "brown", 40: "orange", 50: "red", 60: "blue",
    70: "tan", 80: "clear", 100: "violet",
}  # fmt: skip
"""ISO 8820-3 and SAE J1888, from memory; 40 A and 50 A also in a published colour chart."""

TORPEDO_A = {5: "yellow", 8: "white", 16: "red", 25: "blue"}
"""DIN 72581-1, 6 x 25 mm."""


@pytest.mark.parametrize(
    ("kind", "table"),
    [("blade-fuse", BLADE_A), ("mini-fuse", BLADE_A), ("maxi-fuse", MAXI_A),
     ("torpedo-fuse", TORPEDO_A)],
)  # fmt: skip
def test_fuse_colours(kind: str, table: dict[float, str]) -> None:
    for rating_a, name in table.items():
        colour = fuse_colour(kind, rating_a)
        assert colour is not None and colour.name == name, (kind, rating_a)
    for rating_a in (6, 12, 18):  # no standard ratings of these fuses
        assert fuse_colour(kind, rating_a) is None


def test_the_same_colour_means_another_rating_on_a_large_blade() -> None:
    """ISO 8820-3: red is 10 A on a regular blade and 50 A on a maxi blade."""
    regular, maxi = fuse_colour("blade-fuse", 10), fuse_colour("maxi-fuse", 50)
    assert regular is not None and maxi is not None
    assert regular.rgb == maxi.rgb


# ------------------------------------------------------------------------------- conductors

AWG = {
    # gauge: diameter mm, area mm2 (ASTM B258, formula from memory; the areas agree with the
    # ohms per 1000 ft printed in Floyd, Electric Circuit Fundamentals)
    4: (5.189, 21.15), 6: (4.115, 13.30), 8: (3.264, 8.366), 10: (2.588, 5.261),
    12: (2.053, 3.309), 14: (1.628, 2.081), 16: (1.291, 1.309), 18: (1.024, 0.823),
    20: (0.812, 0.518), 22: (0.644, 0.326),
}  # fmt: skip

OHM_PER_1000_FT = {
    4: 0.2485, 6: 0.3951, 8: 0.6282, 10: 0.9989, 12: 1.588, 14: 2.525, 16: 4.016, 18: 6.385,
    20: 10.15, 22: 16.14,
}  # fmt: skip
"""Floyd, Electric Circuit Fundamentals, wire table; repeated in other wire tables."""

COPPER_OHM_MM2_PER_M = 0.017241
"""Annealed copper at 20 C, 1/58 (IEC 60028, from memory)."""


@pytest.mark.parametrize("gauge", AWG)
def test_areas_of_american_gauges(gauge: int) -> None:
    assert awg_area_mm2(gauge) == pytest.approx(AWG[gauge][1], rel=2e-3)
    assert Quantity.of(gauge, "AWG").value == pytest.approx(AWG[gauge][1], rel=2e-3)
    ohm = COPPER_OHM_MM2_PER_M / awg_area_mm2(gauge) * 304.8
    assert ohm == pytest.approx(OHM_PER_1000_FT[gauge], rel=2e-3)


def test_rules_of_thumb_of_american_gauges() -> None:
    """Three gauges halve the area, ten take a tenth of it, six halve the diameter
    (AWG table page "AWG - American Wire Gauge"); 0000 is 11.684 mm (ASTM B258)."""
    assert awg_area_mm2(10) / awg_area_mm2(13) == pytest.approx(2, rel=0.01)
    assert awg_area_mm2(10) / awg_area_mm2(20) == pytest.approx(10, rel=0.02)
    assert awg_area_mm2(10) / awg_area_mm2(16) == pytest.approx(4, rel=0.01)
    assert awg_area_mm2(-3) == pytest.approx(107.2, rel=1e-3)
    assert awg_area_mm2(36) == pytest.approx(0.01267, rel=1e-3)


ISO_6722_MOHM = """0.22 84.8, 0.35 54.4, 0.5 37.1, 0.75 24.7, 1 18.5, 1.5 12.7, 2.5 7.6, 4 4.71,
6 3.14, 10 1.82, 16 1.16, 25 0.743, 35 0.527, 50 0.368, 70 0.259, 95 0.196, 120 0.153"""
"""Largest milliohm per metre at 20 C of bare copper cable: DIN ISO 6722 part 3 as printed in an
owners' encyclopaedia of car electrics; below 1 mm2 from memory."""

IEC_60228_5_MOHM = """0.5 39.0, 0.75 26.0, 1 19.5, 1.5 13.3, 2.5 7.98, 4 4.95, 6 3.30, 10 1.91,
16 1.21, 25 0.780, 35 0.554, 50 0.386, 70 0.272, 95 0.206, 120 0.161"""
IEC_60228_1_MOHM = """0.5 36.0, 0.75 24.5, 1 18.1, 1.5 12.1, 2.5 7.41, 4 4.61, 6 3.08, 10 1.83,
16 1.15, 25 0.727, 35 0.524, 50 0.387, 70 0.268, 95 0.193, 120 0.153"""
"""EN/IEC 60228, class 5 and classes 1 and 2, as a cable maker's page of resistances has them."""


def table(text: str) -> dict[float, float]:
    pairs = (pair.split() for pair in text.replace("\n", " ").split(","))
    return {float(area): float(value) for area, value in pairs}


@pytest.mark.parametrize(
    ("own", "published"),
    [
        (conductors.ISO_6722_MOHM_PER_M, ISO_6722_MOHM),
        (conductors.IEC_60228_CLASS_5_MOHM_PER_M, IEC_60228_5_MOHM),
        (conductors.IEC_60228_SOLID_MOHM_PER_M, IEC_60228_1_MOHM),
    ],
    ids=["ISO 6722", "IEC 60228 class 5", "IEC 60228 class 1"],
)
def test_resistance_of_cable(own: dict[float, float], published: str) -> None:
    assert own == table(published)


@pytest.mark.parametrize("area_mm2", table(ISO_6722_MOHM))
def test_cable_of_a_listed_size_has_the_resistance_of_iso_6722(area_mm2: float) -> None:
    ohm_per_m = conductors.cable_ohm_per_m(area_mm2)
    assert ohm_per_m * 1000 == pytest.approx(table(ISO_6722_MOHM)[area_mm2])
    # a size between two of the table lies between them, and near its neighbours (0.0185 ohm mm2/m
    # stands in an automotive handbook, from memory)
    assert conductors.cable_ohm_per_m(area_mm2 * 1.001) == pytest.approx(ohm_per_m, rel=0.05)


def test_copper_gets_worse_when_hot() -> None:
    """IEC 60028 and IEC 60228, from memory: 0.00393 a kelvin at 20 C, or (234.5 + T) / 254.5."""
    for temperature_c in (-20, 20, 50, 70, 85, 105):
        by_annex = (234.5 + temperature_c) / 254.5
        assert conductors.temperature_factor(temperature_c) == pytest.approx(by_annex, rel=1e-3)


def test_published_examples_of_cable_sizing() -> None:
    """A trade journal (Journal 07, 2017): 8.3 A over 1.8 m with 0.5 V needs 0.538 mm2 by 0.018
    ohm mm2/m; and an industrial engine maker's manual: A = I 0.0175 L / U."""
    area_mm2 = 8.3 * 0.018 * 1.8 / 0.5
    assert area_mm2 == pytest.approx(0.538, abs=1e-3)
    drop_v = 8.3 * 1.8 * conductors.cable_ohm_per_m(area_mm2)
    assert drop_v == pytest.approx(0.5, rel=0.04)  # ours takes 0.0185: a little more drop
    chosen_v = 8.3 * 1.8 * conductors.cable_ohm_per_m(1.0)
    assert chosen_v == pytest.approx(0.276, abs=0.005)


# ---------------------------------------------------------------------- opening times of fuses

LONGEST_S = {1.35: 1800.0, 2.0: 5.0, 3.5: 0.5, 6.0: 0.1}
"""ISO 8820-3 as quoted in the data sheet of a plug-in relay with fuse."""


@pytest.mark.parametrize("multiple", LONGEST_S)
def test_opening_times_of_blade_fuses(multiple: float) -> None:
    for kind_name in ("blade-fuse", "mini-fuse"):
        band = curve_of("fuse", kind_name).band(multiple)
        assert band.longest_s == pytest.approx(LONGEST_S[multiple])
        assert 0 < band.shortest_s < band.longest_s


def test_a_fuse_carries_a_tenth_more_than_its_rating() -> None:
    """ISO 8820-3, from memory: 1.1 times for 100 h."""
    for kind_name in ("blade-fuse", "mini-fuse", "maxi-fuse"):
        assert not curve_of("fuse", kind_name).band(1.1).may_open
        assert curve_of("fuse", kind_name).band(1.35).opens


# --------------------------------------------------------------------- terminals, DIN 72552

MESSAGES = Messages()
LIBRARY = KindLibrary(MESSAGES, shipped_kinds().fact, shipped_kinds().names)


def kind(name: str) -> Kind:
    found = LIBRARY.get(name)
    assert found is not None, name
    return found


def joined_by(found: Kind, type_: str) -> set[tuple[str, str]]:
    return {(p.a, p.b) for p in found.primitives if p.type == type_}


_NUMBERS = (
    "1 1a 1b 2 4 4a 4b 7 15 15a 17 19 30 30a 31 31a 31b 31c 32 33 33a 33b "
    "33f 33g 33h 33L 33R 44 45 45a 45b 48 49 49a 49b 49c 50 50a 50b 50c 50d 50e 50f 50g "
    "50h 51 51e 53 53a 53b 53c 53e 53i 54 54g 55 56 56a 56b 56d 57 57a 57L 57R 58 58L "
    "58R 58d 59 59a 59b 59c 61 64 71 71a 71b 72 75 76 77 81 81a 81b 82 82a 82b 83 "
    "83a 83b 83L 83R 84 84a 84b 85 86 86a 86b 87 87a 87b 87c 87x 87y 87z 88 88a 88b 88c "
    "B+ B- D+ D- DF DF1 DF2 U V W L R C C2 C3 "
)
DIN_72552 = frozenset(_NUMBERS.split())
"""DIN 72552 part 2; rows 53 to 53i, 58 and 71 to 88 from memory."""

PRACTICE = {
    # not in the standard, but common on parts (common practice, no source)
    "18": "throttle switch, supply", "30F": "30, front circuit", "30R": "30, rear circuit",
    "31d": "31 of a sender", "53S": "interval relay to switch", "53M": "interval relay to motor",
}  # fmt: skip


def test_numbered_terminals_are_those_of_din_72552() -> None:
    """A terminal number of two digits means what the standard says, or is not used."""
    odd = []
    for name in shipped_kinds().names():
        for terminal in kind(name).terminals:
            if re.match(r"\d\d", terminal) and terminal not in DIN_72552 | set(PRACTICE):
                odd.append(f"{name}.{terminal}")
    assert odd == []
    assert MESSAGES.found == []


@pytest.mark.parametrize(
    ("name", "type_", "a", "b"),
    [
        # ignition (1 coil low, 15 switched plus, 4 high voltage)
        ("ignition-coil", "winding", "15", "1"),
        ("ignition-coil", "winding", "1", "4"),
        ("contact-breaker", "contact", "1", "31"),
        ("ballast-resistor", "resistor", "15", "15a"),
        # ignition switch: 30 in, 15 ignition, 50 start, 75 accessories; 17 start, 19 preheat
        ("ignition-lock", "contact", "30", "15"),
        ("ignition-lock", "contact", "30", "50"),
        ("ignition-lock", "contact", "30", "75"),
        ("ignition-lock-diesel", "contact", "30", "17"),
        ("ignition-lock-diesel", "contact", "30", "19"),
        # starting and charging
        ("starter", "coil", "50", "31"),
        ("starter-solenoid", "contact", "30", "45"),
        ("alternator", "alternator", "B+", "B-"),
        ("dynamo", "alternator", "D+", "D-"),
        ("dynamo", "winding", "DF", "D-"),
        # turn: 49 in, 49a out, L and R lamps, C pilot
        ("flasher", "contact", "49", "49a"),
        ("turn-switch", "contact", "49a", "L"),
        ("turn-switch", "contact", "49a", "R"),
        ("flasher-pilot", "contact", "49", "C"),
        # lamps: 56 into the dip switch, 56a main, 56b dip, 58 side, 55 fog, 54 stop
        ("dip-switch", "contact", "56", "56a"),
        ("dip-switch", "contact", "56", "56b"),
        ("headlamp-bulb", "filament", "56a", "31"),
        ("headlamp-bulb", "filament", "56b", "31"),
        ("light-switch", "contact", "30", "58"),
        ("fog-lamp", "filament", "55", "31"),
        ("stop-tail-lamp", "filament", "54", "31"),
        ("stop-tail-lamp", "filament", "58", "31"),
        # wipers: 53 plus in, 53b second speed, 53c washer; 53a to 53e is the park contact
        ("wiper-motor", "motor", "53", "31"),
        ("wiper-motor", "motor", "53b", "31"),
        ("wiper-motor", "contact", "53a", "53e"),
        ("wiper-motor", "contact", "53e", "31"),
        ("washer-pump", "motor", "53c", "31"),
        # two-speed and reversing motors: 33 main, 33f lower speed, 33L and 33R directions
        ("two-speed-motor", "motor", "33f", "31"),
        ("window-motor", "motor", "33L", "33R"),
        ("changeover-switch", "contact", "83", "83a"),
        ("changeover-switch", "contact", "83", "83b"),
        ("dimmer", "resistor", "58", "58d"),
    ],
)
def test_terminals_do_what_din_72552_says(name: str, type_: str, a: str, b: str) -> None:
    assert (a, b) in joined_by(kind(name), type_)


RELAYS = [name for name in shipped_kinds().names() if kind(name).terminal("86") is not None]


@pytest.mark.parametrize("name", RELAYS)
def test_relay_terminals(name: str) -> None:
    """86 coil start (towards plus), 85 coil end; 30 common, 87 make, 87a break as on real relays
    (an owners' list and an FAQ of electronics; the table of DIN 72552 itself, from memory, has 87
    as the input). ISO 7588-1, from memory: 1 = 86, 2 = 85, 3 = 30, 4 = 87a, 5 = 87."""
    found = kind(name)
    assert joined_by(found, "coil") == {("86", "85")}
    for primitive in found.primitives:
        if primitive.type == "contact":
            assert primitive.a == "30"
            state = {c.positions[0] for c in primitive.clauses if c.actuator == "coil"}
            assert state == {"released" if primitive.b == "87a" else "energised"}
        if primitive.type == "diode":  # the cathode is at 86, which makes 86 strictly plus
            assert (primitive.a, primitive.b) == ("85", "86")
    for pin, terminal in {"1": "86", "2": "85", "3": "30", "4": "87a", "5": "87"}.items():
        numbered = found.terminal(pin)
        if numbered is not None:
            assert numbered.name == terminal


def test_there_are_relays_to_check() -> None:
    assert len(RELAYS) >= 8


def test_trailer_socket() -> None:
    """ISO 1724, 7 pins, from memory: 1 left, 2 rear fog (54g), 3 earth, 4 right, 5 right tail,
    6 stop, 7 left tail."""
    socket = kind("trailer-socket")
    pins = {"1": "L", "2": "54g", "3": "31", "4": "R", "5": "58R", "6": "54", "7": "58L"}
    for pin, name in pins.items():
        terminal = socket.terminal(pin)
        assert terminal is not None and terminal.name == name


def test_supply_is_up_and_earth_is_down() -> None:
    """Current-track drawings: plus at the top, 31 at the bottom (a vehicle maker's owners' page
    "Der Umgang mit dem Stromlaufplan")."""
    wrong = []
    for name in shipped_kinds().names():
        for terminal in kind(name).terminals.values():
            passes_on = kind(name).family == "switch" or kind(name).letter == "G"
            fed = terminal.name in ("30", "15", "50", "53a", "49", "B+")
            if fed and terminal.side == "lower" and not passes_on:
                wrong.append(f"{name}.{terminal.name}")
            if terminal.name in ("31", "31b", "85") and terminal.side == "upper":
                wrong.append(f"{name}.{terminal.name}")
    assert wrong == []


# ------------------------------------------------------------------------- lamps, UN R37

LAMPS_W = {"headlamp-bulb": {60.0, 55.0}, "stop-tail-lamp": {21.0, 5.0}, "turn-lamp": {21.0}}
"""Rated watts of H4 60/55, P21/5W and PY21W or P21W (UN Regulation 37, from memory)."""


@pytest.mark.parametrize("name", LAMPS_W)
def test_rated_power_of_filaments(name: str) -> None:
    watts = {p.figure("power") for p in kind(name).primitives if p.type == "filament"}
    assert watts == LAMPS_W[name]
