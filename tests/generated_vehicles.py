"""Vehicles made by chance, as text, and changes made to them by chance.

The generator knows nothing of the comparison: it works on its own list of parts and wires and
writes the file anew, in another order of lines when asked.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field
from random import Random

TERMINALS = {
    "blade-fuse": ["1", "2"], "relay": ["30", "87", "85", "86"],
    "relay-diode": ["30", "87", "85", "86"], "changeover-relay": ["30", "87", "87a", "85", "86"],
    "lamp": ["1", "2"], "turn-lamp": ["1", "2"], "motor": ["+", "-"], "splice": [""],
    "earth": [""], "toggle-switch": ["1", "2"], "unknown": ["a", "b"], "connector": [],
}
COLOURS = ["RD", "BK", "BN", "GN/WH", "RD/YE", "BU", "GY/BK"]
AREAS = ["0.75 mm2", "1.5 mm2", "2.5 mm2", "14 AWG"]
LABELS = ["Fan", "Horn", "Left lamp", "Right lamp", "Pump", "Line 30", "Dash", ""]
PREFIX = {"blade-fuse": "F", "relay": "K", "relay-diode": "K", "changeover-relay": "K",
          "lamp": "E", "turn-lamp": "E", "motor": "M", "splice": "J", "earth": "EP",
          "toggle-switch": "S", "unknown": "U", "connector": "X"}


@dataclass
class PartText:
    kind: str
    label: str
    place: str
    figure: str = ""
    ways: int = 0
    spare: bool = False


@dataclass
class WireText:
    ends: list[tuple[str, str]]
    area: str
    colour: str
    length_m: float | None
    name: str = ""
    via: str = ""


@dataclass
class CarText:
    places: dict[str, tuple[str, int]] = field(default_factory=dict)
    parts: dict[str, PartText] = field(default_factory=dict)
    wires: list[WireText] = field(default_factory=list)
    circuits: dict[str, list[str]] = field(default_factory=dict)
    conditions: dict[str, dict[str, str]] = field(default_factory=dict)
    runs: dict[str, list[str]] = field(default_factory=dict)

    def text(self, random: Random | None = None) -> str:
        """Return the file; with `random`, its lines in another order."""
        lines = [f'place {name} "{label}" at {x}, 0, 500 mm'
                 for name, (label, x) in self.places.items()]
        for name, part in self.parts.items():
            label = f' "{part.label}"' if part.label else ""
            ways = f" {part.ways} way" if part.ways else ""
            tail = f"{' ' + part.figure if part.figure else ''}{' spare' if part.spare else ''}"
            lines.append(f"{part.kind} {name}{label} in {part.place}{ways}{tail}")
        for wire in self.wires:
            ends = " -> ".join(f"{part}.{terminal}".rstrip(".") for part, terminal in wire.ends)
            length = f" {wire.length_m:g} m" if wire.length_m is not None else ""
            via = f" via {wire.via}" if wire.via else ""
            name = f"{wire.name} " if wire.name else ""
            lines.append(f"wire {name}{ends} {wire.area} {wire.colour}{length}{via}")
        for name, members in self.circuits.items():
            lines.append(f'circuit {name} "{name}" {{ {" ".join(members)} }}')
        for name, settings in self.conditions.items():
            inside = "; ".join(f"{part} = {value}" for part, value in settings.items())
            lines.append(f'condition {name} "{name}" {{ {inside} }}')
        for name, places in self.runs.items():
            lines.append(f'run {name} "{name}" {" -> ".join(places)}')
        if random is not None:
            random.shuffle(lines)
        return "\n".join(['vehicle "Made" { supply 12 V negative-earth }', *lines, ""])

    def copy(self) -> CarText:
        return copy.deepcopy(self)

    def ends_of(self, part: str) -> list[str]:
        body = self.parts[part]
        if body.kind == "connector":
            return [str(number + 1) for number in range(body.ways)]
        return TERMINALS[body.kind]

    def fresh(self, prefix: str, random: Random) -> str:
        while True:
            name = f"{prefix}{random.randint(1, 60)}"
            if name not in self.parts:
                return name


def make_part(car: CarText, random: Random) -> str:
    kind = random.choice(sorted(TERMINALS))
    name = car.fresh(PREFIX[kind], random)
    figure = {"blade-fuse": random.choice(["10 A", "15 A"]),
              "motor": random.choice(["", "18 A"])}.get(kind, "")
    car.parts[name] = PartText(kind, random.choice(LABELS), random.choice(sorted(car.places)),
                               figure, random.randint(2, 6) if kind == "connector" else 0,
                               random.random() < 0.1)
    return name


def make_wire(car: CarText, random: Random) -> None:
    ends: list[tuple[str, str]] = []
    for number in range(random.choice([2, 2, 2, 2, 3, 4])):
        choice = sorted(car.parts) if not number else [p for p in sorted(car.parts)
                                                        if p != ends[-1][0]]
        if not choice:
            return
        part = random.choice(choice)
        ends.append((part, random.choice(car.ends_of(part))))
    taken = {wire.name for wire in car.wires}
    name = f"W{random.randint(1, 99)}" if random.random() < 0.3 else ""
    car.wires.append(WireText(
        ends, random.choice(AREAS), random.choice(COLOURS),
        random.choice([None, round(random.uniform(0.2, 4), 2)]), "" if name in taken else name,
        random.choice(sorted(car.runs)) if car.runs and random.random() < 0.2 else ""))


def make_car(random: Random, most_parts: int = 14) -> CarText:
    """Return a vehicle of some parts and wires; electrically it means nothing."""
    car = CarText()
    for number in range(random.randint(1, 4)):
        car.places[f"place-{number}"] = (random.choice(["Box", "Door", "Bay"]),
                                         random.randint(0, 40) * 100)
    if len(car.places) > 1 and random.random() < 0.5:
        car.runs["loom"] = random.sample(sorted(car.places), 2)
    for _ in range(random.randint(2, most_parts)):
        make_part(car, random)
    for _ in range(random.randint(1, most_parts + 4)):
        make_wire(car, random)
    if random.random() < 0.7:
        car.circuits["lights"] = random.sample(sorted(car.parts),
                                               random.randint(1, len(car.parts)))
    switches = [name for name, part in car.parts.items() if part.kind == "toggle-switch"]
    if switches:
        car.conditions["day"] = {random.choice(switches): "on"}
    return car


# changes

def rename_part(car: CarText, random: Random) -> None:
    old = random.choice(sorted(car.parts))
    new = car.fresh(PREFIX[car.parts[old].kind], random)
    car.parts = {new if name == old else name: part for name, part in car.parts.items()}
    for wire in car.wires:
        wire.ends = [(new if part == old else part, end) for part, end in wire.ends]
    car.circuits = {name: [new if m == old else m for m in members]
                    for name, members in car.circuits.items()}
    car.conditions = {name: {new if p == old else p: v for p, v in settings.items()}
                      for name, settings in car.conditions.items()}


def remove_part(car: CarText, random: Random) -> None:
    if len(car.parts) < 2:
        return
    old = random.choice(sorted(car.parts))
    del car.parts[old]
    car.wires = [wire for wire in car.wires if all(part != old for part, _ in wire.ends)]
    car.circuits = {name: [m for m in members if m != old]
                    for name, members in car.circuits.items()}
    car.circuits = {name: members for name, members in car.circuits.items() if members}
    car.conditions = {name: {p: v for p, v in settings.items() if p != old}
                      for name, settings in car.conditions.items()}
    car.conditions = {name: s for name, s in car.conditions.items() if s}


def change_part(car: CarText, random: Random) -> None:
    part = car.parts[random.choice(sorted(car.parts))]
    what = random.choice(["label", "place", "kind", "spare"])
    if what == "label":
        part.label = random.choice(LABELS)
    elif what == "place":
        part.place = random.choice(sorted(car.places))
    elif what == "spare":
        part.spare = not part.spare
    elif part.kind in ("relay", "relay-diode"):
        part.kind = "relay-diode" if part.kind == "relay" else "relay"
    elif part.kind in ("lamp", "turn-lamp"):
        part.kind = "turn-lamp" if part.kind == "lamp" else "lamp"
    elif part.kind == "blade-fuse":
        part.figure = random.choice(["5 A", "20 A"])


def change_wire(car: CarText, random: Random) -> None:
    if not car.wires:
        return
    wire = random.choice(car.wires)
    what = random.choice(["colour", "area", "length", "end", "remove", "name", "turn"])
    if what == "colour":
        wire.colour = random.choice(COLOURS)
    elif what == "area":
        wire.area = random.choice(AREAS)
    elif what == "length":
        wire.length_m = random.choice([None, round(random.uniform(0.2, 4), 2)])
    elif what == "end":
        number = random.randrange(len(wire.ends))
        near = {wire.ends[i][0] for i in (number - 1, number + 1) if 0 <= i < len(wire.ends)}
        choice = [p for p in sorted(car.parts) if p not in near]
        if choice:
            part = random.choice(choice)
            wire.ends[number] = (part, random.choice(car.ends_of(part)))
    elif what == "remove":
        car.wires.remove(wire)
    elif what == "name":
        name = f"W{random.randint(1, 99)}"
        wire.name = name if all(w.name != name for w in car.wires) else ""
    elif len(wire.ends) == 2:
        wire.ends.reverse()


def change_rest(car: CarText, random: Random) -> None:
    what = random.choice(["place", "circuit", "add part", "add wire", "condition", "rename place"])
    if what == "place":
        name = random.choice(sorted(car.places))
        car.places[name] = (car.places[name][0], random.randint(0, 40) * 100)
    elif what == "circuit":
        car.circuits["lights"] = random.sample(sorted(car.parts),
                                               random.randint(1, len(car.parts)))
    elif what == "add part":
        make_part(car, random)
    elif what == "add wire":
        make_wire(car, random)
    elif what == "condition":
        switches = [n for n, part in car.parts.items() if part.kind == "toggle-switch"]
        if switches:
            car.conditions[random.choice(["day", "night"])] = {random.choice(switches): "on"}
    else:
        old = random.choice(sorted(car.places))
        new = f"spot-{random.randint(1, 9)}"
        if new not in car.places:
            car.places = {new if n == old else n: v for n, v in car.places.items()}
            for part in car.parts.values():
                part.place = new if part.place == old else part.place
            car.runs = {n: [new if p == old else p for p in places]
                        for n, places in car.runs.items()}


CHANGES = (rename_part, remove_part, change_part, change_part, change_wire, change_wire,
           change_wire, change_rest)


def changed(car: CarText, random: Random, count: int) -> CarText:
    """Return a copy with `count` changes."""
    other = car.copy()
    for _ in range(count):
        random.choice(CHANGES)(other, random)
    return other
