"""Random circuits for comparing the solver with others: every kind of element, in any tangle."""

from __future__ import annotations

import random

from harnessdsl.electric.circuit import Circuit
from harnessdsl.electric.elements import (
    THERMAL_VOLTAGE_V,
    Alternator,
    Cell,
    CoilFigures,
    CoilTerm,
    Element,
    Filament,
    Junction,
    Law,
    Motor,
    Resistance,
    source,
)


def random_circuit(seed: int) -> Circuit:
    """Return a circuit of 8 to 40 nodes with a battery, maybe an alternator, wires from microhms
    up, lamps, diodes, LEDs, motors, and relays whose contacts are anywhere."""
    rng = random.Random(seed)
    count = rng.randint(8, 40)
    nodes = ["earth"] + [f"p{i}" for i in range(1, count)]
    elements: list[Element] = []

    def add(law: Law, a: str, b: str, role: str = "", **more: object) -> str:
        name = f"{role or law.kind}{len(elements)}"
        elements.append(Element(name, a, b, law, role or law.kind, **more))  # type: ignore[arg-type]
        return name

    def two() -> tuple[str, str]:
        a, b = rng.sample(nodes, 2)
        return a, b

    emf = rng.choice([6.3, 12.65, 25.3])
    add(Cell(emf, rng.uniform(0.003, 0.02), rng.uniform(0.1, 1.5)), "p1", "earth")
    if rng.random() < 0.5:
        add(Alternator(emf * 1.12, rng.uniform(20, 80), rng.uniform(0.01, 0.05)), "p2",
            rng.choice(["earth", "p3"]))
    if rng.random() < 0.3:
        add(source(emf * rng.uniform(0.4, 1.1), rng.uniform(0.01, 1.0)), *two())
    for i in range(1, count):  # most nodes hang together by wires, a few by nothing but loads
        if rng.random() < 0.75:
            add(Resistance(10 ** rng.uniform(-3, 0.5)), nodes[i], nodes[rng.randrange(i)])
    for _ in range(rng.randint(1, 4)):
        add(Resistance(rng.choice([1e-6, 1e-4, 1.0, 1e3, 1e5, 1e7])), *two())
    for _ in range(rng.randint(1, 6)):
        watts = rng.choice([1.2, 5.0, 21.0, 55.0])
        add(Filament(watts / emf, emf), *two())
    for _ in range(rng.randint(0, 4)):
        add(Junction(0.75, 1.0, 1.8 * THERMAL_VOLTAGE_V, 0.03), *two())
    for _ in range(rng.randint(0, 3)):
        add(Junction(2.0, 0.015, 2.0 * THERMAL_VOLTAGE_V, 700.0), *two())
    for _ in range(rng.randint(0, 2)):
        running = rng.uniform(2, 15)
        add(Motor(running, running * rng.uniform(2.5, 5), emf), *two())
    for _ in range(rng.randint(0, 4)):
        a, b = two()
        ohm = 85 * (emf / 12.65) ** 2
        coil = add(Resistance(ohm), a, b, "coil",
                   coil=CoilFigures(0.57 * emf / ohm, 0.14 * emf / ohm))
        if rng.random() < 0.4:
            add(Junction(0.75, 1.0, 1.8 * THERMAL_VOLTAGE_V, 0.03), b, a)
        for _ in range(rng.randint(1, 2)):
            add(Resistance(0.003), *two(), "contact",
                gate=(CoilTerm(coil, rng.random() < 0.7),))
    for _ in range(rng.randint(0, 3)):
        add(Resistance(0.005), *two(), "contact", gate=())
    return Circuit(elements, "earth", nodes)
