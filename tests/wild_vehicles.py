"""Vehicles that nobody would build: every kind, any terminal joined to any other.

Written as text and read by the ordinary way in, so that the drawing gets what a user's file would
give it. The same seed gives the same vehicle.
"""

from __future__ import annotations

from random import Random

from harnessdsl.model.kind import Kind
from harnessdsl.model.kind_shelf import shipped_kinds
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load_string

COLOURS = ("RD", "BK", "BN", "GN/WH", "RD/YE", "BU/GY", "WH", "VT/OG", "")
AREAS = ("0.5 mm2", "0.75 mm2", "1.5 mm2", "2.5 mm2", "16 mm2", "14 AWG", "")
EVIDENCE = ("measured", "traced", "guessed", 'copied "a book"', "")
LABELS = ("", "Fan", "Left lamp", "A label that goes on for longer than any symbol is wide",
          "Ümläut & <angle> \"".replace('"', "'"))  # fmt: skip


def kinds() -> dict[str, Kind]:
    """Return the standard kinds by name, built one by one through a vehicle of their own."""
    names = sorted(shipped_kinds().names())
    found: dict[str, Kind] = {}
    lines = [f"{name} P{index}" for index, name in enumerate(names)]
    vehicle = load_string("\n".join(lines) + "\n").vehicle
    for part in vehicle.parts.values():
        found[names[int(part.name[1:])]] = part.kind
    return found


_POINTS = ("splice", "earth", "connector")


def wild_text(seed: int, parts: int = 12, wires: int = 20) -> str:
    """Return the text of a vehicle of about `parts` parts and `wires` wires."""
    random = Random(seed)
    known = kinds()
    plain = [name for name, kind in known.items() if kind.family not in _POINTS]
    lines = ['vehicle "Wild one" { supply 12 V ' + random.choice(
        ("negative-earth", "positive-earth")) + " }"]  # fmt: skip
    ends: list[str] = []
    names: list[str] = []

    def add(line: str, name: str, terminals: list[str]) -> None:
        label = random.choice(LABELS)
        lines.append(f'{line} "{label}"' if label else line)
        names.append(name)
        ends.extend(terminals)

    for index in range(parts):
        name = random.choice((f"P{index}", f"P{index}", f"part-with-a-long-name-{index}"))
        choice = random.random()
        if choice < 0.14:
            add(f"splice J{index}", f"J{index}", [f"J{index}"] * 3)
        elif choice < 0.24:
            metal = random.choice(("", " on engine"))
            add(f"earth EP{index}{metal}", f"EP{index}", [f"EP{index}"] * 3)
        elif choice < 0.34:
            ways = random.randint(1, 6)
            cavities = [f"X{index}.{half}{n + 1}" for n in range(ways) for half in ("a.", "b.")]
            add(f"connector X{index} {ways} way", f"X{index}", cavities)
        elif choice < 0.4:
            pins = random.choice((1, 4, 12, 35))
            roles = ("supply", "earth", "low-side", "high-side", "input", "signal")
            block = "\n".join(
                f'    pin {n} {random.choice(roles)} "role {n}"' for n in range(1, pins + 1)
            )
            lines.append(f"module {name} {{\n{block}\n}}")
            names.append(name)
            ends.extend(f"{name}.{n}" for n in range(1, pins + 1))
        else:
            kind = random.choice(plain)
            where = " on engine" if random.random() < 0.1 else ""
            terminals = list(known[kind].terminals) or ["1", "2"]
            add(f"{kind} {name}{where}", name, [f"{name}.{t}" for t in terminals])
    for number in range(wires):
        if not ends:
            break
        chain = [random.choice(ends)]
        while len(chain) < 2 or random.random() < 0.2:
            chain.append(random.choice(ends))
        facts = [random.choice(AREAS), random.choice(COLOURS), random.choice(EVIDENCE)]
        lines.append(
            f"wire W{number} {' -> '.join(chain)} {' '.join(fact for fact in facts if fact)}"
        )
    for number in range(random.randint(0, 4)):
        some = [name for name in names if random.random() < 0.4]
        lines.append(f'circuit c{number} "Circuit {number}" {{ {" ".join(some)} }}')
    return "\n".join(lines) + "\n"


def wild_vehicle(seed: int, parts: int = 12, wires: int = 20) -> Vehicle:
    return load_string(wild_text(seed, parts, wires)).vehicle
