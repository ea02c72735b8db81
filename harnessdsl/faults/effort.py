"""What it costs to look somewhere: minutes to get there, to open a plug, to bring about a
condition.

The minutes of places come from the file; the rest is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from harnessdsl.faults.case import BATTERY_OFF, Case
from harnessdsl.faults.predictions import State
from harnessdsl.model.location import access, enclosing, part_places
from harnessdsl.model.vehicle import Condition, Part, Vehicle

PROBE_MIN = 0.4
UNPLUG_MIN = 1.0
LOOK_MIN = 0.3
BATTERY_OFF_MIN = 2.0
SWAP_MIN = 1.0
NEW_FUSE_MIN = 1.0
UNKNOWN_PLACE_MIN = 5.0
ENGINE_MIN = 1.0
HOT_MIN = 6.0
SWITCH_MIN = 0.3
HOT_C = 90.0


@dataclass(slots=True)
class Effort:
    """Minutes, given what is open already and how the car stands now."""

    vehicle: Vehicle
    opened: set[str]
    now: str
    """The condition that the car is in."""
    apart: set[str]

    @classmethod
    def of(cls, vehicle: Vehicle, case: Case) -> Effort:
        """Return the effort after everything in the case."""
        opened = set(case.opened)
        apart: set[str] = set()
        now = ""
        for seen in case.observations:
            now = seen.condition or now
            apart.update(seen.unplugged)
            for name in (*places_of_node(vehicle, seen.subject), *(
                    places_of_node(vehicle, seen.against) if seen.against else ())):
                if seen.kind in ("volts", "lamp", "ohms", "amps", "swap", "fuse"):
                    opened.update(p.name for p in enclosing(vehicle, name))
        return cls(vehicle, opened, now, apart)

    def reach(self, places: Iterable[str]) -> float:
        """Return the minutes to get at places, steps done already left out."""
        total = 0.0
        known = set(self.opened)
        for name in dict.fromkeys(places):
            if name not in self.vehicle.places:
                total += UNKNOWN_PLACE_MIN
                continue
            steps = access(self.vehicle, name).steps
            total += sum(minutes for place, _, minutes in steps if place not in known)
            known.update(p.name for p in enclosing(self.vehicle, name))
        return total

    def condition(self, name: str) -> float:
        """Return the minutes to bring a condition about."""
        if name == self.now or not name:
            return 0.0
        if name == BATTERY_OFF:
            return BATTERY_OFF_MIN
        found = self.vehicle.conditions.get(name)
        back = BATTERY_OFF_MIN / 2 if self.now == BATTERY_OFF else 0.0
        return back + (condition_minutes(found) if found is not None else SWITCH_MIN)

    def state(self, state: State) -> float:
        """Return the minutes for a state: the condition, plugs to part, fuses to pull."""
        total = self.condition(state.condition)
        for plug in state.unplugged:
            if plug not in self.apart:
                total += UNPLUG_MIN + self.reach(places_of_node(self.vehicle, plug))
        for fuse in state.pulled:
            total += LOOK_MIN + self.reach(places_of_node(self.vehicle, fuse))
        return total


def condition_minutes(condition: Condition) -> float:
    """Return the minutes to bring a condition about from a parked car."""
    total = SWITCH_MIN
    if condition.engine_running:
        total += ENGINE_MIN
    if condition.temperatures_c.get("engine", 0.0) >= HOT_C:
        total += HOT_MIN
    return total


def part_of_node(vehicle: Vehicle, node: str) -> Part | None:
    """Return the part that a node, part or wire's first end belongs to."""
    wire = vehicle.wires.get(node)
    if wire is not None:
        node = wire.a.node
    return vehicle.parts.get(node.partition(".")[0])


def places_of_node(vehicle: Vehicle, node: str) -> tuple[str, ...]:
    """Return the place where one gets at a node: of a connector's half its own."""
    part = part_of_node(vehicle, node)
    if part is None:
        return ()
    if part.connector is not None:
        pieces = node.split(".")
        half = part.connector.halves.get(pieces[1]) if len(pieces) > 2 else None
        if half is not None and half.place in vehicle.places:
            return (half.place,)
    found = part_places(part, vehicle)
    return found[:1] if found else ("",)
