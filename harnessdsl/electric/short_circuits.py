"""What flows when a wire touches metal, when its fuse opens, and if the wire lives so long.

The current of a dead short at a node is the battery's open-circuit voltage over the resistance of
the way there and back, with the wires warm (70 C), the engine stopped, and every switch on the way
closed: the smallest current that a dead short there can have. A chafe that only just touches
passes less still.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from dataclasses import dataclass

from harnessdsl.electric.conditions import circuit_of
from harnessdsl.electric.elements import Cell, Element, Resistance
from harnessdsl.electric.fuse_curves import FOREVER_S, Band
from harnessdsl.electric.heating import (
    Insulation,
    heated_for_s,
    insulation_of,
    steady_c,
)
from harnessdsl.model.vehicle import Vehicle, Wire

WARM_C = 70.0
_WAYS = frozenset({"wire", "plug", "joint", "contact", "fuse", "link", "breaker"})
_PROTECTION = frozenset({"fuse", "link", "breaker"})
_LIMITED = frozenset({"electronic"})


@dataclass(frozen=True, slots=True)
class Short:
    """A dead short to metal at one node."""

    node: str
    current_a: float
    way: tuple[Element, ...]
    """From the battery's live pole to the node."""
    protection: Element | None
    """What opens first on the way, judged by the latest time its curve allows."""
    band: Band
    """When it opens; for ever without protection."""


@dataclass(frozen=True, slots=True)
class Danger:
    """A wire that a short heats beyond its insulation before the fuse opens."""

    short: Short
    wire: Wire
    insulation: Insulation
    bears_s: float
    """How long the wire bears the current; `inf` where it carries it for good."""
    steady_c: float
    """Where it would settle; `inf` where it would not."""
    start_c: float

    @property
    def overshoot(self) -> float:
        """Longest opening time over the time borne: above 1 the wire is not protected."""
        if math.isinf(self.bears_s):
            return 0.0
        return self.short.band.longest_s / self.bears_s


class ShortCircuits:
    """Shorts at every node that a battery can reach."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle = vehicle
        assembled = circuit_of(vehicle, WARM_C)
        self.circuit = assembled.circuit
        electronic = {
            (part.name, p.a, p.b) for part in vehicle.parts.values()
            for p in part.kind.primitives if _LIMITED & set(p.flags)}
        self.at: dict[str, list[tuple[Element, float]]] = {}
        self.earth_at: dict[str, list[tuple[Element, float]]] = {}
        nodes = {f"{part}.{name}" for part, a, b in electronic for name in (a, b)}
        for element in self.circuit.elements:
            law = element.law
            if not isinstance(law, Resistance) or math.isinf(law.ohm):
                continue
            limited = (element.role == "contact" and element.a in nodes and element.b in nodes)
            if element.role in _WAYS and not limited:
                self._link(self.at, element, law.ohm)
            if element.role in ("wire", "plug", "joint", "bond"):
                self._link(self.earth_at, element, law.ohm)
        self.reached: dict[str, tuple[float, float, Element | None]] = {}
        """Node -> ohm from the live pole, open-circuit volts, element that leads there."""
        self._search()

    @staticmethod
    def _link(into: dict[str, list[tuple[Element, float]]], element: Element, ohm: float) -> None:
        into.setdefault(element.a, []).append((element, ohm))
        into.setdefault(element.b, []).append((element, ohm))

    def _search(self) -> None:
        reference = self.circuit.reference
        home = _shortest(self.earth_at, {reference: 0.0})
        starts: dict[str, tuple[float, float]] = {}
        for element in self.circuit.elements:
            law = element.law
            if not isinstance(law, Cell):
                continue
            live, earth = ((element.b, element.a) if self.circuit.positive_earth
                           else (element.a, element.b))
            if earth not in home and live in home:
                live, earth = earth, live
            # a battery that stands on another one adds its voltage and its resistance
            back = home[earth][0] if earth in home else None
            if back is not None and live not in home:
                starts[live] = (law.ohm + back, law.emf_v)
        self._stack(starts)
        self.earthed = frozenset(home)
        queue = [(ohm, node, volts) for node, (ohm, volts) in sorted(starts.items())]
        self.reached = {node: (ohm, volts, None) for ohm, node, volts in queue}
        heapq.heapify(queue)
        done: set[str] = set()
        while queue:
            ohm, node, volts = heapq.heappop(queue)
            if node in done:
                continue
            done.add(node)
            for element, own in self.at.get(node, ()):
                far = element.b if element.a == node else element.a
                if far in self.earthed or far in done:
                    continue
                known = self.reached.get(far)
                if known is None or ohm + own < known[0]:
                    self.reached[far] = (ohm + own, volts, element)
                    heapq.heappush(queue, (ohm + own, far, volts))

    def _stack(self, starts: dict[str, tuple[float, float]]) -> None:
        cells = [(e, e.law) for e in self.circuit.elements if isinstance(e.law, Cell)]
        for _ in cells:
            for element, law in cells:
                low, high = ((element.a, element.b) if self.circuit.positive_earth
                             else (element.b, element.a))
                if high in starts:
                    continue
                for node, (ohm, volts) in list(starts.items()):
                    way = _shortest(self.at, {node: 0.0})
                    if low in way and high not in way:
                        starts[high] = (ohm + way[low][0] + law.ohm, volts + law.emf_v)
                        break

    def way(self, node: str) -> tuple[Element, ...]:
        """Return the elements from the live pole to a node."""
        found: list[Element] = []
        while (element := self.reached[node][2]) is not None:
            found.append(element)
            node = element.a if element.b == node else element.b
        return tuple(reversed(found))

    def at_node(self, node: str) -> Short | None:
        """Return the short at a node; None where no battery reaches it."""
        if node not in self.reached:
            return None
        ohm, volts, _ = self.reached[node]
        current = volts / max(ohm, 1e-6)
        way = self.way(node)
        best: tuple[Band, Element] | None = None
        for element in way:
            if element.curve is None or not element.rated_a:
                continue
            band = element.curve.band(current / element.rated_a)
            if best is None or (band.longest_s, band.shortest_s, element.rated_a) <= (
                    best[0].longest_s, best[0].shortest_s, best[1].rated_a):
                best = (band, element)
        if best is None:
            return Short(node, current, way, None, Band(FOREVER_S, FOREVER_S))
        return Short(node, current, way, best[1], best[0])

    def far_ends(self) -> Iterator[tuple[Wire, Short]]:
        """Yield every wire that a battery reaches, with the short at its end away from it."""
        for wire in self.vehicle.wires.values():
            a, b = wire.a.node, wire.b.node
            if a not in self.reached or b not in self.reached:
                continue
            far = max((a, b), key=lambda node: self.reached[node][0])
            short = self.at_node(far)
            if short is not None:
                yield wire, short

    def dangers(self) -> Iterator[Danger]:
        """Yield what a dead short at each wire's far end does to the weakest wire behind its fuse.

        Wires before the first fuse, and wires whose fuse has no rating, are not judged.
        """
        for _, short in self.far_ends():
            if short.protection is None:
                continue
            worst: Danger | None = None
            behind = False
            for element in short.way:
                if element is short.protection:
                    behind = True
                if not behind or element.role != "wire":
                    continue
                wire = self.vehicle.wires.get(element.id)
                if wire is None or wire.area_mm2 is None or wire.fusible:
                    continue
                danger = self._danger(short, wire, wire.area_mm2)
                if worst is None or danger.overshoot > worst.overshoot:
                    worst = danger
            if worst is not None:
                yield worst

    def _danger(self, short: Short, wire: Wire, area_mm2: float) -> Danger:
        insulation = insulation_of(wire.insulation, wire.temperature_class_c)
        start_c = min(insulation.steady_c, WARM_C)
        bears = heated_for_s(short.current_a, area_mm2, start_c, insulation.short_c,
                             material=wire.material)
        return Danger(short, wire, insulation, bears,
                      steady_c(short.current_a, area_mm2, material=wire.material), start_c)


def _shortest(links: dict[str, list[tuple[Element, float]]], starts: dict[str, float]
              ) -> dict[str, tuple[float, Element | None]]:
    found: dict[str, tuple[float, Element | None]] = {n: (o, None) for n, o in starts.items()}
    queue = [(ohm, node) for node, ohm in sorted(starts.items())]
    done: set[str] = set()
    while queue:
        ohm, node = heapq.heappop(queue)
        if node in done:
            continue
        done.add(node)
        for element, own in links.get(node, ()):
            far = element.b if element.a == node else element.a
            if far not in found or ohm + own < found[far][0]:
                found[far] = (ohm + own, element)
                heapq.heappush(queue, (ohm + own, far))
    return found


def longest_run_m(area_mm2: float, fuse_multiple_a: float, volts: float, before_ohm: float,
                  ohm_per_m: float) -> float:
    """Return the length of wire at whose end a short still drives `fuse_multiple_a`; 0 where even a
    short right at the fuse does not."""
    return max(0.0, (volts / fuse_multiple_a - before_ohm) / ohm_per_m)

