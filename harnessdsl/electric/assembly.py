"""Vehicle -> circuit: every edge of the topology becomes an element with its figures.

What a condition sets (switch positions, temperatures, whether the engine turns) is kept aside as
settings, to be read by `conditions`; everything else is done once per vehicle and ambient
temperature.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from harnessdsl.electric import figures, fuse_curves
from harnessdsl.electric.circuit import Circuit
from harnessdsl.electric.conductors import cable_ohm_per_m, temperature_factor
from harnessdsl.electric.elements import (
    THERMAL_VOLTAGE_V,
    Alternator,
    Cell,
    CoilFigures,
    CoilTerm,
    Element,
    Filament,
    Junction,
    Law,
    Motor,
    Resistance,
)
from harnessdsl.model.kind import LOAD_TYPES, PROTECTION_TYPES, Clause, Primitive
from harnessdsl.model.topology import Edge, Topology, build_topology, metal_node, terminal_node
from harnessdsl.model.vehicle import Part, Vehicle, Wire


@dataclass(frozen=True, slots=True)
class ContactSetting:
    """What a contact waits for besides coils, and the temperatures it switches at."""

    id: str
    part: str
    clauses: tuple[Clause, ...]
    hot_c: float | None = None
    cold_c: float | None = None


@dataclass(frozen=True, slots=True)
class VehicleCircuit:
    """A vehicle's circuit, and what its conditions have to set in it."""

    vehicle: Vehicle
    topology: Topology
    circuit: Circuit
    ambient_c: float
    contacts: tuple[ContactSetting, ...]
    thermistors: Mapping[str, tuple[tuple[float, float], ...]]
    """Element id -> (temperature_c, ohm) table."""
    alternators: tuple[str, ...]
    motors: tuple[str, ...]
    assumptions: tuple[str, ...]
    """Figures that neither file nor kind gives, in words."""


def element_id(edge: Edge) -> str:
    """Return the id of an edge's element: a wire's own name, else part, type and terminals."""
    if edge.wire is not None:
        return edge.wire.name
    if edge.primitive is not None:
        found = f"{edge.part}:{edge.type}:{edge.primitive.a}-{edge.primitive.b}"
        return f"{found}:{edge.primitive.name}" if edge.primitive.name else found
    if edge.type == "plug":
        return f"{edge.part}:plug:{edge.a.rsplit('.', 1)[-1]}"
    return f"{edge.a}:bond"


def reference_node(vehicle: Vehicle) -> str:
    """Return the node that voltages are told against: the body, else the only or first metal, else
    the earth pole of the first battery."""
    for name in ("body", *vehicle.conductors):
        if name in vehicle.conductors:
            return metal_node(name)
    for part in vehicle.parts.values():
        for primitive in part.kind.primitives:
            if primitive.type == "source":
                pole = primitive.a if vehicle.positive_earth else primitive.b
                return terminal_node(part.name, pole)
    return metal_node("body")


class _Assembler:
    def __init__(self, vehicle: Vehicle, ambient_c: float) -> None:
        self.vehicle = vehicle
        self.topology = build_topology(vehicle)
        self.ambient_c = ambient_c
        self.elements: list[Element] = []
        self.ids: dict[str, int] = {}
        self.contacts: list[ContactSetting] = []
        self.thermistors: dict[str, tuple[tuple[float, float], ...]] = {}
        self.alternators: list[str] = []
        self.motors: list[str] = []
        self.assumptions: list[str] = []
        self.areas = self._areas()
        self.coil_ids = self._coil_ids()
        self.battery_v = self._battery_v()
        self.makers: dict[str, Callable[[Primitive, Part], Law | None]] = {
            "coil": self._coil, "resistor": self._resistor, "filament": self._filament,
            "heater": self._load, "motor": self._motor, "solenoid": self._load,
            "load": self._load, "led": self._led, "diode": self._diode, "speaker": self._speaker,
            "inductor": self._inductor, "winding": self._winding, "fuse": self._fuse,
            "breaker": self._fuse, "link": self._fuse, "source": self._battery,
            "alternator": self._alternator, "joint": self._joint, "contact": self._contact,
            "thermistor": self._thermistor,
        }

    def run(self) -> VehicleCircuit:
        for edge in self.topology.edges:
            if edge.wire is not None:
                self._add(edge, Resistance(self._wire_ohm(edge.wire)), "wire")
            elif edge.type == "plug":
                self._add(edge, Resistance(self._plug_ohm(edge)), "plug")
            elif edge.type == "bond":
                self._add(edge, Resistance(self._bond_ohm(edge)), "bond")
            elif edge.primitive is not None:
                self._primitive(edge, edge.primitive)
        reference = reference_node(self.vehicle)
        circuit = Circuit(self.elements, reference, self.topology.nodes,
                          [*self.thermistors], self.vehicle.positive_earth)
        return VehicleCircuit(
            self.vehicle, self.topology, circuit, self.ambient_c, tuple(self.contacts),
            self.thermistors, tuple(self.alternators), tuple(self.motors),
            tuple(self.assumptions))

    # --- joints and wires

    def _areas(self) -> dict[str, float]:
        """The thickest wire at each node: it says how big the joints there are."""
        areas: dict[str, float] = {}
        for wire in self.vehicle.wires.values():
            for end in (wire.a, wire.b):
                area = wire.area_mm2 or figures.ASSUMED_AREA_MM2
                areas[end.node] = max(areas.get(end.node, 0.0), area)
        return areas

    def _add(self, edge: Edge, law: Law, role: str, *, name: str = "",
             coil: CoilFigures | None = None, gate: tuple[CoilTerm, ...] | None = None,
             rated_v: float = 0.0, rated_a: float = 0.0,
             curve: fuse_curves.FuseCurve | None = None) -> str:
        wanted = element_id(edge)
        self.ids[wanted] = count = self.ids.get(wanted, 0) + 1
        found = wanted if count == 1 else f"{wanted}#{count}"
        self.elements.append(Element(found, edge.a, edge.b, law, role, edge.part, name, coil, gate,
                                     rated_v, rated_a, curve))
        return found

    def _wire_ohm(self, wire: Wire) -> float:
        area_mm2, length_m = wire.area_mm2, wire.length_m
        if area_mm2 is None:
            area_mm2 = figures.ASSUMED_AREA_MM2
            self.assumptions.append(f"wire {wire.name}: no area written, {area_mm2:g} mm2 assumed")
        if length_m is None:
            length_m = figures.ASSUMED_LENGTH_M
            self.assumptions.append(f"wire {wire.name}: no length written, {length_m:g} m assumed")
        ohm = cable_ohm_per_m(area_mm2, wire.material, self.ambient_c) * length_m
        for end in (wire.a, wire.b):
            ohm += figures.by_area(figures.CRIMP_OHM, area_mm2)
            part = self.vehicle.parts.get(end.part)
            family = part.family if part is not None else ""
            if family == "battery":
                ohm += figures.BATTERY_CLAMP_OHM
            elif family == "splice":
                ohm += figures.SPLICE_OHM
            elif family not in ("earth", "connector"):
                ohm += figures.by_area(figures.PUSH_ON_OHM, area_mm2)
        return ohm

    def _plug_ohm(self, edge: Edge) -> float:
        given = self._own_ohm(edge.part)
        if given is not None:
            return given
        area = max(self.areas.get(edge.a, 0.0), self.areas.get(edge.b, 0.0))
        return figures.by_area(figures.PLUG_CONTACT_OHM, area or figures.ASSUMED_AREA_MM2)

    def _own_ohm(self, part: str) -> float | None:
        found = self.vehicle.parts[part].kind.figures.get(("", "resistance"))
        return None if found is None else found.value

    def _bond_ohm(self, edge: Edge) -> float:
        part = self.vehicle.parts[edge.part]
        metal = edge.b[1:]
        conductor = self.vehicle.conductors.get(metal)
        own = conductor.resistance_ohm if conductor is not None else None
        if own is None:
            own = figures.METAL_OHM.get(metal, figures.OTHER_METAL_OHM)
        given = self._own_ohm(edge.part) if part.family == "earth" else None
        if given is None:
            given = (figures.RING_TO_METAL_OHM if part.family == "earth"
                     else figures.CASE_TO_METAL_OHM)
            if part.family in ("motor", "alternator"):
                given = figures.RING_TO_METAL_OHM  # bolted to the block
        return given + own / 2  # half the metal's figure at each of the two points it lies between

    # --- primitives

    def _coil_ids(self) -> dict[str, dict[str, str]]:
        """Part -> coil name ('' for the first or only one) -> element id."""
        found: dict[str, dict[str, str]] = {}
        counts: dict[str, int] = {}
        for edge in self.topology.edges:
            if edge.primitive is not None and edge.type == "coil":
                wanted = element_id(edge)
                counts[wanted] = counts.get(wanted, 0) + 1
                unique = wanted if counts[wanted] == 1 else f"{wanted}#{counts[wanted]}"
                own = found.setdefault(edge.part, {})
                own.setdefault("", unique)
                if edge.primitive.name:
                    own.setdefault(edge.primitive.name, unique)
        return found

    def _battery_v(self) -> dict[str, float]:
        """Nominal voltage of each battery: written, or the vehicle's shared out along batteries
        that are joined plus to minus."""
        poles = {}
        for edge in self.topology.edges:
            if edge.type == "source":
                poles[edge.part] = (edge.a, edge.b)
        conducts = ("wire", "plug", "joint", "fuse", "link", "breaker", "bond")
        follows: dict[str, list[str]] = {}
        for name, (_, minus) in poles.items():
            reached = self.topology.reach(minus, lambda edge: edge.type in conducts)
            follows[name] = [other for other, (plus, _) in poles.items()
                             if other != name and plus in reached]
        chain: dict[str, int] = {}
        for name in poles:
            group, queue = {name}, [name]
            while queue:
                one = queue.pop()
                for other in poles:
                    if other not in group and (other in follows[one] or one in follows[other]):
                        group.add(other)
                        queue.append(other)
            # batteries side by side in a chain count once: its height is its longest path
            chain[name] = max(self._height(one, follows, frozenset()) for one in sorted(group))
        volts = {}
        for name in poles:
            written = self.vehicle.parts[name].figures.get(("", "voltage"))
            volts[name] = (written.value if written is not None
                           else self.vehicle.nominal_v / chain[name])
        return volts

    def _height(self, name: str, follows: Mapping[str, list[str]], seen: frozenset[str]) -> int:
        if name in seen:
            return 0
        return 1 + max((self._height(other, follows, seen | {name}) for other in follows[name]),
                       default=0)

    def _primitive(self, edge: Edge, primitive: Primitive) -> None:
        maker = self.makers.get(primitive.type)
        if maker is None:  # a capacitor carries no direct current
            return
        part = self.vehicle.parts[edge.part]
        law = maker(primitive, part)
        if law is None:
            return
        coil = gate = curve = None
        rated_v = rated_a = 0.0
        if primitive.type == "coil":
            coil = self._coil_figures(primitive, law)
            rated_v = self.vehicle.nominal_v
        elif primitive.type == "contact":
            gate = self._gate(primitive, part)
        elif primitive.type in PROTECTION_TYPES:
            rated_a = primitive.figure("current") or 0.0
            curve = fuse_curves.curve_of(primitive.type, part.kind.name, part.kind.fits)
        elif primitive.type in LOAD_TYPES:
            rated_v, rated_a = self._rated(primitive, law)
        found = self._add(edge, law, primitive.type, name=primitive.name, coil=coil, gate=gate,
                          rated_v=rated_v, rated_a=rated_a, curve=curve)
        if primitive.type == "contact":
            waits = tuple(c for c in primitive.clauses if c.actuator != "coil")
            temperatures = [t for t in (primitive.figure("temperature", "closes"),
                                        primitive.figure("temperature", "opens")) if t is not None]
            self.contacts.append(ContactSetting(
                found, part.name, waits, max(temperatures, default=None),
                min(temperatures, default=None)))
        elif primitive.type == "thermistor":
            self.thermistors[found] = primitive.table
        elif primitive.type == "alternator":
            self.alternators.append(found)
        elif primitive.type == "motor":
            self.motors.append(found)
        zener_v = primitive.figure("voltage", "zener")
        if primitive.type == "diode" and zener_v is not None:
            reverse = Junction(zener_v, 0.02, 0.1, 1.0)
            self.elements.append(Element(f"{found}:zener", edge.b, edge.a, reverse, "zener",
                                         part.name))

    def _gate(self, primitive: Primitive, part: Part) -> tuple[CoilTerm, ...]:
        coils = self.coil_ids.get(part.name, {})
        terms = []
        for clause in primitive.clauses:
            if clause.actuator == "coil":
                coil = coils.get(clause.of)
                if coil is not None:
                    terms.append(CoilTerm(coil, clause.positions == ("energised",)))
        return tuple(terms)

    def _at_v(self, primitive: Primitive) -> float:
        return (primitive.figure("voltage", "at") or primitive.figure("voltage")
                or self.vehicle.nominal_v)

    def _drawn_a(self, primitive: Primitive, at_v: float, otherwise: float) -> float:
        amperes = primitive.figure("current") or primitive.figure("current", "constant")
        if amperes:
            return amperes
        watts = primitive.figure("power")
        if watts:
            return watts / at_v
        ohm = primitive.figure("resistance")
        return at_v / ohm if ohm else otherwise

    def _rated(self, primitive: Primitive, law: Law) -> tuple[float, float]:
        at_v = self._at_v(primitive)
        match law:
            case Resistance(ohm=ohm):
                return at_v, at_v / ohm
            case Filament(rated_a=amperes) | Motor(running_a=amperes):
                return at_v, amperes
            case Junction():
                return at_v, self._drawn_a(primitive, at_v, figures.LED_A)
            case _:
                return at_v, 0.0

    def _coil(self, primitive: Primitive, part: Part) -> Law:
        ohm = primitive.figure("resistance")
        if not ohm:
            at_v = self._at_v(primitive)
            default = figures.COIL_OHM * (self.vehicle.nominal_v / figures.NOMINAL_V) ** 2
            ohm = at_v / self._drawn_a(primitive, at_v, at_v / default)
        return Resistance(ohm * temperature_factor(self.ambient_c))

    def _coil_figures(self, primitive: Primitive, law: Law) -> CoilFigures:
        """Pull-in and drop-out are told in volts at 20 C; the armature feels the current."""
        assert isinstance(law, Resistance)
        at_20 = law.ohm / temperature_factor(self.ambient_c)
        nominal = self.vehicle.nominal_v
        pull_in_v = primitive.figure("voltage", "pulls-in")
        drop_out_v = primitive.figure("voltage", "drops-out")
        pull_in_a = primitive.figure("current", "pulls-in")
        drop_out_a = primitive.figure("current", "drops-out")
        if pull_in_a is None:
            pull_in_a = (pull_in_v or figures.PULL_IN_SHARE * nominal) / at_20
        if drop_out_a is None:
            drop_out_a = (drop_out_v / at_20 if drop_out_v
                          else pull_in_a * figures.DROP_OUT_SHARE / figures.PULL_IN_SHARE)
        return CoilFigures(pull_in_a, min(drop_out_a, pull_in_a))

    def _resistor(self, primitive: Primitive, part: Part) -> Law:
        at_v = self._at_v(primitive)
        return Resistance(at_v / self._drawn_a(primitive, at_v, at_v / figures.RESISTOR_OHM))

    def _load(self, primitive: Primitive, part: Part) -> Law:
        at_v = self._at_v(primitive)
        otherwise = figures.LOAD_A * figures.NOMINAL_V / self.vehicle.nominal_v
        return Resistance(at_v / self._drawn_a(primitive, at_v, otherwise))

    def _filament(self, primitive: Primitive, part: Part) -> Law:
        law = self._load(primitive, part)
        assert isinstance(law, Resistance)
        if "linear" in primitive.flags:
            return law
        at_v = self._at_v(primitive)
        return Filament(at_v / law.ohm, at_v)

    def _motor(self, primitive: Primitive, part: Part) -> Law:
        at_v = self._at_v(primitive)
        running = self._drawn_a(primitive, at_v, figures.LOAD_A)
        stalled = primitive.figure("current", "stalls") or running * figures.STALL_FACTOR
        return Motor(running, max(stalled, 1.05 * running), at_v)

    def _speaker(self, primitive: Primitive, part: Part) -> Law:
        return Resistance(primitive.figure("resistance") or figures.SPEAKER_OHM)

    def _winding(self, primitive: Primitive, part: Part) -> Law:
        at_v = self._at_v(primitive)
        return Resistance(at_v / self._drawn_a(primitive, at_v, at_v / figures.WINDING_OHM))

    def _inductor(self, primitive: Primitive, part: Part) -> Law:
        return Resistance(primitive.figure("resistance") or figures.INDUCTOR_OHM)

    def _joint(self, primitive: Primitive, part: Part) -> Law:
        return Resistance(primitive.figure("resistance") or figures.JOINT_OHM)

    def _contact(self, primitive: Primitive, part: Part) -> Law:
        given = primitive.figure("resistance")
        if given is not None:
            return Resistance(given)
        waits_for_coil = any(clause.actuator == "coil" for clause in primitive.clauses)
        return Resistance(figures.RELAY_CONTACT_OHM if waits_for_coil
                          else figures.SWITCH_CONTACT_OHM)

    def _thermistor(self, primitive: Primitive, part: Part) -> Law:
        return Resistance(thermistor_ohm(primitive.table, self.ambient_c)
                          if primitive.table
                          else primitive.figure("resistance") or figures.RESISTOR_OHM)

    def _fuse(self, primitive: Primitive, part: Part) -> Law:
        given = primitive.figure("resistance")
        rating = primitive.figure("current")
        if given is not None:
            return Resistance(given)
        if not rating:
            self.assumptions.append(f"{part.name}: no rating written, its resistance is that of "
                                    "a 10 A fuse and it never opens")
        return Resistance(fuse_curves.fuse_ohm(rating or 10.0))

    def _led(self, primitive: Primitive, part: Part) -> Law:
        drop_v = primitive.figure("voltage", "drop")
        amperes = primitive.figure("current") or figures.LED_A
        slope_v = figures.LED_IDEALITY * THERMAL_VOLTAGE_V
        at_v = primitive.figure("voltage", "at")
        if drop_v is not None and at_v is None:
            return Junction(drop_v, amperes, slope_v)  # a bare LED: its resistor is drawn apart
        at_v = at_v or self.vehicle.nominal_v
        drop_v = min(drop_v or figures.LED_DROP_V, 0.9 * at_v)
        return Junction(drop_v, amperes, slope_v, (at_v - drop_v) / amperes)

    def _diode(self, primitive: Primitive, part: Part) -> Law:
        drop_v = primitive.figure("voltage", "drop") or figures.DIODE_DROP_V
        at_a = primitive.figure("current") or figures.DIODE_AT_A
        slope_v = figures.DIODE_IDEALITY * THERMAL_VOLTAGE_V
        series = figures.DIODE_SERIES_OHM * figures.DIODE_AT_A / at_a
        inner_v = max(drop_v - series * at_a, 0.1 * drop_v)
        return Junction(inner_v, at_a, slope_v, series)

    def _battery(self, primitive: Primitive, part: Part) -> Law:
        nominal = self.battery_v[part.name]
        scale = nominal / figures.NOMINAL_V
        capacity = part.kind.figures.get(("", "capacity"))
        capacity_ah = capacity.value if capacity is not None else figures.BATTERY_AH
        share = part.kind.figures.get(("", "share"))
        charge = share.value if share is not None else 1.0
        ohm = primitive.figure("resistance") or primitive.figure("resistance", "internal")
        if ohm is None:
            ohm = figures.BATTERY_OHM * scale * figures.BATTERY_AH / capacity_ah
        return Cell(figures.open_circuit_v(charge, nominal), ohm,
                    figures.charge_ohm(charge, capacity_ah, nominal))

    def _alternator(self, primitive: Primitive, part: Part) -> Law:
        scale = self.vehicle.nominal_v / figures.NOMINAL_V
        return Alternator(
            primitive.figure("voltage", "regulates") or primitive.figure("voltage", "at")
            or primitive.figure("voltage") or figures.REGULATED_V * scale,
            primitive.figure("current", "limit") or primitive.figure("current")
            or figures.ALTERNATOR_A,
            primitive.figure("resistance") or primitive.figure("resistance", "internal")
            or figures.ALTERNATOR_OHM * scale)


def thermistor_ohm(table: tuple[tuple[float, float], ...], temperature_c: float) -> float:
    """Return the resistance at a temperature: between the table's rows ln R is taken as straight in
    1/T (the beta formula of thermistors); outside of them the end rows' line goes on."""
    if len(table) == 1:
        return table[0][1]
    place = next((i for i, (t, _) in enumerate(table[1:], 1) if temperature_c <= t),
                 len(table) - 1)
    (t0, r0), (t1, r1) = table[place - 1], table[place]
    x0, x1 = 1 / (t0 + 273.15), 1 / (t1 + 273.15)
    share = (1 / (temperature_c + 273.15) - x0) / (x1 - x0)
    return math.exp(math.log(r0) + share * (math.log(r1) - math.log(r0)))


def assemble(vehicle: Vehicle, ambient_c: float = 20.0) -> VehicleCircuit:
    """Return the circuit of `vehicle` with its metal at `ambient_c`."""
    return _Assembler(vehicle, ambient_c).run()
