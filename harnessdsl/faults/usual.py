"""How likely things are to fail: by their kind, their age, their place, and what the file says.

The figures are common practice, no source: they only have to be right in their order. They hold for
a vehicle of forty years.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from harnessdsl.faults.fault import Fault
from harnessdsl.model.failures import Likelihood
from harnessdsl.model.vehicle import Part, Vehicle

LIKELIHOOD: Mapping[str, float] = {
    "filament-open": 30.0, "fuse-blown": 12.0, "fuse-contact": 6.0, "plug-corroded": 4.0,
    "plug-open": 3.0, "plug-pulled": 2.0, "earth-lifted": 10.0, "earth-corroded": 12.0,
    "wire-open": 1.5, "wire-corroded": 1.0, "wire-short": 1.0, "wires-touch": 0.2,
    "wires-chafed": 0.1, "contact-open": 6.0, "contact-burnt": 6.0, "contact-welded": 2.0,
    "coil-open": 4.0, "coil-short": 0.5, "wrong-relay": 0.7, "switch-stuck": 6.0,
    "thermal-stuck-open": 8.0, "thermal-stuck-closed": 3.0, "thermal-shifted": 2.0,
    "motor-worn": 6.0, "motor-weak": 3.0, "motor-seized": 3.0, "load-open": 3.0,
    "solenoid-open": 3.0, "diode-open": 0.7, "diode-short": 0.7, "capacitor-short": 0.7,
    "resistor-open": 2.0, "sender-open": 3.0, "sender-short": 1.0, "battery-low": 20.0,
    "alternator-dead": 8.0, "module-dead": 1.5, "output-dead": 2.0, "input-dead": 0.5,
    "link-open": 2.0,
}
"""Relative likelihood by way to fail."""

EXPOSURE_FACTOR = {
    "joint": {"wet": 4.0, "hot": 1.5, "moving": 1.5},
    "wire": {"wet": 1.2, "hot": 1.5, "moving": 6.0},
    "chafe": {"wet": 1.0, "hot": 1.5, "moving": 3.0},
    "device": {"wet": 2.0, "hot": 1.5, "moving": 1.2},
}
"""How much likelier where a place is wet, hot or moving: wet places corrode, moving ones break
wires, hot ones age insulation and solenoids."""

AGEING = frozenset({
    "wire-open", "wire-corroded", "wire-short", "wires-touch", "wires-chafed", "plug-corroded",
    "earth-lifted", "earth-corroded", "fuse-contact", "contact-open", "contact-burnt",
    "contact-welded", "coil-open", "coil-short", "switch-stuck", "thermal-stuck-open",
    "thermal-stuck-closed", "thermal-shifted", "motor-worn", "motor-weak", "motor-seized",
    "solenoid-open", "capacitor-short", "sender-open", "alternator-dead"})
"""Ways to fail that come with the years; bulbs, fuses, batteries and what was put in wrongly do not
care."""
USUAL_AGE = 40.0
YOUNGEST, OLDEST = 0.25, 1.5


def exposure(vehicle: Vehicle, place: str, what: str) -> float:
    """Return the factor of a place and of everything that it is in, for joint, wire, chafe or
    device."""
    factor = 1.0
    for name in enclosing(vehicle, place):
        for word in vehicle.places[name].exposure:
            factor *= EXPOSURE_FACTOR[what].get(word, 1.0)
    return factor


def enclosing(vehicle: Vehicle, place: str) -> Iterator[str]:
    """Yield a place and what it is in, from the inside out."""
    seen: set[str] = set()
    while place in vehicle.places and place not in seen:
        seen.add(place)
        yield place
        place = vehicle.places[place].inside


def looked_at(vehicle: Vehicle) -> int:
    """Return the year of the newest date in the file, 0 without one: it stands for today, so that
    the answer does not change with the clock."""
    dates = [thing.evidence.date for group in (vehicle.parts, vehicle.wires, vehicle.places)
             for thing in group.values()]
    years = [int(date[:4]) for date in dates if date[:4].isdigit()]
    return max(years, default=0)


def built(vehicle: Vehicle) -> int:
    """Return the year that the file gives the vehicle, 0 without one."""
    text = vehicle.year[:4]
    return int(text) if len(text) == 4 and text.isdigit() else 0


class Likelihoods:
    """Factors for one vehicle: age, and what its file says with `likelihood`."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        self.today = looked_at(vehicle)
        self.built = built(vehicle)

    def factor(self, fault: Fault) -> float:
        """Return how many times likelier a fault is than its way to fail is by itself."""
        part = self.vehicle.parts.get(fault.part)
        own = part.kind.likelihoods if part is not None else ()
        return self._age(fault) * told_factor(self.vehicle, fault,
                                              (*self.vehicle.likelihoods, *own))

    def _age(self, fault: Fault) -> float:
        part = self.vehicle.parts.get(fault.part)
        year = part.fitted if part is not None and part.fitted else self.built
        if not year or not self.today or fault.mode not in AGEING:
            return 1.0
        return min(max((self.today - year) / USUAL_AGE, YOUNGEST), OLDEST)


def told_factor(vehicle: Vehicle, fault: Fault, told: Sequence[Likelihood]) -> float:
    """Return the product of the factors of all `likelihood` lines that a fault fits."""
    if not told:
        return 1.0
    names = names_of(vehicle, fault)
    factor = 1.0
    for one in told:
        if names.issuperset(one.names):
            factor *= one.factor
    return factor


def names_of(vehicle: Vehicle, fault: Fault) -> set[str]:
    """Return every name that a `likelihood` line may call a fault by."""
    found = {fault.id, fault.mode, fault.subject}
    part, wire = vehicle.parts.get(fault.part), vehicle.wires.get(fault.wire)
    ends: list[Part] = [part] if part is not None else []
    if part is not None:
        found.add(part.kind.name)
    if wire is not None:
        found.add(wire.chain)
        ends += [vehicle.parts[e.part] for e in (wire.a, wire.b) if e.part in vehicle.parts]
        for run in vehicle.runs.values():
            if wire.name in run.wires:
                found.add(run.name)
                found.update(p for place in run.places for p in enclosing(vehicle, place))
    for end in ends:
        found.update(enclosing(vehicle, end.place))
    return found - {""}
