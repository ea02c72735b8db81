"""Both vehicles of a comparison as one, with every difference marked in words: for drawings.

What is removed stays in it, so that it can be drawn crossed with what is added. Marks are words and
signs, so that they can be read in black and white.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from harnessdsl.model.kind import Kind, Side, Terminal
from harnessdsl.model.location import part_places
from harnessdsl.model.vehicle import Circuit, End, Part, Place, Vehicle, Wire
from harnessdsl.plans.compare import Comparison, Difference
from harnessdsl.plans.compare_text import change_text

NEW, OUT, CHANGED, MOVED = "NEW", "OUT", "CHANGED", "MOVED"
LEGEND = "NEW: added. OUT: removed. WAS: before. MOVED, LEFT: the other place"
ALL_CHANGES = "all-changes"


@dataclass(frozen=True, slots=True)
class Mark:
    """What a drawing writes beside a wire or part, and how it stresses it: marked, dead or ''."""

    text: str
    state: str = ""


@dataclass(slots=True)
class MarkedVehicle:
    """The vehicle of a comparison's drawings."""

    vehicle: Vehicle
    wires: dict[str, Mark] = field(default_factory=dict)
    parts: dict[str, Mark] = field(default_factory=dict)
    circuits: tuple[str, ...] = ()
    """The circuits in which something differs."""
    map_vehicle: Vehicle = field(default_factory=Vehicle)
    """For the map: without wires, with the former place of what moved, and with one circuit,
    ALL_CHANGES, that holds everything that differs."""


def mark_differences(before: Vehicle, after: Vehicle, comparison: Comparison) -> MarkedVehicle:
    """Return both vehicles as one, with their differences marked."""
    return _Marker(before, after, comparison).result()


class _Marker:
    def __init__(self, before: Vehicle, after: Vehicle, comparison: Comparison) -> None:
        self.before = before
        self.after = after
        self.comparison = comparison
        self.parts: dict[str, Part] = dict(after.parts)
        self.wires: dict[str, Wire] = dict(after.wires)
        self.places: dict[str, Place] = dict(after.places)
        self.part_marks: dict[str, Mark] = {}
        self.wire_marks: dict[str, Mark] = {}
        self.names: dict[str, str] = dict(comparison.names["part"])
        """Name before -> name in the common vehicle."""
        self.loose: dict[str, str] = {}
        """Loose end of removed wires -> the plug in which they sat."""

    def result(self) -> MarkedVehicle:
        self._removed_places()
        for difference in self.comparison.of_group("part"):
            self._part(difference)
        for difference in self.comparison.of_group("wire"):
            self._wire(difference)
        circuits = self._circuits()
        labelled = {name: replace(part, label=self._label(part)) for name, part in
                    self.parts.items()}
        vehicle = replace(self.after, parts=labelled, wires=self.wires, places=self.places,
                          circuits=circuits)
        touched = self._touched()
        concerned = tuple(name for name, circuit in circuits.items()
                          if touched & set(circuit.parts))
        return MarkedVehicle(vehicle, self.wire_marks, self.part_marks, concerned,
                             self._for_map(vehicle))

    def _label(self, part: Part) -> str:
        mark = self.part_marks.get(part.name)
        return part.label if mark is None else f"{mark.text}: {part.label}".rstrip(": ")

    # parts and places

    def _removed_places(self) -> None:
        pairs = self.comparison.names["place"]
        self.place_names = dict(pairs)
        for name, place in self.before.places.items():
            if name not in pairs:
                new = _free(name, self.places)
                self.places[new] = replace(place, name=new, label=f"{OUT}: {place.label}",
                                           inside=pairs.get(place.inside, ""))
                self.place_names[name] = new

    def _moved_here(self, part: Part) -> Part:
        """Return a part of the first vehicle in the places of the common one."""
        body = part.connector
        if body is not None:
            halves = {key: replace(half, place=self.place_names.get(half.place, half.place))
                      for key, half in body.halves.items()}
            body = replace(body, halves=halves, of=self.names.get(body.of, ""))
        return replace(part, place=self.place_names.get(part.place, ""), connector=body)

    def _part(self, difference: Difference) -> None:
        if difference.sort == "added":
            self.part_marks[difference.after] = Mark(NEW, "marked")
        elif difference.sort == "removed":
            name = _free(difference.before, self.parts)
            self.names[difference.before] = name
            part = self._moved_here(self.before.parts[difference.before])
            self.parts[name] = replace(part, name=name, slot="")
            self.part_marks[name] = Mark(OUT, "dead")
        else:
            was = [f"was {difference.before}"] if difference.is_renamed else []
            fields = {change.field: change for change in difference.changes}
            if fields.keys() & {"place", "slot"}:
                old = self.before.parts[difference.before]
                slot = f" slot {old.slot}" if old.slot else ""
                was.append(f"{MOVED} from {old.place}{slot}".rstrip())
            rest = [c for name, c in fields.items() if name not in ("place", "slot", "label")
                    and not name.startswith("terminal")]
            was += [change_text(change) for change in rest[:2]]
            if len(rest) > 2:
                was.append(f"and {len(rest) - 2} more")
            word = CHANGED if rest or "label" in fields else ""
            text = "; ".join(was)
            self.part_marks[difference.after] = Mark(
                f"{word} ({text})" if word and text else word or text, "marked")

    # wires

    def _wire(self, difference: Difference) -> None:
        if difference.sort == "added":
            self.wire_marks[difference.after] = Mark(NEW, "marked")
        elif difference.sort == "removed":
            self._keep_removed(self.before.wires[difference.before])
        else:
            old = self.before.wires[difference.before]
            was: list[str] = []
            fields = {change.field for change in difference.changes}
            if "colour" in fields:
                was.append(old.colour or "no colour")
            if "area_mm2" in fields:
                was.append(old.area_text or "no area")
            if "ends" in fields:
                change = next(c for c in difference.changes if c.field == "ends")
                gone = [e for e in change.before
                        if (self.names.get(e[0], e[0]), e[1], e[2]) not in change.after]
                was += ["at " + ".".join(x for x in (p, t) if x) for p, _, t in gone]
            if "length_m" in fields and old.length_m is not None:
                was.append(f"{old.length_m:.2f} m")
            if was:
                self.wire_marks[difference.after] = Mark(f"WAS {', '.join(was)}", "marked")
            elif fields - {"chain_length_m", "runs", "name"}:
                self.wire_marks[difference.after] = Mark(CHANGED, "marked")

    def _keep_removed(self, wire: Wire) -> None:
        ends = [self._end(end) for end in (wire.a, wire.b)]
        if any(end is None for end in ends):
            return
        a, b = ends
        assert a is not None and b is not None
        name = _free(wire.name, self.wires)
        runs = self.comparison.names["run"]
        self.wires[name] = replace(wire, name=name, a=a, b=b, chain="", via=tuple(
            runs[run] for run in wire.via if run in runs))
        self.wire_marks[name] = Mark(OUT, "dead")

    def _end(self, end: End) -> End | None:
        """Return an end of a removed wire in the common vehicle; a terminal that its part no longer
        has is given back to it."""
        name = self.names.get(end.part)
        if name is None or name not in self.parts:
            return None
        part = self.parts[name]
        body = part.connector
        if end.half and self._is_taken(name, end):
            return self._loose_end(part, end)
        if body is not None:
            if end.half and end.terminal not in body.cavities:
                self.parts[name] = replace(part, connector=replace(
                    body, cavities=(*body.cavities, end.terminal)))
        elif part.kind.terminal(end.terminal) is None:
            terminals = dict(part.kind.terminals)
            terminals[end.terminal] = self.before.parts[end.part].kind.terminals.get(
                end.terminal, Terminal(end.terminal, Side.SIDE))
            self.parts[name] = replace(part, kind=replace(part.kind, terminals=terminals))
        return replace(end, part=name)

    def _is_taken(self, name: str, end: End) -> bool:
        """Say whether another wire sits in this cavity now."""
        return any((e.part, e.half, e.terminal) == (name, end.half, end.terminal)
                   for wire in self.after.wires.values() for e in (wire.a, wire.b))

    def _loose_end(self, plug: Part, end: End) -> End:
        """Return an end of its own for a removed wire whose cavity has got another wire."""
        name = f"{plug.name}/{end.terminal} {OUT}"
        if name not in self.parts:
            kind = Kind("splice", "Splice", "J", "splice", {"": Terminal("", Side.UPPER)})
            self.parts[name] = Part(name, "", kind, plug.place)
            self.loose[name] = plug.name
        return End(name, "", span=end.span)

    # circuits, and the map

    def _touched(self) -> set[str]:
        found = set(self.part_marks)
        for name in self.wire_marks:
            found |= {self.wires[name].a.part, self.wires[name].b.part}
        return found

    def _circuits(self) -> dict[str, Circuit]:
        circuits = dict(self.after.circuits)
        back = {a: b for a, b in self.comparison.names["circuit"].items()}
        for name, circuit in self.before.circuits.items():
            here = [self.names[p] for p in circuit.parts if p in self.names]
            target = back.get(name)
            if target is None:
                new = _free(name, circuits)
                circuits[new] = replace(circuit, name=new, label=f"{OUT}: {circuit.label}",
                                        parts=tuple(here))
                continue
            gone = [p for p in here if p in self.part_marks
                    and self.part_marks[p].text == OUT and p not in circuits[target].parts]
            circuits[target] = replace(circuits[target],
                                       parts=(*circuits[target].parts, *gone))
        for end, plug in self.loose.items():
            for name, circuit in circuits.items():
                if plug in circuit.parts:
                    circuits[name] = replace(circuit, parts=(*circuit.parts, end))
                    break
        return circuits

    def _for_map(self, vehicle: Vehicle) -> Vehicle:
        parts: dict[str, Part] = dict(vehicle.parts)
        changed = list(self.part_marks)
        for difference in self.comparison.of_group("part"):
            if difference.sort in ("added", "removed") or not any(
                    c.field == "place" for c in difference.changes):
                continue
            old = self._moved_here(self.before.parts[difference.before])
            new_place = self.after.parts[difference.after].place
            name = _free(f"{difference.before}-left", parts)
            parts[name] = replace(
                old, name=name, slot="",
                label=f"LEFT: {difference.before} {old.label}, now in {new_place}")
            changed.append(name)
        changed += [name for name in self._wire_ends() if name not in changed]
        for name in self._wire_ends():
            if name not in self.part_marks:
                parts[name] = replace(parts[name], label=f"WIRES CHANGE: {parts[name].label}")
        places = self._counted_places(replace(vehicle, parts=parts), changed)
        circuit = Circuit(ALL_CHANGES, "what changes", tuple(changed))
        return replace(vehicle, parts=parts, wires={}, cables={}, runs={}, places=places,
                       circuits={ALL_CHANGES: circuit})

    def _wire_ends(self) -> list[str]:
        found: dict[str, None] = {}
        for name in self.wire_marks:
            for end in (self.wires[name].a, self.wires[name].b):
                found.setdefault(end.part)
        return [name for name in found if name not in self.loose]

    def _counted_places(self, vehicle: Vehicle, changed: Iterable[str]) -> dict[str, Place]:
        """Return the places with the number of what is added, removed and changed there."""
        counts: dict[str, list[int]] = {}
        for name in changed:
            part = vehicle.parts[name]
            mark = self.part_marks.get(name)
            left = part.label.startswith("LEFT")
            sort = 1 if left or (mark is not None and mark.text == OUT) else (
                0 if mark is not None and mark.text == NEW else 2)
            for place in part_places(part, vehicle):
                counts.setdefault(place, [0, 0, 0])[sort] += 1
        places = dict(vehicle.places)
        added = {d.after for d in self.comparison.of_group("place") if d.sort == "added"}
        for name, (new, out, other) in counts.items():
            if name in places:
                signs = " ".join(sign for sign in (
                    f"+{new}" if new else "", f"-{out}" if out else "",
                    f"~{other}" if other else "") if sign)
                word = f"{NEW}: " if name in added else ""
                places[name] = replace(places[name],
                                       label=f"{word}{places[name].label or name}  [{signs}]")
        return places


def _free(name: str, taken: Iterable[str]) -> str:
    names = set(taken)
    if name not in names:
        return name
    number = 1
    while f"{name}-out{number if number > 1 else ''}" in names:
        number += 1
    return f"{name}-out{number if number > 1 else ''}"
