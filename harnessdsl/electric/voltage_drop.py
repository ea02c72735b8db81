"""Voltage lost between battery and load and back, against the limits of the handbooks.

U1 is what the wires of the insulated line lose from the switch (or relay) that turns the load on;
Ug is what is lost in the whole circuit, contacts, fuses and plugs with it, from battery terminal to
battery terminal.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from harnessdsl.electric.operating_point import LoadState, OperatingPoint
from harnessdsl.electric.study import Step, Study, Way
from harnessdsl.model.vehicle import Part

_HANDBOOK = "automotive handbook, recommended largest voltage drops"


@dataclass(frozen=True, slots=True)
class DropLimit:
    """Limits of one kind of circuit at 12 V; None where nothing is said. `whole_v` is Ug."""

    circuit: str
    line_v: float | None
    whole_v: float | None
    line_24_v: float | None
    whole_24_v: float | None
    source: str = _HANDBOOK

    def line(self, nominal_v: float) -> float | None:
        return _at(nominal_v, self.line_v, self.line_24_v)

    def whole(self, nominal_v: float) -> float | None:
        return _at(nominal_v, self.whole_v, self.whole_24_v)


def _at(nominal_v: float, at_12: float | None, at_24: float | None) -> float | None:
    """24 V as printed; other voltages in proportion to 12 V (common practice)."""
    if nominal_v == 24.0:
        return at_24
    return None if at_12 is None else at_12 * nominal_v / 12.0


SMALL_LAMP = DropLimit("a lamp below 15 W", 0.1, 0.6, 0.1, 0.6)
LAMP = DropLimit("a lamp of 15 W or more", 0.5, 0.9, 0.5, 0.9)
HEADLAMP = DropLimit("a headlamp", 0.3, 0.6, 0.3, 0.6)
CHARGING = DropLimit("the charging line", 0.4, None, 0.8, None)
STARTER = DropLimit("the starter's main cable", 0.5, 0.8, 1.0, 1.6,
                    f"{_HANDBOOK}; plus and minus side together 0.8 V: a battery tester's manual")
STARTER_CONTROL = DropLimit("the line to terminal 50", 1.5, 1.9, 2.2, 2.8)
CONTROL = DropLimit("a relay, a horn or another control line", 0.5, 1.5, 1.0, 2.0)
HEATER = DropLimit("a heater", 0.5, 0.9, 0.5, 0.9,
                   f"no row in the handbook's table; that of large lamps is taken ({_HANDBOOK})")
WORKING = DropLimit(
    "a motor", None, 1.0, None, 2.0,
    "no row in the handbook's table; above 1 V is surely a fault: voltage-drop advice quoted in "
    "service manuals (24 V: twice that)")
HEADLAMP_W = 35.0
SMALL_LAMP_W = 15.0
_SHARED = 4.0
"""A wire with more than this many times the lamp's own current is another lamp's."""


@dataclass(frozen=True, slots=True)
class Drop:
    """What one load loses in one condition."""

    load: LoadState
    condition: str
    limit: DropLimit
    line_v: float | None
    """In the wires of the insulated line, from where the current enters its last switch or relay;
    of a starter the whole plus side."""
    line_from: str
    whole_v: float
    battery_v: float
    way: Way

    def worst_steps(self, count: int = 2) -> list[Step]:
        """Return the elements of the way that lose most."""
        steps = [*self.way.out, *self.way.back]
        return sorted(steps, key=lambda s: (-s.drop_v, s.element.id))[:count]


def limit_of(part: Part, load: LoadState) -> DropLimit:
    """Return which row of the table a load belongs to."""
    terminals = part.kind.terminals
    if "50" in terminals and "30" in terminals and part.family in ("motor", "starter"):
        return STARTER if load.role == "motor" else STARTER_CONTROL
    if load.role == "filament":
        if load.rated_power_w >= HEADLAMP_W:
            return HEADLAMP
        return SMALL_LAMP if load.rated_power_w < SMALL_LAMP_W else LAMP
    if part.family == "horn" or load.role in ("coil", "solenoid", "load", "winding", "led"):
        return CONTROL
    return HEATER if load.role == "heater" else WORKING


def drops(study: Study) -> Iterator[Drop]:
    """Yield what every load that is on loses in every condition.

    Loads whose current passes a resistor, a lamp or electronics on its way are left out: the loss
    is meant there.
    """
    for name, point in study.points.items():
        if point.chattering or not study.battery_poles:
            continue
        on = [load for load in point.loads if load.on and abs(load.current_a) > 1e-3]
        if any(limit_of(study.vehicle.parts[load.part], load) is STARTER for load in on):
            # while cranking only the starter's own lines are judged: all else dims then
            on = [load for load in on if limit_of(study.vehicle.parts[load.part], load)
                  in (STARTER, STARTER_CONTROL)]
        for load in on:
            drop = _drop(study, point, name, load)
            if drop is not None:
                yield drop


def battery_pole(study: Study, point: OperatingPoint, way: Way) -> tuple[str, str]:
    """Return the live pole of the battery on a current's way (else of the one nearest in voltage to
    the way's source), and the pole that is earthed."""
    nodes = {way.source} | {n for s in way.out for n in (s.element.a, s.element.b)}
    poles = study.battery_poles
    live = next((pole for _, pole, _ in poles if pole in nodes), None)
    if live is None:
        source_v = point.voltage_v(way.source) if way.source else study.vehicle.nominal_v
        live = min(poles, key=lambda p: abs(point.voltage_v(p[1]) - source_v))[1]
    earth = min((earth for _, _, earth in poles), key=lambda node: abs(point.voltage_v(node)))
    return live, earth


def _drop(study: Study, point: OperatingPoint, condition: str, load: LoadState) -> Drop | None:
    way = study.way(point, load.id)
    if not way.plain:
        return None
    live, earth = battery_pole(study, point, way)
    battery_v = abs(point.voltage_v(live) - point.voltage_v(earth))
    whole = battery_v - abs(load.voltage_v)
    part = study.vehicle.parts[load.part]
    limit = limit_of(part, load)
    start = _switch_step(study, way) if limit is not STARTER else 0  # its main cable is the line
    line = None
    if start is not None:
        line = sum(s.drop_v for s in way.out[start:]
                   if s.element.role == "wire" or limit is STARTER)
    line_from = _entry(way, start) if start is not None else ""
    if limit is SMALL_LAMP and _rides_along(point, load, way):
        limit = LAMP
    return Drop(load, condition, limit, line, line_from, whole, battery_v, way)


def _rides_along(point: OperatingPoint, load: LoadState, way: Way) -> bool:
    """Say whether a small lamp loses most of its voltage in wires that feed larger lamps too, as a
    telltale does: then theirs is the limit."""
    steps = [*way.out, *way.back]
    shared = sum(step.drop_v for step in steps if abs(
        point.current_a(step.element.id)) > _SHARED * abs(load.current_a))
    return shared > 0.5 * sum(step.drop_v for step in steps)


def _switch_step(study: Study, way: Way) -> int | None:
    """Return the step that is the switch of a load: the last contact before it, whether a relay's
    or a switch's, that is not the ignition lock's; None without one."""
    contacts = [i for i, step in enumerate(way.out) if step.element.role == "contact"
                and "50" not in study.vehicle.parts[step.element.part].kind.terminals]
    return contacts[-1] if contacts else None


def _entry(way: Way, start: int) -> str:
    element = way.out[start].element
    if start == 0:
        return way.source
    before = way.out[start - 1].element
    return element.a if element.a in (before.a, before.b) else element.b
