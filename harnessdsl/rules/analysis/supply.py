"""Where the supply gets to, and what gets back to earth: for every net, the least conditions under
which it is joined to a live pole, and those under which it is joined to earth.

A path runs through wires, plugs, bars, fuses, contacts that can close, diodes in their direction
and resistors; it never runs through a load, and it ends where it meets the opposite side.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from harnessdsl.model.kind import PROTECTION_TYPES, SOURCE_TYPES
from harnessdsl.model.topology import Edge, Topology
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.rules.analysis.nets import Link, Nets
from harnessdsl.rules.analysis.states import PURE, UNFUSED, States

SHORT_BELOW_OHM = 0.1
"""A resistance below this is a shunt: joined through it is as good as joined directly
(common practice, no source; an ammeter's shunt has about 1 mohm)."""
SIGNAL_FROM_OHM = 1000.0
"""From this resistance on, what an instrument or a module has inside is a measuring input, through
which nothing is fed (common practice, no source; gauges and senders have 3 to 700 ohm)."""
MAX_ENTRIES = 64
"""So many ways to reach one net are kept; a vehicle has a handful."""


@dataclass(frozen=True, slots=True)
class Pole:
    """One side of a battery or generator."""

    part: str
    node: str
    net: int


@dataclass(slots=True)
class Entry:
    """One way to get to a net: under which condition, and from where."""

    net: int
    condition: int
    link: Link | None = None
    before: Entry | None = None
    beaten: bool = False
    """A way with a weaker condition was found later."""

    @property
    def links(self) -> list[Link]:
        """The links passed, from the start on."""
        found: list[Link] = []
        entry: Entry | None = self
        while entry is not None and entry.link is not None:
            found.append(entry.link)
            entry = entry.before
        return found[::-1]

    @property
    def nets(self) -> list[int]:
        """The nets passed, from the start on, this one last."""
        found: list[int] = []
        entry: Entry | None = self
        while entry is not None:
            found.append(entry.net)
            entry = entry.before
        return found[::-1]

    @property
    def start(self) -> int:
        return self.nets[0]


@dataclass(frozen=True, slots=True)
class Way:
    """A passable link as seen from one net."""

    far: int
    condition: int
    masks: tuple[int, ...]
    link: Link


@dataclass(frozen=True, slots=True)
class Supply:
    """Poles, earth, and the reach of both sides."""

    live_poles: tuple[Pole, ...]
    return_poles: tuple[Pole, ...]
    live_nets: frozenset[int]
    """Nets with a live pole on them."""
    metal_nets: frozenset[int]
    """Nets with metal or an earth point on them."""
    earth_nets: frozenset[int]
    """Metal, and the return poles of the sources."""
    live_ways: tuple[tuple[Way, ...], ...]
    earth_ways: tuple[tuple[Way, ...], ...]
    live: tuple[tuple[Entry, ...], ...]
    """By net: the ways to it from a live pole."""
    earth: tuple[tuple[Entry, ...], ...]
    """By net: the ways from it to earth."""

    def fed(self, net: int) -> bool:
        """Say whether a net can be live; earth never counts, even when something shorts to it."""
        return bool(self.live[net]) and net not in self.earth_nets

    def returned(self, net: int) -> bool:
        """Say whether a net can be joined to earth."""
        return bool(self.earth[net])


def live_without(supply: Supply, states: States, net: int) -> tuple[tuple[Entry, ...], ...]:
    """Return the ways from the live poles to every net that do not lead over `net`."""
    return _spread([pole.net for pole in supply.live_poles], supply.live_ways, supply.earth_nets,
                   states.everything, net)


def is_protection(edge: Edge) -> bool:
    """Say whether an edge is a fuse, breaker, link or a wire that is a link itself."""
    return edge.type in PROTECTION_TYPES or edge.type == "wire"


def _conducts(link: Link, states: States, vehicle: Vehicle) -> tuple[int, tuple[int, ...]] | None:
    """Return the condition for `link` to conduct and its variables' masks, or None for never."""
    edge = link.edge
    everything = states.everything
    if link.suppressor:
        return None
    if edge.type == "contact":
        closing = states.closing(edge)
        if vehicle.parts[edge.part].family == "alternator":
            return closing.condition & ~UNFUSED, closing.masks  # exciter diodes give a few amperes
        return closing.condition, closing.masks
    if is_protection(edge):
        return everything & ~UNFUSED, ()
    if edge.type in ("diode", "inductor"):
        return everything, ()
    if edge.type == "resistor":
        assert edge.primitive is not None
        if "electronic" in edge.primitive.flags:
            return None
        ohm = edge.primitive.figure("resistance")
        if ohm is not None and ohm >= SIGNAL_FROM_OHM and (
                vehicle.parts[edge.part].family != "resistor"):
            return None
        return (everything if ohm is not None and ohm < SHORT_BELOW_OHM
                else everything & ~PURE), ()
    if edge.type == "thermistor":
        return everything & ~PURE, ()
    if edge.type == "winding" and vehicle.parts[edge.part].family == "alternator":
        return everything & ~PURE, ()  # the exciter's way to earth: through the field
    return None


def _ways(nets: Nets, states: States, vehicle: Vehicle
          ) -> tuple[list[tuple[Way, ...]], list[tuple[Way, ...]]]:
    """Return the ways by which the live side spreads, and those by which earth spreads."""
    live: list[list[Way]] = [[] for _ in nets.members]
    earth: list[list[Way]] = [[] for _ in nets.members]
    for link in nets.links:
        if link.a == link.b:
            continue
        found = _conducts(link, states, vehicle)
        if found is None:
            continue
        condition, masks = found
        forward = Way(link.b, condition, masks, link)
        backward = Way(link.a, condition, masks, link)
        one_way = link.edge.type == "diode"
        # current runs from a to b through a diode: from the live side to earth, or, where plus is
        # earth, from earth to the live side
        if not (one_way and vehicle.positive_earth):
            live[link.a].append(forward)
            earth[link.b].append(backward)
        if not one_way or vehicle.positive_earth:
            live[link.b].append(backward)
            earth[link.a].append(forward)
    return [tuple(found) for found in live], [tuple(found) for found in earth]


def _poles(topology: Topology, nets: Nets, metal: frozenset[int], positive_earth: bool
           ) -> tuple[tuple[Pole, ...], tuple[Pole, ...]]:
    """Return live and return poles. The pole that is bonded to metal is the return, whatever the
    file says about polarity: a battery the wrong way round is one mistake, not two hundred."""
    live: list[Pole] = []
    back: list[Pole] = []
    for edge in topology.edges:
        if edge.type not in SOURCE_TYPES:
            continue
        plus = Pole(edge.part, edge.a, nets.of[edge.a])
        minus = Pole(edge.part, edge.b, nets.of[edge.b])
        plus_is_live = not positive_earth
        if plus.net in metal and minus.net not in metal:
            plus_is_live = False
        elif minus.net in metal and plus.net not in metal:
            plus_is_live = True
        live.append(plus if plus_is_live else minus)
        back.append(minus if plus_is_live else plus)
    return tuple(live), tuple(back)


def _spread(starts: Iterable[int], ways: Sequence[tuple[Way, ...]], stops: frozenset[int],
            everything: int, without: int = -1) -> tuple[tuple[Entry, ...], ...]:
    """Return for every net the entries with the weakest conditions, breadth first. A path ends at
    the nets of `stops`, and never enters the net `without`."""
    entries: list[list[Entry]] = [[] for _ in ways]
    queue: list[Entry] = []
    for net in starts:
        if not entries[net] and net != without:
            first = Entry(net, everything)
            entries[net].append(first)
            queue.append(first)
    for entry in queue:
        if entry.beaten or (entry.net in stops and entry.link is not None):
            continue
        condition = entry.condition
        for way in ways[entry.net]:
            if way.far == without:
                continue
            joined = condition & way.condition
            if joined != condition and any(not joined & mask for mask in way.masks):
                continue
            known = entries[way.far]
            if any(joined | old.condition == old.condition for old in known):
                continue
            beaten = [old for old in known if old.condition | joined == joined]
            if len(known) >= MAX_ENTRIES and not beaten:
                continue
            for old in beaten:
                old.beaten = True
                known.remove(old)
            found = Entry(way.far, joined, way.link, entry)
            known.append(found)
            queue.append(found)
    return tuple(tuple(found) for found in entries)


def build_supply(vehicle: Vehicle, topology: Topology, nets: Nets, states: States) -> Supply:
    """Return the reach of supply and earth in `vehicle`."""
    metal = frozenset(
        net for node, net in nets.of.items()
        if node.startswith("@") or (
            (part := vehicle.parts.get(topology.part_of[node])) is not None
            and part.family == "earth"))
    live_poles, return_poles = _poles(topology, nets, metal, vehicle.positive_earth)
    live_nets = frozenset(pole.net for pole in live_poles)
    earth_nets = metal | (frozenset(pole.net for pole in return_poles) - live_nets)
    live_ways, earth_ways = _ways(nets, states, vehicle)
    return Supply(
        live_poles, return_poles, live_nets, metal, earth_nets,
        tuple(live_ways), tuple(earth_ways),
        _spread([pole.net for pole in live_poles], live_ways, earth_nets, states.everything),
        _spread(sorted(earth_nets), earth_ways, live_nets, states.everything))
