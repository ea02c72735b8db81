"""Conditions for a vehicle whose file declares few: all at rest, the key on, the engine warm, then
each switch by itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from harnessdsl.model.vehicle import Condition, Part, Vehicle

ENOUGH = 3
"""A file that declares so many conditions knows what it is about."""
MOST = 40
WARM_C = 100.0
"""Above what thermal switches of engines close at (common practice)."""
_KEYS = ("30", "15")
"""A switch with a contact between these (DIN 72552) is the key."""
_MASTERS = ("battery-master-switch",)

Positions = dict[tuple[str, str], str]


def with_conditions(vehicle: Vehicle) -> Vehicle:
    """Return the vehicle with conditions made up besides its own, when it has few."""
    if len(vehicle.conditions) >= ENOUGH:
        return vehicle
    found: dict[str, Condition] = dict(vehicle.conditions)
    for condition in made_conditions(vehicle):
        if len(found) < MOST and not any(_alike(condition, c) for c in found.values()):
            found.setdefault(condition.name, condition)
    return replace(vehicle, conditions=found)


def made_conditions(vehicle: Vehicle) -> Iterator[Condition]:
    """Yield the conditions, the plainest first."""
    yield Condition("rest", "Everything at rest")
    keys = [p for p in vehicle.parts.values() if _is_key(p)]
    on: Positions = {}
    for part in keys:
        moved, position = _most_closed(part)
        if position:
            on[(part.name, moved)] = position
    for part in vehicle.parts.values():
        if part.kind.name in _MASTERS:
            moved, position = _most_closed(part)
            on[(part.name, moved)] = position
    if on:
        yield Condition("key-on", "Key on", on)
    warm = any(clause.actuator == "heat" for p in vehicle.parts.values()
               for primitive in p.kind.primitives for clause in primitive.clauses)
    turns = any(p.family in ("alternator", "dynamo") for p in vehicle.parts.values())
    if warm or turns:
        yield Condition("engine-warm", "Engine running and warm", on, {"engine": WARM_C}, turns)
    for part in vehicle.parts.values():
        if part.kind.name in _MASTERS:
            continue
        for actuator in part.kind.actuators.values():
            for position in actuator.positions:
                if position == actuator.rest or on.get((part.name, actuator.name)) == position:
                    continue
                words = [part.name, *([] if actuator.name == "main" else [actuator.name]), position]
                label = f"{part.label or part.name}: " + " ".join(words[1:])
                yield Condition("-".join(words), label,
                                {**on, (part.name, actuator.name): position})


def _alike(one: Condition, other: Condition) -> bool:
    return (one.positions, one.temperatures_c, one.engine_running) == (
        other.positions, other.temperatures_c, other.engine_running)


def _is_key(part: Part) -> bool:
    return part.family == "switch" and any(
        p.type == "contact" and {p.a, p.b} == set(_KEYS) for p in part.kind.primitives)


def _most_closed(part: Part) -> tuple[str, str]:
    """Return (actuator, position): the lasting position in which most contacts are closed, the one
    with terminal 15 first."""
    best = ("", "", (-1, -1))
    for actuator in part.kind.actuators.values():
        for position in actuator.positions:
            if position in actuator.momentary:
                continue
            closed = [p for p in part.kind.primitives if p.type == "contact" and all(
                position in c.positions for c in p.clauses if c.actuator == actuator.name)]
            rank = (sum({p.a, p.b} == set(_KEYS) for p in closed), len(closed))
            if rank > best[2]:
                best = (actuator.name, position, rank)
    return best[0], best[1]
