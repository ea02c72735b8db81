"""What a wire lies in: the air around it and its loaded neighbours in the bundle."""

from __future__ import annotations

from dataclasses import dataclass

from harnessdsl.electric.heating import (
    IGNORED_SHARE,
    ambient_factor,
    bundle_factor,
    table_current_a,
)
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.model.vehicle import Condition, Vehicle, Wire

NORMAL_C = 30.0
HOT_C = 50.0
"""Air in places that the file calls hot, the engine bay above all: the second column of the
handbooks' table of continuous currents."""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Air temperature and number of loaded wires side by side, the wire itself included."""

    ambient_c: float
    loaded: int
    run: str
    """The run that it shares with them; '' alone."""


class Bundles:
    """The runs of a vehicle with their wires."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.runs_of: dict[str, list[str]] = {}
        self.wires_of: dict[str, list[Wire]] = {}
        for run in vehicle.runs.values():
            self.wires_of[run.name] = []
        for wire in vehicle.wires.values():
            runs = [r.name for r in vehicle.runs.values()
                    if r.name in wire.via or wire.name in r.wires
                    or (wire.chain and wire.chain in r.wires)]
            self.runs_of[wire.name] = runs
            for name in runs:
                self.wires_of[name].append(wire)

    def ambient_c(self, wire: Wire, condition: Condition) -> float:
        """Return the air around a wire: as the condition says, else 30 C, hotter in hot places."""
        base = condition.temperatures_c.get("ambient", NORMAL_C)
        parts = self.vehicle.parts
        places = [parts[end.part].place for end in (wire.a, wire.b) if end.part in parts]
        for run in self.runs_of[wire.name]:
            places += self.vehicle.runs[run].places
        return base + (HOT_C - NORMAL_C) * any(self._hot(place) for place in places)

    def _hot(self, place: str) -> bool:
        seen: set[str] = set()
        while place and place in self.vehicle.places and place not in seen:
            if "hot" in self.vehicle.places[place].exposure:
                return True
            seen.add(place)
            place = self.vehicle.places[place].inside
        return False

    def around(self, wire: Wire, condition: Condition, point: OperatingPoint) -> Surroundings:
        """Return the surroundings of a wire in one condition: the run with most loaded wires."""
        ambient = self.ambient_c(wire, condition)
        best = (1, "")
        for run in self.runs_of[wire.name]:
            best = max(best, (self._loaded(run, wire, ambient, point), run))
        return Surroundings(ambient, best[0], best[1])

    def _loaded(self, run: str, own: Wire, ambient_c: float, point: OperatingPoint) -> int:
        shares = []
        for wire in self.wires_of[run]:
            if wire.name != own.name and wire.area_mm2:
                carries = table_current_a(wire.area_mm2, wire.material) * ambient_factor(ambient_c)
                shares.append(abs(point.current_a(wire.name)) / carries if carries else 1.0)
        count = 1
        for _ in range(4):  # the more are loaded, the less each may carry, the more count as loaded
            threshold = IGNORED_SHARE * bundle_factor(count)
            count = 1 + sum(share > threshold for share in shares)
        return count
