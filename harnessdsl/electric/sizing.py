"""Advice for a new circuit: load, length, drop in; wire, fuse and relay out, with reasons.

    advice = advise(Task(current_a=13.1, length_m=5.5, kind="heater"))
    advice.area_mm2, advice.fuse_a, advice.relay; advice.reasons; advice.assumptions

Lengths in metres, areas in mm2, temperatures in C. Everything is checked the way `check` does it:
continuous current (DIN VDE 0298-4), voltage drop (handbook limits), rating rule (75 %), opening of
the fuse on a short at the far end (ISO 8820-3, IEC 60949).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from harnessdsl.electric import figures
from harnessdsl.electric.conductors import cable_ohm_per_m
from harnessdsl.electric.elements import FILAMENT_EXPONENT
from harnessdsl.electric.fuse_curves import BLADE, MAXI, FuseCurve, fuse_ohm
from harnessdsl.electric.heating import (
    AREAS_MM2,
    PVC,
    heated_for_s,
    insulation_of,
    may_carry_a,
)
from harnessdsl.electric.inrush import MOTOR_START_S
from harnessdsl.electric.voltage_drop import (
    CONTROL,
    HEADLAMP,
    HEATER,
    LAMP,
    SMALL_LAMP,
    WORKING,
    DropLimit,
)

KINDS: dict[str, DropLimit] = {
    "lamp": LAMP, "small-lamp": SMALL_LAMP, "headlamp": HEADLAMP, "heater": HEATER,
    "motor": WORKING, "control": CONTROL, "other": replace(HEATER, circuit="any other load"),
}
"""Kind of load -> the row of the table of voltage drops."""
INRUSH_TIMES = {"lamp": 10.0, "small-lamp": 10.0, "headlamp": 10.0, "motor": 4.0}
"""Current at the first moment as a multiple of the running one: filaments 10, motors 2 to 5."""
GOOD_SHARE = 0.75
FUSES = (
    *((rating, BLADE) for rating in (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0)),
    *((rating, MAXI) for rating in (40.0, 50.0, 60.0, 80.0, 100.0)))
"""Blade fuses on sale, regular and maxi (ISO 8820-3)."""
CHARGED_SHARE = 1.06
"""Volts of a full battery over the nominal ones, 12.65 V for 12 V: the drop is judged with so much
more current."""
SWITCH_A = 8.0
"""What an old switch should carry at most (common practice): above it a relay takes the load."""
_HARD_A = 5.0
"""The same for loads with a hard rush of current."""
CLEAR_S = 5.0
"""A short at the far end opens the fuse within this time."""


class SizingError(ValueError):
    """A question that has no answer: says why."""


@dataclass(frozen=True, slots=True)
class Task:
    """What is asked for."""

    current_a: float
    """Running current at the nominal voltage."""
    length_m: float
    """From the battery (or the point that it is fed from) to the load, one way."""
    return_m: float | None = None
    """Wire from the load to its earth point; None when it is as long as the way out."""
    kind: str = "other"
    nominal_v: float = 12.0
    drop_v: float | None = None
    """Allowed in the whole circuit; None for the handbook's limit."""
    ambient_c: float = 30.0
    bundle: int = 1
    """Loaded wires side by side, this one included."""
    insulation_c: float | None = None
    battery_ohm: float = figures.BATTERY_OHM


@dataclass(frozen=True, slots=True)
class Advice:
    """What to fit. `shortfall` says what could not be met, '' when all is."""

    area_mm2: float
    fuse_a: float
    relay: bool
    drop_v: float
    """In both wires, at the running current."""
    allowed_v: float
    may_carry_a: float
    short_a: float
    fuse_opens_s: float
    reasons: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...] = field(default=())


CAUTIONS = (
    "The maker's data, local codes and licensed practice go before this advice.",
    "The fuse belongs at the battery's end of the new wire, before it passes any metal edge; put a "
    "grommet in every hole.",
    "Take off the battery's earth lead first. Leave airbags, belt tensioners and braking systems "
    "to licensed hands.",
)


def current_of(power_w: float, at_v: float, nominal_v: float, kind: str) -> float:
    """Return the current of a load given by its power; lamps follow I ~ V^0.55."""
    amperes = power_w / at_v
    if kind in ("lamp", "small-lamp", "headlamp"):
        return float(amperes * (nominal_v / at_v) ** FILAMENT_EXPONENT)
    return amperes


def area_for_drop_mm2(current_a: float, length_m: float, drop_v: float,
                      ohm_mm2_per_m: float = 0.0185) -> float:
    """Return the area that loses exactly `drop_v` over `length_m` of wire there (and back, when
    that
    is counted in): A = I rho l / U. 0.0185 ohm mm2/m is the handbook's figure for vehicle cable."""
    if not (current_a > 0 and length_m > 0 and drop_v > 0):
        raise SizingError("current, length and allowed drop must all be more than nothing")
    return current_a * ohm_mm2_per_m * length_m / drop_v


def advise(task: Task) -> Advice:
    """Return what to fit. Raises SizingError when no wire or fuse on the list will do."""
    _check(task)
    limit = KINDS[task.kind]
    allowed = task.drop_v if task.drop_v is not None else limit.whole(task.nominal_v)
    assert allowed is not None
    back_m = task.length_m if task.return_m is None else task.return_m
    whole_m = task.length_m + back_m
    current_a = task.current_a * CHARGED_SHARE
    joints_v = current_a * _joints_ohm(task, 0.0)
    insulation = insulation_of("", task.insulation_c) if task.insulation_c else PVC
    reasons: list[str] = []
    wire_v = allowed - joints_v
    if wire_v <= 0.1 * allowed:
        raise SizingError(f"joints, contacts and fuse alone lose {joints_v:.2f} V of the "
                          f"{allowed:g} V that are allowed: allow more, or share the load out")
    by_drop = area_for_drop_mm2(current_a, whole_m, wire_v)
    by_line = _by_line_mm2(task, current_a, limit.line(task.nominal_v))
    by_heat = next((a for a in AREAS_MM2 if may_carry_a(
        a, task.ambient_c, task.bundle, insulation.steady_c) >= task.current_a), None)
    if by_heat is None:
        raise SizingError(f"no wire up to {AREAS_MM2[-1]:g} mm2 carries {task.current_a:g} A in "
                          f"air of {task.ambient_c:g} C with {task.bundle} in the bundle: share "
                          "the load out")
    fuse, curve = _fuse(task)
    for area in AREAS_MM2:
        carries = may_carry_a(area, task.ambient_c, task.bundle, insulation.steady_c)
        short_a, opens_s = _short(task, area, fuse, curve)
        bears_s = heated_for_s(short_a, area, min(insulation.steady_c, 70.0), insulation.short_c)
        if (area >= max(by_drop, by_line) * 1.03 and area >= by_heat and carries >= fuse
                and opens_s <= min(CLEAR_S, bears_s)):
            break
    else:
        raise SizingError("no wire on the list meets heat, drop and fuse together: a shorter way, "
                          "or a second circuit")
    drop_v = current_a * cable_ohm_per_m(area) * whole_m + joints_v
    reasons.append(
        f"voltage drop: {current_a:.3g} A (full battery) over {whole_m:.3g} m there and back may "
        f"lose {wire_v:.2f} V in the wire ({allowed:.2f} V allowed for {limit.circuit}, "
        f"{joints_v:.2f} V of it in joints, contacts and fuse): at least {by_drop:.2f} mm2")
    if by_line > by_drop:
        reasons.append(
            f"line from the switch or relay: at most {limit.line(task.nominal_v):g} V of it on the "
            f"{task.length_m:g} m to the load: at least {by_line:.2f} mm2")
    reasons.append(
        f"heat: {by_heat:g} mm2 is the least that carries {task.current_a:.3g} A in air of "
        f"{task.ambient_c:g} C" + (f", {task.bundle} loaded wires side by side" if task.bundle > 1
                                   else "") + f" ({insulation.name}, {insulation.steady_c:g} C)")
    reasons.append(
        f"fuse: the load is to be at most three quarters of the rating ({task.current_a:.3g} A / "
        f"0.75 = {task.current_a / GOOD_SHARE:.3g} A), and the wire must carry the rating: "
        f"{fuse:g} A on {area:g} mm2, which carries {carries:.3g} A here"
        + ("; it sits through the start of the motor" if task.kind == "motor" else ""))
    reasons.append(
        f"short at the far end: {short_a:.0f} A flow, {short_a / fuse:.2g} times the rating; the "
        f"fuse opens within {opens_s:.2g} s, the wire bears it for "
        + ("good" if math.isinf(bears_s) else f"{bears_s:.2g} s"))
    relay = _wants_relay(task)
    rush = INRUSH_TIMES.get(task.kind)
    reasons.append(
        (f"relay: yes, near the load or the battery; {task.current_a:.3g} A is too much for a "
         "small switch" if relay else f"relay: not needed, {task.current_a:.3g} A is within what a "
         "switch of 10 A or more carries")
        + (f"; at the first moment it draws up to {rush:g} times that" if rush else ""))
    return Advice(area, fuse, relay, drop_v, allowed, carries, short_a, opens_s, tuple(reasons),
                  _assumptions(task, back_m, curve), CAUTIONS)


def _wants_relay(task: Task) -> bool:
    return task.current_a > (_HARD_A if task.kind in ("headlamp", "motor") else SWITCH_A)


def _by_line_mm2(task: Task, current_a: float, limit_v: float | None) -> float:
    """Return the area that the limit of the line from switch or relay asks for; 0 where the table
    has none or the task brings its own limit."""
    if limit_v is None or task.drop_v is not None:
        return 0.0
    left_v = limit_v - current_a * (_contact_ohm(task) + figures.by_area(figures.PUSH_ON_OHM, 2.5)
                                    * 2 + 2 * figures.by_area(figures.CRIMP_OHM, 2.5))
    if left_v <= 0.1 * limit_v:
        raise SizingError(f"the contact and terminals alone lose most of the {limit_v:g} V that "
                          "are allowed on the line: share the load out")
    return area_for_drop_mm2(current_a, task.length_m, left_v)


def _contact_ohm(task: Task) -> float:
    return figures.RELAY_CONTACT_OHM if _wants_relay(task) else figures.SWITCH_CONTACT_OHM


def _check(task: Task) -> None:
    if task.kind not in KINDS:
        raise SizingError(f"'{task.kind}' is no kind of load here: {', '.join(KINDS)}")
    for name, value in (("the current", task.current_a), ("the length", task.length_m),
                        ("the voltage", task.nominal_v)):
        if not 0 < value < 1e4:
            raise SizingError(f"{name} must be more than nothing, not {value:g}")
    if task.drop_v is not None and not 0 < task.drop_v < task.nominal_v:
        raise SizingError(f"a drop of {task.drop_v:g} V is not possible on {task.nominal_v:g} V")
    if (task.return_m is not None and task.return_m < 0) or task.bundle < 1:
        raise SizingError("a length can't be less than nothing, a bundle not less than one wire")


def _fuse(task: Task) -> tuple[float, FuseCurve]:
    """Return the smallest fuse that carries the load for good, and a motor's start."""
    start_a = INRUSH_TIMES["motor"] * task.current_a if task.kind == "motor" else 0.0
    for rating, curve in FUSES:
        if GOOD_SHARE * rating >= task.current_a and (
                curve.band(start_a / rating).shortest_s >= MOTOR_START_S):
            return rating, curve
    raise SizingError(f"{task.current_a:g} A is more than blade fuses carry for good "
                      f"({GOOD_SHARE * FUSES[-1][0]:g} A): share the load out, or fit a bolted "
                      "fuse by the maker's data")


def _joints_ohm(task: Task, fuse_a: float) -> float:
    """Return the resistance of what is on the way besides wire: fuse, relay or switch contact, two
    plugs, four crimps, the earth ring."""
    fuse_a = fuse_a or max(task.current_a / GOOD_SHARE, 1.0)
    return (fuse_ohm(fuse_a) + _contact_ohm(task) + 2 * figures.by_area(
        figures.PLUG_CONTACT_OHM, 2.5) + 8 * figures.by_area(figures.CRIMP_OHM, 2.5)
        + figures.RING_TO_METAL_OHM)


def _short(task: Task, area_mm2: float, fuse_a: float, curve: FuseCurve) -> tuple[float, float]:
    """Return the current of a dead short at the load and the longest time until the fuse opens; the
    wire warm, the way back over metal."""
    volts = figures.open_circuit_v(1.0, task.nominal_v)
    ohm = (task.battery_ohm + _joints_ohm(task, fuse_a)
           + cable_ohm_per_m(area_mm2, temperature_c=70.0) * task.length_m)
    current_a = volts / ohm
    return current_a, curve.band(current_a / fuse_a).longest_s


def _assumptions(task: Task, back_m: float, curve: FuseCurve) -> tuple[str, ...]:
    return (
        f"copper vehicle cable by ISO 6722, {task.length_m:g} m out and {back_m:g} m back to its "
        "earth point; the body itself loses nothing",
        f"{curve.name} (ISO 8820-3, times from memory), two plugs, a switch or relay contact, "
        "healthy crimps",
        f"air of {task.ambient_c:g} C around the wire; {task.bundle} loaded wire"
        f"{'s' if task.bundle > 1 else ''} in the bundle",
        f"the running current is {task.current_a:.3g} A at {task.nominal_v:g} V and may last",
    )


def with_power(task: Task, power_w: float, at_v: float | None = None) -> Task:
    """Return the task with its current from the load's power, at its test voltage if given."""
    current_a = current_of(power_w, at_v or task.nominal_v, task.nominal_v, task.kind)
    return replace(task, current_a=current_a)
