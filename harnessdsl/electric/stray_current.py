"""Current that goes home the wrong way: backwards through another load.

Two loads that are driven by the same node in opposite directions mark a node that should be earth
and is not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from harnessdsl.electric.conditions import circuit_of
from harnessdsl.electric.elements import Element
from harnessdsl.electric.operating_point import LoadState, OperatingPoint
from harnessdsl.electric.study import Study
from harnessdsl.model.kind import Side
from harnessdsl.model.vehicle import Vehicle

SEEN_SHARE = 2e-3
"""Power share above which a thing that should be off is worth a word: a lamp begins to glow in the
dark at a few thousandths."""
RAISED_V = 0.3
"""An earth end that stands at least so far off is no voltage drop any more."""
_ONE_WAY = frozenset({"filament", "heater", "solenoid", "load", "coil"})


@dataclass(frozen=True, slots=True)
class Stray:
    """One load that gets current the wrong way in one condition."""

    condition: str
    glowing: LoadState
    share: float
    """Its power as a share of its rated one."""
    fed: Element
    """The load that is switched on, and whose earth is lost."""
    reversed: Element
    """The load that its current goes backwards through."""
    node: str
    """The earth end of the other, where the current goes in."""
    node_v: float
    open: bool
    """Nothing joins the node to earth; else its way there is poor."""


def strays(study: Study) -> Iterator[Stray]:
    """Yield every load that gets current backwards through another one, in every condition."""
    oriented = oriented_loads(study.vehicle, study.elements.values())
    for name, point in study.points.items():
        for load in point.loads:
            share = load.power_w / load.rated_power_w if load.rated_power_w else 0.0
            if share >= SEEN_SHARE:
                found = _stray(study, oriented, name, point, load, share)
                if found is not None:
                    yield found


def oriented_loads(vehicle: Vehicle, elements: Iterable[Element]) -> dict[str, tuple[str, str]]:
    """Return load id -> (end towards the supply, end towards earth) where the kind tells them
    apart."""
    found: dict[str, tuple[str, str]] = {}
    for element in elements:
        if element.role not in _ONE_WAY:
            continue
        part = vehicle.parts[element.part]
        if part.family == "gauge":
            continue  # its lower end goes to a sender, not to earth
        sides = {f"{part.name}.{t.name}": t.side for t in part.kind.terminals.values()}
        if sides.get(element.a) is Side.UPPER and sides.get(element.b) is Side.LOWER:
            found[element.id] = (element.a, element.b)
        elif sides.get(element.b) is Side.UPPER and sides.get(element.a) is Side.LOWER:
            found[element.id] = (element.b, element.a)
    return found


def _stray(study: Study, oriented: dict[str, tuple[str, str]], condition: str,
           point: OperatingPoint, load: LoadState, share: float) -> Stray | None:
    way = study.way(point, load.id)
    own = study.elements[load.id]
    chain = [s.element for s in way.out] + [own] + [s.element for s in way.back]
    fed: Element | None = None
    for element in chain:
        ends = oriented.get(element.id)
        if ends is None:
            continue
        if abs(point.voltage_v(ends[1])) <= abs(point.voltage_v(ends[0])):
            fed = element
        elif fed is not None:
            node = ends[1]
            node_v = abs(point.voltage_v(node))
            if node_v < RAISED_V:
                return None
            return Stray(condition, load, share, fed, element, node, node_v,
                         node not in study.shorts.earthed)
    return None


def joined_nodes(study: Study, node: str) -> tuple[str, ...]:
    """Return the nodes that wires, plugs and bars join to `node`, in the order they are reached:
    what
    shares its earth with it."""
    topology = circuit_of(study.vehicle).topology
    return tuple(topology.reach(node, lambda edge: edge.type in ("wire", "plug", "joint")
                                and not edge.a.startswith("@") and not edge.b.startswith("@")))
