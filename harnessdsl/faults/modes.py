"""How things fail: every fault that a vehicle can have, with what it does to the circuit.

A fault is a set of changes to elements of the network: another law, an element more (a chafe to
metal, a weld across a contact), a contact that no longer closes. How likely each is stands in
`usual`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from harnessdsl.electric.assembly import VehicleCircuit, element_id, reference_node
from harnessdsl.electric.elements import OPEN, Alternator, Cell, Element, Motor, Resistance
from harnessdsl.faults.fault import Fault
from harnessdsl.faults.neighbours import (
    SHORT_OHM,
    chafed_runs,
    shorted_capacitors,
    touching_pins,
)
from harnessdsl.faults.usual import LIKELIHOOD, Likelihoods, exposure
from harnessdsl.model.topology import Edge
from harnessdsl.model.vehicle import Part

__all__ = ["SHORT_OHM", "Fault", "FaultFinder", "find_faults"]

WELD_OHM = 0.01
CORRODED_OHM = 8.0
"""A green joint: a meter shows full voltage behind it, a lamp stays dim."""
POOR_CONTACT_OHM = 1.0
LIFTED_EARTH_OHM = 2.0
SHORTED_TURN_SHARE = 0.35
SEIZED_FACTOR = 5.0
"""Load on a seized motor, in stalled currents: more than it can ever turn."""
WEAK_SHARE = 0.5
"""Current that worn brushes still pass (common practice)."""
FLAT_EMF_SHARE = 0.93
FLAT_OHM_FACTOR = 12.0
"""A battery at the end: 11.8 V open and much inner resistance (common practice)."""
THERMAL_SHIFT_C = 15.0
HOT_RESISTOR_OHM, HOT_RESISTOR_FACTOR = 10.0, 5.0
"""Blower and ballast resistors run hot and burn through (common practice)."""

_LOAD_NAMES = {"filament": "filament burnt out", "heater": "heating wire broken",
               "solenoid": "solenoid winding open", "led": "LED dead", "load": "dead inside",
               "speaker": "speaker coil open", "winding": "winding open"}


def _named(part: Part) -> str:
    return f"{part.name} {part.label}".rstrip()


class FaultFinder:
    """Lists the faults of one vehicle; each primitive and wire says how it fails."""

    def __init__(self, assembled: VehicleCircuit) -> None:
        self.assembled = assembled
        self.vehicle = assembled.vehicle
        self.circuit = assembled.circuit
        self.reference = reference_node(self.vehicle)
        self.metal = {node for node in self.circuit.nodes if node.startswith("@")}
        self.by_type: dict[str, Callable[[Edge, Element, Part], Iterator[Fault]]] = {
            "contact": self._contact, "coil": self._coil, "fuse": self._fuse,
            "breaker": self._fuse, "link": self._fuse, "motor": self._motor,
            "source": self._battery, "alternator": self._alternator, "diode": self._diode,
            "resistor": self._resistor, "thermistor": self._sender,
        }

    def all_faults(self) -> list[Fault]:
        """Return every single fault in the order of the file, each id once."""
        found: dict[str, Fault] = {}
        for edge in self.assembled.topology.edges:
            for fault in self._of_edge(edge):
                found.setdefault(fault.id, fault)
        for part in self.vehicle.parts.values():
            for fault in self._of_part(part):
                found.setdefault(fault.id, fault)
        for make in (touching_pins, chafed_runs, shorted_capacitors):
            for fault in make(self.assembled):
                found.setdefault(fault.id, fault)
        usual = Likelihoods(self.vehicle)
        return [replace(f, likelihood=f.likelihood * usual.factor(f)) for f in found.values()]

    # edges

    def _of_edge(self, edge: Edge) -> Iterator[Fault]:
        identity = element_id(edge)
        index = self.circuit.element_index.get(identity)
        if index is None:
            return
        element = self.circuit.elements[index]
        if edge.wire is not None:
            yield from self._wire(edge, element)
        elif edge.type == "plug":
            yield from self._plug(edge, element)
        elif edge.type == "bond":
            yield from self._bond(edge, element)
        else:
            part = self.vehicle.parts[edge.part]
            make = self.by_type.get(edge.type)
            if make is not None:
                yield from make(edge, element, part)
            elif edge.type in _LOAD_NAMES:
                yield from self._load(edge, element, part)

    def _fault(self, mode: str, words: str, factor: float = 1.0, **changes: object) -> Fault:
        part, wire = str(changes.get("part", "")), str(changes.get("wire", ""))
        tail = str(changes.pop("tail", ""))
        identity = f"{mode}:{part or wire}{':' + tail if tail else ''}"
        return Fault(identity, mode, words, likelihood=LIKELIHOOD[mode] * factor,
                     **changes)  # type: ignore[arg-type]

    def _wire(self, edge: Edge, element: Element) -> Iterator[Fault]:
        wire = edge.wire
        assert wire is not None
        look = " ".join(word for word in (wire.area_text, wire.colour) if word)
        words = f"wire {wire.name}{f' ({look})' if look else ''}"
        places = [self.vehicle.parts[end.part].place for end in (wire.a, wire.b)
                  if end.part in self.vehicle.parts]
        for run in self.vehicle.runs.values():
            if wire.name in run.wires:
                places += [*run.places, *run.grommets]
        factor = max([exposure(self.vehicle, place, "wire") for place in places] or [1.0])
        rubs = max([exposure(self.vehicle, place, "chafe") for place in places] or [1.0])
        length = min(2.0, max(0.3, wire.length_m or 1.0))
        joint = max([exposure(self.vehicle, place, "joint") for place in places] or [1.0])
        yield self._fault("wire-open", f"{words}: broken, or off at one end", factor * length,
                          wire=wire.name, laws={element.id: OPEN})
        base = element.law.ohm if isinstance(element.law, Resistance) else 0.0
        yield self._fault("wire-corroded", f"{words}: corroded end, high resistance", joint,
                          wire=wire.name, laws={element.id: Resistance(base + CORRODED_OHM)})
        if not self._is_earth(element.a) or not self._is_earth(element.b):
            node = element.b if self._is_earth(element.a) else element.a
            chafe = Element(f"chafe:{wire.name}", node, self.reference, Resistance(SHORT_OHM),
                            "chafe")
            yield self._fault("wire-short", f"{words}: chafed through to metal", rubs * length,
                              wire=wire.name, added=(chafe,))

    def _is_earth(self, node: str) -> bool:
        part = self.vehicle.parts.get(self.assembled.topology.part_of.get(node, ""))
        return node in self.metal or (part is not None and part.family == "earth")

    def _plug(self, edge: Edge, element: Element) -> Iterator[Fault]:
        part = self.vehicle.parts[edge.part]
        wired = all(any(e.wire is not None for e in self.assembled.topology.edges_at[node])
                    for node in (edge.a, edge.b))
        if not wired:
            return
        cavity = edge.a.rpartition(".")[2]
        words = f"plug {_named(part)}, cavity {cavity}"
        factor = exposure(self.vehicle, part.place, "joint")
        yield self._fault("plug-open", f"{words}: pin pushed back, no contact", factor,
                          part=part.name, tail=cavity, laws={element.id: OPEN})
        yield self._fault("plug-corroded", f"{words}: corroded, high resistance", factor,
                          part=part.name, tail=cavity, laws={element.id: Resistance(CORRODED_OHM)})

    def _bond(self, edge: Edge, element: Element) -> Iterator[Fault]:
        part = self.vehicle.parts[edge.part]
        factor = exposure(self.vehicle, part.place, "joint")
        if part.family != "earth":
            factor *= 0.3
        what = f"earth point {_named(part)}" if part.family == "earth" else (
            f"{_named(part)}: earth through its case")
        yield self._fault("earth-lifted", f"{what}: loose or off", factor, part=part.name,
                          tail=edge.a, laws={element.id: OPEN})
        yield self._fault("earth-corroded", f"{what}: corroded, high resistance", factor,
                          part=part.name, tail=edge.a,
                          laws={element.id: Resistance(LIFTED_EARTH_OHM)})

    def _contact(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        assert edge.primitive is not None
        factor = exposure(self.vehicle, part.place, "device")
        pins = f"{edge.primitive.a}-{edge.primitive.b}"
        clauses = edge.primitive.clauses
        if "electronic" in edge.primitive.flags:
            yield self._fault("output-dead", f"{_named(part)}: output {pins} dead", factor,
                              part=part.name, tail=element.id, laws={element.id: OPEN})
            return
        thermal = any(clause.actuator == "heat" for clause in clauses)
        opened, welded = (("thermal-stuck-open", "thermal-stuck-closed") if thermal
                          else ("contact-open", "contact-welded"))
        yield self._fault(opened, f"{_named(part)}: contact {pins} does not close", factor,
                          part=part.name, tail=element.id, laws={element.id: OPEN})
        # a relay's contact welds; a plunger sticks; one contact of many in a switch hardly does
        sticks = 1.0 if any(c.actuator == "coil" for c in clauses) else (
            1.5 if sum(p.type == "contact" for p in part.kind.primitives) == 1 else 0.35)
        weld = Element(f"weld:{element.id}", element.a, element.b, Resistance(WELD_OHM), "weld")
        yield self._fault(welded, f"{_named(part)}: contact {pins} does not open any more",
                          factor if thermal else factor * sticks,
                          part=part.name, tail=element.id, added=(weld,))
        yield self._fault("contact-burnt", f"{_named(part)}: contact {pins} burnt, high resistance",
                          factor, part=part.name, tail=element.id,
                          laws={element.id: Resistance(POOR_CONTACT_OHM)})
        setting = next((c for c in self.assembled.contacts if c.id == element.id), None)
        if thermal and setting is not None and setting.hot_c is not None:
            for word, shift in (("late", THERMAL_SHIFT_C), ("early", -THERMAL_SHIFT_C)):
                yield self._fault(
                    "thermal-shifted", f"{_named(part)}: switches {THERMAL_SHIFT_C:g} C too {word}",
                    factor, part=part.name, thermal_shift_c=shift,
                    tail=element.id if shift > 0 else f"{element.id}:{word}")

    def _coil(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        factor = exposure(self.vehicle, part.place, "device")
        name = f" '{element.name}'" if element.name else ""
        yield self._fault("coil-open", f"{_named(part)}: coil{name} open", factor,
                          part=part.name, tail=element.id, laws={element.id: OPEN})
        if isinstance(element.law, Resistance):
            yield self._fault(
                "coil-short", f"{_named(part)}: coil{name} has shorted turns", factor,
                part=part.name, tail=element.id,
                laws={element.id: Resistance(element.law.ohm * SHORTED_TURN_SHARE)})

    def _fuse(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        mode = "link-open" if part.family == "link" else "fuse-blown"
        what = "burnt through" if part.family == "link" else "blown, or not making contact"
        factor = exposure(self.vehicle, part.place, "device")
        yield self._fault(mode, f"{_named(part)}: {what}", factor, part=part.name,
                          laws={element.id: OPEN})
        yield self._fault("fuse-contact", f"{_named(part)}: corroded clips, high resistance",
                          exposure(self.vehicle, part.place, "joint"), part=part.name,
                          laws={element.id: Resistance(POOR_CONTACT_OHM)})

    def _load(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        if edge.primitive is not None and "electronic" in edge.primitive.flags:
            yield self._fault("module-dead", f"{_named(part)}: dead inside", part=part.name,
                              tail=element.id, laws={element.id: OPEN, **self._outputs(part)})
            return
        mode = {"filament": "filament-open", "solenoid": "solenoid-open"}.get(edge.type,
                                                                                "load-open")
        name = f" '{element.name}'" if element.name else ""
        yield self._fault(mode, f"{_named(part)}:{name} {_LOAD_NAMES[edge.type]}",
                          exposure(self.vehicle, part.place, "device"), part=part.name,
                          tail=element.id, laws={element.id: OPEN})

    def _outputs(self, part: Part) -> dict[str, Resistance]:
        """The output pins of a module, all open: they are dead with it."""
        names = (f"{part.name}:contact:{p.a}-{p.b}:{p.name}" for p in part.kind.primitives
                 if p.type == "contact" and "electronic" in p.flags)
        return {name: OPEN for name in names if name in self.circuit.element_index}

    def _motor(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        factor = exposure(self.vehicle, part.place, "device")
        yield self._fault("motor-worn", f"{_named(part)}: brushes worn, open", factor,
                          part=part.name, tail=element.id, laws={element.id: OPEN})
        if isinstance(element.law, Motor):
            weak = replace(element.law, running_a=element.law.running_a * WEAK_SHARE,
                           stalled_a=element.law.stalled_a * WEAK_SHARE)
            yield self._fault("motor-weak", f"{_named(part)}: worn, turns slowly", factor,
                              part=part.name, tail=element.id, laws={element.id: weak})
            yield self._fault(
                "motor-seized", f"{_named(part)}: seized", factor, part=part.name, tail=element.id,
                laws={element.id: replace(element.law,
                                          running_a=SEIZED_FACTOR * element.law.stalled_a)})

    def _battery(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        if isinstance(element.law, Cell):
            law = element.law
            yield self._fault(
                "battery-low", f"{_named(part)}: flat or worn out", part=part.name,
                laws={element.id: Cell(law.emf_v * FLAT_EMF_SHARE, law.ohm * FLAT_OHM_FACTOR,
                                       max(law.charge_ohm, law.ohm * FLAT_OHM_FACTOR))})

    def _alternator(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        if isinstance(element.law, Alternator):
            yield self._fault("alternator-dead", f"{_named(part)}: does not charge",
                              part=part.name, laws={element.id: OPEN})

    def _diode(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        yield self._fault("diode-open", f"{_named(part)}: diode open", part=part.name,
                          tail=element.id, laws={element.id: OPEN})
        through = Element(f"through:{element.id}", element.a, element.b, Resistance(0.05), "weld")
        yield self._fault("diode-short", f"{_named(part)}: diode shorted", part=part.name,
                          tail=element.id, added=(through,))

    def _resistor(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        if edge.primitive is not None and "electronic" in edge.primitive.flags:
            pin = edge.primitive.name.rpartition("-")[2]
            yield self._fault("input-dead", f"{_named(part)}: pin {pin} dead inside",
                              exposure(self.vehicle, part.place, "device"), part=part.name,
                              tail=element.id, laws={element.id: OPEN})
            return
        ohm = element.law.ohm if isinstance(element.law, Resistance) else math.inf
        # one that takes many watts glows and burns through
        factor = HOT_RESISTOR_FACTOR if ohm < HOT_RESISTOR_OHM else 1.0
        yield self._fault("resistor-open", f"{_named(part)}: resistor {edge.primitive.a}-"
                          f"{edge.primitive.b} open" if edge.primitive else "", factor,
                          part=part.name, tail=element.id, laws={element.id: OPEN})

    def _sender(self, edge: Edge, element: Element, part: Part) -> Iterator[Fault]:
        yield self._fault("sender-open", f"{_named(part)}: open", part=part.name, tail=element.id,
                          laws={element.id: OPEN})
        yield self._fault("sender-short", f"{_named(part)}: shorted", part=part.name,
                          tail=element.id, laws={element.id: Resistance(1.0)})

    # whole parts

    def _of_part(self, part: Part) -> Iterator[Fault]:
        if part.connector is not None and not part.connector.of:
            plugs = {f"{part.name}:plug:{cavity}": OPEN for cavity in part.connector.cavities
                     if f"{part.name}:plug:{cavity}" in self.circuit.element_index}
            if len(plugs) > 1:
                yield self._fault("plug-pulled", f"plug {_named(part)}: apart",
                                  exposure(self.vehicle, part.place, "joint"), part=part.name,
                                  laws=plugs)
        contacts = {f"{part.name}:contact:{p.a}-{p.b}" + (f":{p.name}" if p.name else ""): p
                    for p in part.kind.primitives if p.type == "contact"}
        contacts = {name: p for name, p in contacts.items() if name in self.circuit.element_index}
        gated = [name for name in contacts
                 if self.circuit.elements[self.circuit.element_index[name]].gate]
        if part.family == "relay":
            yield from self._wrong_relay(part, gated)
        for actuator in part.kind.actuators.values():
            mine = {name: p for name, p in contacts.items() if "electronic" not in p.flags
                    and any(c.actuator == actuator.name for c in p.clauses)}
            if not mine:
                continue
            for position in actuator.positions:
                held = {name: all(position in c.positions for c in p.clauses
                                  if c.actuator == actuator.name) for name, p in mine.items()}
                label = "" if actuator.name == "main" else f"{actuator.name} "
                yield self._fault("switch-stuck", f"{_named(part)}: {label}stuck in '{position}'",
                                  1 / len(actuator.positions), part=part.name,
                                  tail=f"{actuator.name}={position}", closed=held)

    def _wrong_relay(self, part: Part, gated: list[str]) -> Iterator[Fault]:
        """A relay with one contact: one that works the other way round; a changeover: a make relay,
        which has no 87a."""
        elements = {name: self.circuit.elements[self.circuit.element_index[name]]
                    for name in gated}
        if len(gated) == 1:
            yield self._fault("wrong-relay", f"{_named(part)}: the wrong relay is fitted (its "
                              "contact works the other way round)", part=part.name,
                              inverted=tuple(gated))
            return
        rests = {name: OPEN for name, element in elements.items()
                 if element.gate and all(not term.energised for term in element.gate)}
        if rests and len(rests) < len(gated):
            yield self._fault("wrong-relay", f"{_named(part)}: the wrong relay is fitted (a make "
                              "relay in the place of a changeover relay)", part=part.name,
                              laws=rests)


def find_faults(assembled: VehicleCircuit) -> list[Fault]:
    """Return every single fault of a vehicle, likelihoods summing to 1."""
    faults = FaultFinder(assembled).all_faults()
    total = math.fsum(fault.likelihood for fault in faults)
    return [replace(fault, likelihood=fault.likelihood / total) for fault in faults]
