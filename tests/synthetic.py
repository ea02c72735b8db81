"""Made-up vehicles of any size, as text in the language: for benchmarks and for tests of scale.

A vehicle is a battery, an alternator, an ignition switch, fuse boxes, earth points all over the
body, and circuits of the usual sorts: lamps behind a switch, a motor behind a relay, an
earthed-switch lamp, a heater, head lamps, a fan on a thermal switch, a gauge with its sender,
warning LEDs. A fuse box has a rail from the battery and a relief relay that feeds its line 15. As
in a real vehicle a circuit begins at some box and its loads are anywhere, each earthed where it is.
The same size and seed give the same text.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field

CONDITIONS = 10
WIRES_PER_EARTH = 40
WIRES_PER_BOX = 80


@dataclass
class _Writer:
    rng: random.Random
    lines: list[str] = field(default_factory=list)
    wires: int = 0
    serial: dict[str, int] = field(default_factory=dict)
    switches: list[tuple[str, str]] = field(default_factory=list)
    """(part or part.actuator, position that switches it on)"""

    def part(self, kind: str, letter: str, rest: str = "") -> str:
        self.serial[letter] = number = self.serial.get(letter, 0) + 1
        name = f"{letter}{number}"
        self.lines.append(f"{kind} {name} {rest}".rstrip())
        return name

    def wire(self, a: str, b: str, area: float, longest_m: float = 3.0) -> None:
        length = 0.2 + self.rng.random() * longest_m
        self.lines.append(f"wire {a} -> {b} {area:g} mm2 RD {length:.2f} m")
        self.wires += 1

    def through_plug(self, a: str, b: str, area: float) -> None:
        """Two wires with a two-way plug between them."""
        plug = self.part("connector", "X", "2 way")
        self.lines.append(f"wire {a} -> {plug}.1 -> {b} {area:g} mm2 RD "
                          f"{0.5 + self.rng.random() * 4:.2f} m")
        self.wires += 2


class _Box:
    """A fuse box: a rail, a relief relay and its line 15, and the circuits that begin there."""

    def __init__(self, w: _Writer, main: str, ignition: str, earths: list[str]) -> None:
        self.w = w
        self.earths = earths
        self.rail = w.part("splice", "J")
        w.wire(main, self.rail, 16)
        fuse = w.part("blade-fuse", "F", "30 A")
        w.wire(self.rail, f"{fuse}.1", 6, 0.3)
        relay = w.part("relay-diode", "K")
        self.line15 = w.part("splice", "J")
        w.wire(f"{fuse}.2", f"{relay}.30", 6, 0.3)
        w.wire(f"{relay}.87", self.line15, 6, 0.3)
        w.wire(ignition, f"{relay}.86", 0.75)
        w.wire(f"{relay}.85", self.earth, 0.75)

    @property
    def earth(self) -> str:
        return self.w.rng.choice(self.earths)

    def fused(self, from_: str, rating: int) -> str:
        fuse = self.w.part("blade-fuse", "F", f"{rating} A")
        self.w.wire(from_, f"{fuse}.1", 2.5, 0.3)
        return f"{fuse}.2"

    def switch(self) -> str:
        name = self.w.part("toggle-switch", "S")
        self.w.switches.append((name, "on"))
        return name

    def lamps(self) -> None:
        w = self.w
        switch = self.switch()
        w.wire(self.fused(self.rail, 15), f"{switch}.1", 1.5)
        joint = w.part("splice", "J")
        w.through_plug(f"{switch}.2", joint, 1.5)
        for _ in range(w.rng.randint(1, 4)):
            lamp = w.part(w.rng.choice(["lamp", "side-lamp", "tail-lamp"]), "E")
            w.wire(joint, f"{lamp}.1", 0.75)
            w.wire(f"{lamp}.2", self.earth, 0.75, 0.6)

    def motor(self) -> None:
        w = self.w
        switch, relay = self.switch(), w.part("relay-diode", "K")
        w.wire(self.line15, f"{switch}.1", 0.75)
        w.wire(f"{switch}.2", f"{relay}.86", 0.75)
        w.wire(f"{relay}.85", self.earth, 0.75)
        w.wire(self.fused(self.rail, 25), f"{relay}.30", 2.5, 0.4)
        motor = w.part("motor", "M", "9 A stalls 35 A")
        w.through_plug(f"{relay}.87", f"{motor}.+", 2.5)
        w.through_plug(f"{motor}.-", self.earth, 2.5)

    def courtesy(self) -> None:
        w = self.w
        lamp, door = w.part("festoon-lamp", "E"), w.part("door-switch", "S", "on body")
        w.wire(self.fused(self.rail, 10), f"{lamp}.1", 0.75)
        w.through_plug(f"{lamp}.2", f"{door}.1", 0.75)
        w.switches.append((door, "open"))

    def heater(self) -> None:
        w = self.w
        switch, heater = self.switch(), w.part("heater", "E")
        w.wire(self.fused(self.line15, 20), f"{switch}.1", 2.5)
        w.through_plug(f"{switch}.2", f"{heater}.+", 2.5)
        w.wire(f"{heater}.-", self.earth, 2.5)

    def headlamps(self) -> None:
        w = self.w
        light, dip = w.part("light-switch-single", "S"), w.part("dip-switch", "S")
        w.switches += [(light, "head"), (dip, "main")]
        w.wire(self.fused(self.rail, 25), f"{light}.30", 4)
        w.wire(f"{light}.56", f"{dip}.56", 2.5)
        for _ in range(2):
            lamp = w.part("headlamp-bulb", "E")
            w.wire(self.fused(f"{dip}.56a", 10), f"{lamp}.56a", 1.5)
            w.wire(self.fused(f"{dip}.56b", 10), f"{lamp}.56b", 1.5)
            w.wire(f"{lamp}.31", self.earth, 1.5)

    def fan(self) -> None:
        w = self.w
        switch, relay = w.part("thermo-switch", "S"), w.part("relay-resistor", "K")
        w.wire(self.line15, f"{relay}.86", 0.75)
        w.wire(f"{relay}.85", f"{switch}.1", 0.75)
        w.wire(f"{switch}.2", self.earth, 0.75)
        w.wire(self.fused(self.rail, 30), f"{relay}.30", 4, 0.4)
        motor = w.part("fan-motor", "M")
        w.through_plug(f"{relay}.87", f"{motor}.+", 4)
        w.wire(f"{motor}.-", self.earth, 4)

    def gauge(self) -> None:
        w = self.w
        gauge, sender = w.part("gauge", "P"), w.part("temperature-sender", "B", "on engine")
        w.wire(self.fused(self.line15, 5), f"{gauge}.15", 0.5)
        w.through_plug(f"{gauge}.G", f"{sender}.G", 0.5)

    def warnings(self) -> None:
        w = self.w
        fed = w.part("splice", "J")
        w.wire(self.fused(self.line15, 5), fed, 0.5)
        for _ in range(w.rng.randint(2, 3)):
            led, switch = w.part("warning-led", "H"), w.part("push-switch", "S")
            w.switches.append((switch, "pressed"))
            w.wire(fed, f"{led}.+", 0.5)
            w.wire(f"{led}.-", f"{switch}.1", 0.5)
            w.wire(f"{switch}.2", self.earth, 0.5)


def synthetic_text(wires: int, seed: int = 1) -> str:
    """Return a vehicle with about `wires` wires (never fewer) and CONDITIONS conditions."""
    w = _Writer(random.Random(seed))
    size = max(1.0, wires / 500)  # the supply grows with what hangs on it
    w.lines += [f'vehicle "Made-up, {wires} wires" {{ supply 12 V negative-earth }}',
                f"battery G1 {90 * size:g} Ah {4 / size:g} mohm",
                f"alternator G2 {100 * size:g} A on engine",
                "ignition-lock S1", "earth EP1", "earth EP2 on engine", "earth EP3"]
    w.serial |= {"S": 1, "EP": 3, "G": 2}
    w.wire("G1.-", "EP1", 50 * size, 0.3)
    w.wire("EP2", "EP3", 35 * size, 0.3)
    w.wire("G2.B+", "G1.+", 25 * size, 1.0)
    w.wire("G1.+", "S1.30", 10 * size, 1.0)
    charge = w.part("charge-warning-lamp", "H")
    w.wire("S1.15", f"{charge}.1", 0.75)
    w.wire(f"{charge}.2", "G2.D+", 0.75)
    sorts = (_Box.lamps, _Box.lamps, _Box.motor, _Box.courtesy, _Box.heater, _Box.headlamps,
             _Box.fan, _Box.gauge, _Box.warnings)
    earths = [w.part("earth", "EP") for _ in range(max(2, wires // WIRES_PER_EARTH))]
    boxes: list[_Box] = []
    while len(boxes) < max(1, wires // WIRES_PER_BOX):
        if len(boxes) % 8 == 0:  # a main stud and a branch of line 15 for every eight boxes
            main = w.part("splice", "J")
            w.wire("G1.+", main, 35, 1.0)
            ignition = w.part("splice", "J")
            w.wire("S1.15", ignition, 6, 1.0)
        boxes.append(_Box(w, main, ignition, earths))
    while w.wires < wires:
        w.rng.choice(sorts)(w.rng.choice(boxes))
    for number in range(CONDITIONS):
        position = ("off", "run", "run", "radio", "run")[number % 5]
        settings = [f"S1 = {position}"]
        settings += [f"{name} = {on}" for name, on in w.switches if w.rng.random() < 0.15]
        if position == "run" and number % 2:
            settings += ["engine running", f"engine {w.rng.choice([60, 90, 97])} C"]
        w.lines.append(f"condition c{number} {{ {', '.join(settings)} }}")
    return "\n".join(w.lines) + "\n"
