"""What is dangerous near a point, worked out once for a vehicle: airbags by their wires and plugs,
fans and fuel by what lies in the same place, control modules by their wires."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from harnessdsl.model.vehicle import Part, Vehicle

_FUEL_WORDS = ("fuel", "petrol", "gasoline", "injector", "carburettor")
_FAN_WORDS = ("fan",)
_NO_AIRBAG = ("battery", "fuse", "link", "earth", "switch", "splice", "connector")
"""Families that stand in an airbag's circuit without being one."""


class Nearby:
    """Hazards of one vehicle by place and by node."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self._ends: dict[str, list[str]] = {}
        self._part_of: dict[str, str] = {}
        self._read_wiring()
        self.by_place: dict[str, dict[str, None]] = {}
        for part in vehicle.parts.values():
            if part.place:
                self.by_place.setdefault(part.place, {}).update(dict.fromkeys(by_name(part)))
        airbags = {p.name for p in vehicle.parts.values() if p.kind.safety == "airbag"}
        for circuit in vehicle.circuits.values():
            if circuit.safety == "airbag":
                airbags.update(n for n in circuit.parts if n in vehicle.parts
                               and vehicle.parts[n].family not in _NO_AIRBAG)
        self.airbag_nodes = self._plugs_too(self.nodes_of(airbags)) if airbags else frozenset()
        """Every node that an airbag's wires reach, and all cavities of plugs with one of them."""
        self.module_nodes = self.nodes_of(p.name for p in vehicle.parts.values()
                                          if p.family == "module")
        self.airbags = frozenset(airbags)

    def nodes_of(self, names: Iterable[str]) -> frozenset[str]:
        """Return the nodes that parts are joined to by wires, plugs and splices alone."""
        wanted = set(names)
        todo = [node for node, name in self._part_of.items() if name in wanted]
        seen = set(todo)
        while todo:
            for other in self._ends.get(todo.pop(), ()):
                if other not in seen:
                    seen.add(other)
                    todo.append(other)
        return frozenset(seen)

    def _read_wiring(self) -> None:
        vehicle = self.vehicle
        pairs = []
        for wire in vehicle.wires.values():
            pairs.append((wire.a.node, wire.b.node))
            self._part_of[wire.a.node], self._part_of[wire.b.node] = wire.a.part, wire.b.part
        for part in vehicle.parts.values():
            if part.connector is not None and not part.connector.of:
                for cavity in part.connector.cavities:
                    nodes = [f"{part.name}.{half}.{cavity}" for half in "ab"]
                    pairs.append((nodes[0], nodes[1]))
                    self._part_of.update(dict.fromkeys(nodes, part.name))
        for one, other in pairs:
            # an earth point is where everything meets: nothing is told by that
            if not any(self._is_earth(node) for node in (one, other)):
                self._ends.setdefault(one, []).append(other)
                self._ends.setdefault(other, []).append(one)

    def _is_earth(self, node: str) -> bool:
        part = self.vehicle.parts.get(self._part_of.get(node, ""))
        return part is not None and part.family == "earth"

    def _plugs_too(self, nodes: frozenset[str]) -> frozenset[str]:
        found = set(nodes)
        for name in {self._part_of[n] for n in nodes if n in self._part_of}:
            found |= set(self.cavities(name))
        return frozenset(found)

    def cavities(self, plug: str) -> list[str]:
        """Return the nodes of a connector, none for another part."""
        part = self.vehicle.parts.get(plug)
        if part is None or part.connector is None:
            return []
        return [f"{plug}.{half}.{c}" for half in "ab" for c in part.connector.cavities]


def by_name(part: Part) -> Iterator[str]:
    """Yield the hazards of a part that its kind and label tell of."""
    words = f"{part.kind.name} {part.kind.label} {part.label}".casefold()
    if part.family == "motor" and set(_FAN_WORDS) & set(re.split(r"[^a-z]+", words)):
        yield "fan"
    if part.family in ("motor", "sender", "solenoid", "load") and any(
            word in words for word in _FUEL_WORDS):
        yield "fuel"


_last: list[Nearby] = []


def nearby(vehicle: Vehicle) -> Nearby:
    """Return what is near in a vehicle; kept for the vehicle asked for last."""
    if not _last or _last[0].vehicle is not vehicle:
        _last[:] = [Nearby(vehicle)]
    return _last[0]
