"""Condition -> network: which contacts the switch positions, temperatures and the engine close."""

from __future__ import annotations

from harnessdsl.electric import figures
from harnessdsl.electric.assembly import (
    ContactSetting,
    VehicleCircuit,
    assemble,
    thermistor_ohm,
)
from harnessdsl.electric.circuit import REST, Network, Start
from harnessdsl.electric.elements import OPEN, Element, Law, Motor, Resistance
from harnessdsl.model.kind import Clause
from harnessdsl.model.vehicle import Condition, Part, Vehicle

DEFAULT_AMBIENT_C = 20.0

_kept: list[VehicleCircuit] = []
_KEPT_CIRCUITS = 4


def circuit_of(vehicle: Vehicle, ambient_c: float = DEFAULT_AMBIENT_C) -> VehicleCircuit:
    """Return the vehicle's circuit at `ambient_c`; the last few are kept, as one vehicle is usually
    asked about in many conditions."""
    for place, known in enumerate(_kept):
        if known.vehicle is vehicle and known.ambient_c == ambient_c:
            _kept.append(_kept.pop(place))
            return known
    made = assemble(vehicle, ambient_c)
    _kept.append(made)
    del _kept[:-_KEPT_CIRCUITS]
    return made


def build_network(vehicle: Vehicle, condition: Condition | None = None, *,
                  ambient_c: float | None = None, start: Start = REST) -> Network:
    """Return the vehicle's network in `condition` (every switch at rest without one).

    Args:
        ambient_c: temperature of wires, coils and air; that of the condition, else 20 C, without.
        start: what the condition before left behind; thermal switches between their two
            temperatures stand as they stood there, and cold when nothing is known.
    """
    condition = condition or Condition("rest")
    if ambient_c is None:
        ambient_c = condition.temperatures_c.get("ambient", DEFAULT_AMBIENT_C)
    return set_condition(circuit_of(vehicle, ambient_c), condition, start)


def part_temperature_c(vehicle: Vehicle, part: Part, condition: Condition, ambient_c: float,
                       switches_at_c: float | None = None) -> float:
    """Return how hot a part is: by its own figure in the condition, as the engine where it sits on
    it or in a hot place (or is a switch that only coolant can move), else as the air."""
    own = condition.temperatures_c.get(part.name)
    if own is not None:
        return own
    engine_c = condition.temperatures_c.get("engine")
    if engine_c is None:
        return ambient_c
    hot = part.conductor == "engine" or (
        switches_at_c is not None and switches_at_c > figures.ENGINE_SWITCH_C)
    place, seen = part.place, set()
    while place and place in vehicle.places and place not in seen and not hot:
        seen.add(place)
        hot = "hot" in vehicle.places[place].exposure
        place = vehicle.places[place].inside
    return engine_c if hot else ambient_c


def set_condition(assembled: VehicleCircuit, condition: Condition, start: Start = REST) -> Network:
    """Return the network of an assembled vehicle in `condition`."""
    setter = _Setter(assembled, condition, start)
    return setter.network()


class _Setter:
    def __init__(self, assembled: VehicleCircuit, condition: Condition, start: Start) -> None:
        self.assembled = assembled
        self.vehicle = assembled.vehicle
        self.condition = condition
        self.start = start
        self.hot: dict[str, bool] = {}
        self.between: list[str] = []

    def network(self) -> Network:
        assembled, condition = self.assembled, self.condition
        closed = {contact.id: self._holds(contact) for contact in assembled.contacts
                  if contact.clauses}
        laws: dict[str, Law] = {}
        for name, table in assembled.thermistors.items():
            if table:
                element = self._element(name)
                part = self.vehicle.parts[element.part]
                temperature = part_temperature_c(self.vehicle, part, condition,
                                                 assembled.ambient_c)
                laws[name] = Resistance(thermistor_ohm(table, temperature))
        for name in assembled.alternators:
            element = self._element(name)
            if self._motion(self.vehicle.parts[element.part]) != "running":
                laws[name] = OPEN
        for name in assembled.motors:
            element = self._element(name)
            if (condition.states.get((element.part, "motion")) == "stalled"
                    and isinstance(element.law, Motor)):
                laws[name] = Resistance(element.law.winding_ohm)
        opened = dict(self.start.opened)
        for (part_name, what), state in condition.states.items():
            if what == "trip" and state == "tripped":
                for element in assembled.circuit.elements:
                    if element.part == part_name and element.role in ("breaker", "fuse", "link"):
                        opened[element.id] = f"{part_name} is tripped in this condition"
        return Network(assembled.circuit, closed, laws, condition.name, assembled.ambient_c,
                       self.hot, tuple(self.between), opened, assembled.assumptions)

    def _element(self, name: str) -> Element:
        circuit = self.assembled.circuit
        return circuit.elements[circuit.element_index[name]]

    def _holds(self, contact: ContactSetting) -> bool:
        part = self.vehicle.parts[contact.part]
        return all(self._agrees(contact, clause, part) for clause in contact.clauses)

    def _agrees(self, contact: ContactSetting, clause: Clause, part: Part) -> bool:
        condition = self.condition
        match clause.actuator:
            case "heat":
                return (clause.positions == ("hot",)) == self._is_hot(contact, part)
            case "pressure":
                otherwise = "pressure" if condition.engine_running else "no-pressure"
                return condition.states.get((part.name, "pressure"),
                                            otherwise) in clause.positions
            case "motion":
                return self._motion(part) in clause.positions
            case "trip":
                return condition.states.get((part.name, "trip"), "intact") in clause.positions
            case actuator:
                known = part.kind.actuators.get(actuator)
                at_rest = known.rest if known is not None else ""
                return condition.positions.get((part.name, actuator), at_rest) in clause.positions

    def _motion(self, part: Part) -> str:
        """A motor with a park contact stands in its park position unless the condition says
        otherwise; what the engine drives turns with it."""
        given = self.condition.states.get((part.name, "motion"))
        if given is not None:
            return "running" if given == "stalled" else given
        turns = self.condition.engine_running and part.family != "motor"
        return "running" if turns else "stopped"

    def _is_hot(self, contact: ContactSetting, part: Part) -> bool:
        if contact.hot_c is None or contact.cold_c is None:
            temperature = part_temperature_c(self.vehicle, part, self.condition,
                                             self.assembled.ambient_c)
            return temperature > figures.ENGINE_SWITCH_C
        temperature = part_temperature_c(self.vehicle, part, self.condition,
                                         self.assembled.ambient_c, contact.hot_c)
        if temperature >= contact.hot_c:
            hot = True
        elif temperature <= contact.cold_c:
            hot = False
        else:
            hot = self.start.hot.get(contact.id, False)
            self.between.append(contact.id)
        self.hot[contact.id] = hot
        return hot
