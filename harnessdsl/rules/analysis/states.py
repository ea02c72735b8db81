"""States of everything that opens and closes contacts, packed into whole numbers.

Every variable (an actuator, a coil, a temperature, ...) owns one bit for each of its positions.
A condition is a number in which the bits of all positions that it allows are set, so `&` joins
two conditions, and a variable without any bit left means that both can never hold together.
A state is a condition with exactly one bit for each variable.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from harnessdsl.model.kind import Clause, Primitive
from harnessdsl.model.topology import Edge, Topology
from harnessdsl.model.vehicle import Part, Vehicle

PURE = 1
"""Set while a path holds no resistance to speak of, so that it would be a short."""
UNFUSED = 2
"""Set while a path holds no fuse, breaker or link."""
_FIRST_BIT = 2

RESERVED_POSITIONS: dict[str, tuple[str, ...]] = {
    # the first position is the one of a parked, cold vehicle
    "coil": ("released", "energised"),
    "heat": ("cold", "hot"),
    "pressure": ("no-pressure", "pressure"),
    "motion": ("stopped", "running"),
    "trip": ("intact", "tripped"),
}


@dataclass(frozen=True, slots=True)
class Variable:
    """One thing with positions: `part` and `name` say which."""

    part: str
    name: str
    """The actuator, or a reserved word, or `coil` with the coil's name behind a blank."""
    positions: tuple[str, ...]
    shift: int
    rest: int
    """The bit of its position at rest."""
    coil: Primitive | None = None

    @property
    def mask(self) -> int:
        return ((1 << len(self.positions)) - 1) << self.shift

    def bit(self, position: str) -> int:
        return 1 << (self.shift + self.positions.index(position))

    def allowed(self, condition: int) -> tuple[str, ...]:
        """Return the positions that `condition` allows."""
        return tuple(p for i, p in enumerate(self.positions) if condition >> (self.shift + i) & 1)


@dataclass(frozen=True, slots=True)
class Closing:
    """When a contact is closed: the condition, and the masks of its variables."""

    condition: int
    masks: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class States:
    """All variables of a vehicle."""

    variables: Mapping[tuple[str, str], Variable]
    everything: int
    """The condition that always holds (both flags set)."""
    rest: int
    """The state of a parked vehicle: switches at rest, relays released, cold, engine off."""
    closings: Mapping[int, Closing]
    """By `id` of the contact's edge in the topology."""

    def closing(self, edge: Edge) -> Closing:
        return self.closings[id(edge)]

    def closed(self, edge: Edge, state: int) -> bool:
        """Say whether a contact is closed in `state`."""
        return not state & ~self.closings[id(edge)].condition

    def possible(self, condition: int) -> bool:
        """Say whether every variable still has a position."""
        return all(condition & variable.mask for variable in self.variables.values())

    def restricted(self, condition: int) -> list[Variable]:
        """Return the variables that `condition` says something about."""
        return [v for v in self.variables.values() if condition & v.mask != v.mask]

    def describe(self, condition: int) -> str:
        """Return the condition in the words of the language, such as `S1 = run, K2 energised`."""
        words = []
        for variable in self.restricted(condition):
            allowed = " or ".join(variable.allowed(condition))
            if variable.coil is not None or variable.name in RESERVED_POSITIONS:
                words.append(f"{variable.part} {allowed}")
            elif variable.name == "main":
                words.append(f"{variable.part} = {allowed}")
            else:
                words.append(f"{variable.part}.{variable.name} = {allowed}")
        return ", ".join(words)


def coil_of(part: Part, name: str) -> Primitive | None:
    """Return the coil that a clause speaks of; the first one when it gives no name."""
    coils = [p for p in part.kind.primitives if p.type == "coil"]
    return next((p for p in coils if not name or p.name == name), None)


def _key(part: Part, clause: Clause) -> tuple[str, str]:
    if clause.actuator == "coil":
        coil = coil_of(part, clause.of)
        return part.name, f"coil {coil.name if coil else clause.of}"
    return part.name, clause.actuator


def build_states(vehicle: Vehicle, topology: Topology) -> States:
    """Return the variables of all contacts of `vehicle`."""
    variables: dict[tuple[str, str], Variable] = {}
    shift = _FIRST_BIT
    contacts = [edge for edge in topology.edges if edge.type == "contact"]
    for edge in contacts:
        assert edge.primitive is not None
        part = vehicle.parts[edge.part]
        for clause in edge.primitive.clauses:
            key = _key(part, clause)
            if key in variables:
                continue
            coil = None
            if clause.actuator in RESERVED_POSITIONS:
                positions = RESERVED_POSITIONS[clause.actuator]
                rest = positions[0]
                if clause.actuator == "coil":
                    coil = coil_of(part, clause.of)
            else:
                actuator = part.kind.actuators.get(clause.actuator)
                positions = actuator.positions if actuator else clause.positions
                rest = actuator.rest if actuator else clause.positions[0]
            variables[key] = Variable(part.name, key[1], positions, shift,
                                      1 << (shift + positions.index(rest)), coil)
            shift += len(positions)
    everything = (1 << shift) - 1
    closings: dict[int, Closing] = {}
    for edge in contacts:
        assert edge.primitive is not None
        condition = everything
        masks: list[int] = []
        for clause in edge.primitive.clauses:
            variable = variables[_key(vehicle.parts[edge.part], clause)]
            allowed = 0
            for position in clause.positions:
                if position in variable.positions:
                    allowed |= variable.bit(position)
            condition &= allowed | ~variable.mask & everything
            masks.append(variable.mask)
        closings[id(edge)] = Closing(condition, tuple(masks))
    rest_state = 0
    for variable in variables.values():
        rest_state |= variable.rest
    return States(variables, everything, rest_state, closings)
