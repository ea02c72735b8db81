"""A vehicle looked at in all its conditions: the largest current of everything, and the way that
current takes from the battery to a load and back.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from harnessdsl.electric.conditions import circuit_of
from harnessdsl.electric.elements import Element
from harnessdsl.electric.operating_point import OperatingPoint, matrix
from harnessdsl.electric.short_circuits import ShortCircuits
from harnessdsl.model.kind import Actuator
from harnessdsl.model.vehicle import Condition, Part, Vehicle

MOST_MADE_UP = 120
"""Of conditions made up for a file that declares none."""
HOT = {"engine": 105.0}
PARKED = "parked"
AT_REST = "at rest"

CONDUCTORS = frozenset({"wire", "plug", "bond", "joint", "contact", "fuse", "link", "breaker"})
"""Roles that are meant to lose no voltage."""


@dataclass(frozen=True, slots=True)
class Peak:
    """The largest current of one element, and the condition that it flows in."""

    current_a: float
    condition: str


@dataclass(frozen=True, slots=True)
class Step:
    """One element on the way of a current, and the voltage that is lost in it."""

    element: Element
    drop_v: float


@dataclass(frozen=True, slots=True)
class Way:
    """The way of the current of a load: from the source to it, and back."""

    out: tuple[Step, ...]
    """From the source's live pole to the load, in order of the current's way."""
    back: tuple[Step, ...]
    source: str
    """The live pole that it comes from; '' where the way is lost."""

    @property
    def plain(self) -> bool:
        """Whether nothing but wires, joints, contacts and protection is on the way."""
        return bool(self.source) and all(
            step.element.role in CONDUCTORS for step in (*self.out, *self.back))


class Study:
    """The operating points of a vehicle in all conditions that its file declares, and at rest.

    For a file without conditions some are made up: everything on, and each switch moved through
    its positions. With `every_switch`, switch positions that no declared condition has are looked
    at too, one after the other with the key on.
    """

    def __init__(self, vehicle: Vehicle, every_switch: bool = False) -> None:
        self.vehicle = vehicle
        chosen = list(vehicle.conditions.values() or made_up_conditions(vehicle))
        if vehicle.conditions and every_switch:
            chosen += [c for c in unvisited_conditions(vehicle)
                       if c.name not in vehicle.conditions]
        if not any(is_rest(condition) for condition in chosen):
            chosen.append(Condition(AT_REST, "every switch at rest"))
        self.conditions = {condition.name: condition for condition in chosen}

    @cached_property
    def points(self) -> dict[str, OperatingPoint]:
        """Condition -> operating point, from rest; conditions without an answer are left out."""
        found = matrix(self.vehicle, self.conditions.values())
        return {name: point for name, point in found.items() if not point.failure}

    @cached_property
    def rest(self) -> OperatingPoint | None:
        """The parked vehicle."""
        return next((point for name, point in self.points.items()
                     if is_rest(self.conditions[name])), None)

    @cached_property
    def momentary(self) -> frozenset[str]:
        """Conditions that last for moments: a switch is held against its spring, or a motor is
        held fast."""
        found = set()
        for name, condition in self.conditions.items():
            held = any(
                position in self._actuator(part, actuator).momentary
                for (part, actuator), position in condition.positions.items())
            if held or "stalled" in condition.states.values():
                found.add(name)
        return frozenset(found)

    def _actuator(self, part: str, actuator: str) -> Actuator:
        return self.vehicle.parts[part].kind.actuators[actuator]

    @cached_property
    def steady_points(self) -> dict[str, OperatingPoint]:
        """The points of conditions that may last."""
        return {name: p for name, p in self.points.items() if name not in self.momentary}

    def peaks(self, steady: bool = False) -> dict[str, Peak]:
        """Return element id -> largest current over all conditions (over those that may last)."""
        found: dict[str, Peak] = {}
        for name, point in (self.steady_points if steady else self.points).items():
            currents = point.currents.tolist()
            for element, amperes in zip(point.network.circuit.elements, currents, strict=True):
                before = found.get(element.id)
                if before is None or abs(amperes) > before.current_a:
                    found[element.id] = Peak(abs(amperes), name)
        return found

    @cached_property
    def all_peaks(self) -> dict[str, Peak]:
        return self.peaks()

    @cached_property
    def steady_peaks(self) -> dict[str, Peak]:
        return self.peaks(steady=True)

    @cached_property
    def elements(self) -> dict[str, Element]:
        """Every element by its id; they are the same in all conditions."""
        return {e.id: e for e in circuit_of(self.vehicle).circuit.elements}

    def elements_of(self, part: str, *roles: str) -> list[Element]:
        """Return the elements inside a part, of some roles."""
        return [e for e in self._by_part.get(part, ()) if not roles or e.role in roles]

    @cached_property
    def _by_part(self) -> dict[str, list[Element]]:
        found: dict[str, list[Element]] = {}
        for element in self.elements.values():
            found.setdefault(element.part, []).append(element)
        return found

    @cached_property
    def shorts(self) -> ShortCircuits:
        return ShortCircuits(self.vehicle)

    # --- the way of a current

    @cached_property
    def _at(self) -> dict[str, list[tuple[int, Element]]]:
        found: dict[str, list[tuple[int, Element]]] = {}
        for index, element in enumerate(circuit_of(self.vehicle).circuit.elements):
            found.setdefault(element.a, []).append((index, element))
            found.setdefault(element.b, []).append((index, element))
        return found

    def way(self, point: OperatingPoint, load: str) -> Way:
        """Return the way of a load's current, at each branch along the largest share of it."""
        element = self.elements[load]
        live, far = element.a, element.b
        if abs(point.voltage_v(far)) > abs(point.voltage_v(live)):
            live, far = far, live
        amperes = point.current_a(load)
        forward = (amperes > 0) == (live == element.a)  # whether it flows from live to far
        out, source = self._follow(point, live, element, not forward)
        back, _ = self._follow(point, far, element, forward)
        return Way(tuple(reversed(out)), tuple(back), source)

    def _follow(self, point: OperatingPoint, node: str, before: Element, downstream: bool
                ) -> tuple[list[Step], str]:
        steps: list[Step] = []
        currents = point.currents
        seen = {node}
        while True:
            best: tuple[float, Element] | None = None
            for index, element in self._at[node]:
                if element is before:
                    continue
                leaving = float(currents[index]) * (1.0 if element.a == node else -1.0)
                share = leaving if downstream else -leaving
                if share > 0 and (best is None or share > best[0]):
                    best = (share, element)
            if best is None or best[0] < 1e-9:
                return steps, ""
            element = best[1]
            if element.role in ("source", "alternator"):
                return steps, node
            drop = abs(point.voltage_v(element.a) - point.voltage_v(element.b))
            steps.append(Step(element, drop))
            node = element.b if element.a == node else element.a
            if node in seen:
                return steps, ""
            seen.add(node)
            before = element

    # --- batteries

    @cached_property
    def battery_poles(self) -> tuple[tuple[str, str, str], ...]:
        """(part, live pole, earth pole) of every battery: the earth pole is the one that stands
        nearer to the reference at rest."""
        found = []
        point = self.rest
        for element in self.elements.values():
            if element.role != "source":
                continue
            live, earth = element.a, element.b
            if point is not None and abs(point.voltage_v(earth)) > abs(point.voltage_v(live)):
                live, earth = earth, live
            found.append((element.part, live, earth))
        return tuple(found)

    def battery_current_a(self, point: OperatingPoint, part: str) -> float:
        """Return what a battery gives; negative while it is charged."""
        return -sum(point.current_a(e.id) for e in self.elements_of(part, "source"))


def is_rest(condition: Condition) -> bool:
    """Say whether a condition is the parked vehicle: nothing is set in it."""
    return not (condition.positions or condition.engine_running or condition.states)


def _closing(part: Part, actuator: Actuator, position: str) -> int:
    return sum(
        any(c.actuator == actuator.name and position in c.positions for c in p.clauses)
        for p in part.kind.primitives if p.type == "contact")


def made_up_conditions(vehicle: Vehicle) -> Iterator[Condition]:
    """Yield conditions for a file that declares none: at rest, everything on with the engine
    stopped and running, each switch moved from there, and each moved with the key on alone."""
    yield Condition(PARKED, "every switch at rest")
    settings = _Settings(vehicle)
    on = Condition("everything on", "", settings.lasting, HOT)
    if settings.lasting or any(p.family == "thermo-switch" for p in vehicle.parts.values()):
        yield on
    if any(part.family == "alternator" for part in vehicle.parts.values()):
        yield replace(on, name="everything on, engine running", engine_running=True)
    others = [(key, p) for key, p in settings.every if settings.lasting.get(key) != p]
    for key, position in others[:MOST_MADE_UP]:
        yield Condition(f"everything on, {settings.words(key, position)}", "",
                        {**settings.lasting, key: position}, HOT)
    yield from settings.alone(frozenset())


class _Settings:
    """The switches of a vehicle and where they can be put."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.lasting: dict[tuple[str, str], str] = {}
        """Actuator -> the position that closes most, of those that hold by themselves."""
        self.key: dict[tuple[str, str], str] = {}
        """The same for ignition switches alone."""
        self.every: list[tuple[tuple[str, str], str]] = []
        for part in vehicle.parts.values():
            for actuator in part.kind.actuators.values():
                self._take(part, actuator)

    def _take(self, part: Part, actuator: Actuator) -> None:
        if len(actuator.positions) < 2:
            return
        key = (part.name, actuator.name)
        self.every += [(key, p) for p in actuator.positions]
        lasting = [p for p in actuator.positions
                   if p != actuator.rest and p not in actuator.momentary]
        if lasting:
            best = max(lasting, key=lambda p: _closing(part, actuator, p))
            self.lasting[key] = best
            if _is_ignition(part):
                self.key[key] = best

    def words(self, key: tuple[str, str], position: str) -> str:
        """Return `S1 = run`, or `S5.turn = left` where a switch has several things to move."""
        part, actuator = key
        several = len(self.vehicle.parts[part].kind.actuators) > 1
        return f"{part}.{actuator} = {position}" if several else f"{part} = {position}"

    def alone(self, known: frozenset[tuple[tuple[str, str], str]]) -> Iterator[Condition]:
        """Yield the key on, and with it each switch in each position that is not in `known`."""
        before = "the key on" if self.key else "nothing on"
        if self.key and not known:
            yield Condition(before, "", self.key, HOT)
        wanted = [(key, p) for key, p in self.every
                  if self._rest(key) != p and self.key.get(key) != p and (key, p) not in known]
        join = ", " if self.key else " but "
        for key, position in wanted[:MOST_MADE_UP]:
            yield Condition(f"{before}{join}{self.words(key, position)}", "",
                            {**self.key, key: position}, HOT)

    def _rest(self, key: tuple[str, str]) -> str:
        return self.vehicle.parts[key[0]].kind.actuators[key[1]].rest


def _is_ignition(part: Part) -> bool:
    names = set(part.kind.terminals)
    if part.family not in ("switch", "ignition") or "30" not in names:
        return False
    return "50" in names or ("15" in names and "49" not in names)  # with 49 it is for hazard lights


def unvisited_conditions(vehicle: Vehicle) -> Iterator[Condition]:
    """Yield a condition for every switch position that no declared condition has: the key on, and
    that switch moved."""
    known = frozenset((key, p) for c in vehicle.conditions.values()
                      for key, p in c.positions.items())
    yield from _Settings(vehicle).alone(known)
