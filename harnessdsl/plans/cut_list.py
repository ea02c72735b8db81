"""What a plan needs: the wires to cut with their ends, and the parts to buy.

Allowances, ring sizes and crimp sizes are common practice without a source; the outer diameters for
seals are those of thick-wall vehicle cable (DIN ISO 6722 part 3; below 1 mm2 from memory).
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from harnessdsl.model.vehicle import End, Part, Vehicle, Wire
from harnessdsl.model.wire_builder import distance_m
from harnessdsl.plans.compare import Comparison, Difference, natural

ALLOWANCE_SHARE = 0.10
ALLOWANCE_ENDS_M = 0.10
"""Added to every length: a tenth, and a hand's breadth for the two ends."""
ROUND_UP_M = 0.05
DETOUR = 1.3
"""A wire of unknown length is taken as this much longer than the straight way."""
OUTER_DIAMETER_MM = {0.35: 1.9, 0.5: 2.3, 0.75: 2.5, 1.0: 2.7, 1.5: 3.0, 2.5: 3.6, 4.0: 4.4,
                     6.0: 5.0, 10.0: 6.5, 16.0: 8.3, 25.0: 10.4, 35.0: 11.6, 50.0: 13.5}
_RECUT = {"area_mm2", "colour", "insulation", "temperature_class_c", "material", "fusible"}
"""A wire that changes in one of these is another wire."""


@dataclass(frozen=True, slots=True)
class Termination:
    """One end of a wire to be cut: where it goes, what is put on it, and its seal."""

    at: str
    place: str
    terminal: str
    seal: str = ""


@dataclass(frozen=True, slots=True)
class CutWire:
    """One wire to cut. Lengths in metres; `length_m` is None when nobody knows."""

    name: str
    wire: Wire
    ends: tuple[Termination, Termination]
    length_m: float | None
    estimated: bool
    """The length comes from the distance between the places."""
    cut_m: float | None
    """With the allowance, rounded up."""

    @property
    def looks(self) -> str:
        wire = self.wire
        insulation = wire.insulation or (f"{wire.temperature_class_c:g} C"
                                         if wire.temperature_class_c else "")
        metal = wire.material if wire.material != "copper" else ""
        fusible = "fusible link wire" if wire.fusible else ""
        return " ".join(p for p in (wire.area_text, wire.colour, insulation, metal, fusible) if p)


@dataclass(frozen=True, slots=True)
class PartLine:
    """One line of the parts list."""

    count: int
    what: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shopping:
    """What to buy, and what becomes free."""

    parts: tuple[PartLine, ...]
    wire: tuple[tuple[str, float, int], ...]
    """(area, colour and insulation; metres in all; pieces)"""
    terminals: tuple[tuple[str, int], ...]
    seals: tuple[tuple[str, int], ...]
    splices: tuple[tuple[str, str], ...]
    """(name, what joins there)"""
    free: tuple[PartLine, ...]


def wires_to_cut(before: Vehicle, after: Vehicle, comparison: Comparison,
                 share: float = ALLOWANCE_SHARE) -> list[CutWire]:
    """Return the wires that must be cut new, in the order of their names."""
    found = []
    for difference in comparison.of_group("wire"):
        if difference.after and needs_cutting(difference, before, after):
            found.append(_cut(after.wires[difference.after], after, share))
    return sorted(found, key=lambda cut: natural(cut.name))


def needs_cutting(difference: Difference, before: Vehicle, after: Vehicle) -> bool:
    """Say whether a wire of the plan is a new one: added, or other than the one that is there."""
    if difference.sort == "added":
        return True
    if difference.sort != "changed":
        return False
    if any(change.field in _RECUT for change in difference.changes):
        return True
    old, new = before.wires[difference.before].length_m, after.wires[difference.after].length_m
    longer = any(change.field == "length_m" for change in difference.changes)
    return longer and old is not None and new is not None and new > old


def _cut(wire: Wire, vehicle: Vehicle, share: float) -> CutWire:
    length_m, estimated = wire.length_m, False
    if length_m is None:
        straight_m = distance_m(vehicle.places, _place(wire.a, vehicle), _place(wire.b, vehicle))
        if straight_m is not None:
            length_m, estimated = straight_m * DETOUR, True
    cut_m = None
    if length_m is not None:
        wanted = length_m * (1 + share) + ALLOWANCE_ENDS_M
        cut_m = math.ceil(round(wanted / ROUND_UP_M, 6)) * ROUND_UP_M
    return CutWire(wire.name, wire, (_termination(wire.a, wire, vehicle),
                                     _termination(wire.b, wire, vehicle)),
                   length_m, estimated, cut_m)


def _place(end: End, vehicle: Vehicle) -> str:
    part = vehicle.parts[end.part]
    if part.connector is not None and end.half in part.connector.halves:
        return part.connector.halves[end.half].place or part.place
    return part.place


def _plug_of(part: Part, terminal: str, vehicle: Vehicle) -> Part | None:
    """Return the plug that sits on a part and has this terminal as a cavity."""
    for other in vehicle.parts.values():
        body = other.connector
        if body is not None and body.of == part.name and (
                not body.cavities or terminal in body.cavities):
            return other
    return None


def _termination(end: End, wire: Wire, vehicle: Vehicle) -> Termination:
    part = vehicle.parts[end.part]
    place = _place(end, vehicle)
    at = f"{end.part}.{end.half}.{end.terminal}" if end.half else str(end)
    area = wire.area_text or "the wire"
    plug = part if part.connector is not None else _plug_of(part, end.terminal, vehicle)
    if plug is not None and plug.connector is not None:
        half = plug.connector.halves[end.half or "a"]
        contact = {"male": "pin contact", "female": "socket contact"}.get(half.gender, "contact")
        wet = place in vehicle.places and "wet" in vehicle.places[place].exposure
        seal = _seal(wire) if wet or "seal" in half.shell else ""
        return Termination(at, place, f"{contact} for plug {plug.name}, for {area}", seal)
    if part.family == "splice":
        return Termination(at, place, f"into splice {part.name}")
    if part.family == "earth":
        return Termination(at, place, f"ring terminal {_ring(wire)}, for {area}")
    if part.family in ("battery", "starter", "alternator") or "strip-fuse" in part.kind.fits or (
            wire.area_mm2 is not None and wire.area_mm2 >= 10):
        return Termination(at, place, f"ring terminal {_ring(wire)}, for {area}")
    if part.family in ("fuse", "relay"):
        return Termination(at, place, "receptacle of the fuse or relay socket "
                           f"({part.kind.fits[0] if part.kind.fits else 'its own'}), for {area}")
    return Termination(at, place, f"terminal to suit {part.kind.label or part.kind.name}, "
                       f"for {area}")


def _ring(wire: Wire) -> str:
    return "M8" if wire.area_mm2 is not None and wire.area_mm2 >= 10 else "M6"


def _seal(wire: Wire) -> str:
    if wire.area_mm2 is None:
        return "single-wire seal"
    size = min(OUTER_DIAMETER_MM, key=lambda area: (abs(area - (wire.area_mm2 or 0.0)), area))
    return f"single-wire seal for {OUTER_DIAMETER_MM[size]:g} mm insulation"


# what to buy

def shopping(before: Vehicle, after: Vehicle, comparison: Comparison, cuts: list[CutWire]
             ) -> Shopping:
    """Return the parts list of a plan."""
    new: list[Part] = []
    free: list[Part] = []
    for difference in comparison.of_group("part"):
        if difference.sort == "added":
            new.append(after.parts[difference.after])
        elif difference.sort == "removed":
            free.append(before.parts[difference.before])
        elif _is_another(before.parts[difference.before], after.parts[difference.after]):
            new.append(after.parts[difference.after])
            free.append(before.parts[difference.before])
    metres: dict[str, float] = {}
    pieces: Counter[str] = Counter()
    for cut in cuts:
        metres[cut.looks] = metres.get(cut.looks, 0.0) + (cut.cut_m or 0.0)
        pieces[cut.looks] += 1
    ends = [end for cut in cuts for end in cut.ends]
    terminals = Counter(end.terminal for end in ends if not end.terminal.startswith("into splice"))
    seals = Counter(end.seal for end in ends if end.seal)
    joined = []
    for part in new:
        if part.family == "splice":
            here = [w for w in after.wires.values() if part.name in (w.a.part, w.b.part)]
            total_mm2 = sum(w.area_mm2 or 0.0 for w in here)
            joined.append((part.name, f"{len(here)} wires, {total_mm2:g} mm2 together"))
    return Shopping(
        _lines([p for p in new if p.family not in ("splice", "earth")]),
        tuple((looks, round(metres[looks], 2), pieces[looks])
              for looks in sorted(metres, key=natural)),
        tuple(sorted(terminals.items(), key=lambda item: natural(item[0]))),
        tuple(sorted(seals.items(), key=lambda item: natural(item[0]))),
        tuple(sorted(joined, key=lambda item: natural(item[0]))),
        _lines([p for p in free if p.family not in ("splice", "earth")]))


def _is_another(old: Part, new: Part) -> bool:
    """Say whether a part must be bought: of another kind, rating or size than the one there."""
    if old.kind.name != new.kind.name or old.rating_a() != new.rating_a():
        return True
    if old.connector is not None and new.connector is not None:
        return len(old.connector.cavities) != len(new.connector.cavities)
    return False


def _lines(parts: list[Part]) -> tuple[PartLine, ...]:
    groups: dict[str, list[str]] = {}
    for part in parts:
        groups.setdefault(_description(part), []).append(part.name)
    return tuple(PartLine(len(names), what, tuple(sorted(names, key=natural)))
                 for what, names in sorted(groups.items(), key=lambda item: natural(item[0])))


def _description(part: Part) -> str:
    kind = part.kind
    rating = part.rating_a()
    pieces = [kind.label or kind.name]
    if rating is not None:
        pieces.append(f"{rating:g} A")
    elif part.figures:
        pieces += [f"{key[0]} {quantity.text}".strip() for key, quantity in
                   sorted(part.figures.items())]
    if part.connector is not None:
        pieces.append(f"{len(part.connector.cavities)} way")
    return ", ".join(pieces) + f" ({kind.name})"
