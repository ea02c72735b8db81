"""What is live and how much flows: the solved network, and the ways to solve one.

`solve` settles one network, `solve_many` several of one circuit at once, `solve_sequence` one after
the other with relays, thermal switches and blown fuses as the condition before left them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from harnessdsl.electric.circuit import REST, Circuit, Network, Start
from harnessdsl.electric.conditions import build_network
from harnessdsl.electric.elements import Law, Motor
from harnessdsl.electric.elimination import Array, Index
from harnessdsl.electric.fuse_curves import Band
from harnessdsl.electric.newton import Bools
from harnessdsl.electric.protection import overloads
from harnessdsl.electric.settle import (
    element_ends,
    opened_indexes,
    settle,
    start_states,
)
from harnessdsl.model.kind import LOAD_TYPES
from harnessdsl.model.vehicle import Condition, Vehicle

MOST_OPENINGS = 200


@dataclass(frozen=True, slots=True)
class Warning_:
    """Something about the operating point that a person must know: `code` is chattering, race,
    hysteresis, other-state, opened, may-open, failed, assumed."""

    code: str
    subject: str
    message: str


@dataclass(frozen=True, slots=True)
class LoadState:
    """One load: `state` is off, trace (a glow or a twitch), weak or on."""

    id: str
    part: str
    name: str
    role: str
    voltage_v: float
    current_a: float
    power_w: float
    rated_power_w: float
    speed_share: float | None
    """Motors: speed as a share of that at the rated voltage."""
    state: str

    @property
    def on(self) -> bool:
        return self.state in ("on", "weak")


@dataclass(frozen=True, slots=True)
class RelayState:
    """One coil: whether its armature is pulled in, and how much current moves it."""

    id: str
    part: str
    name: str
    energised: bool
    current_a: float
    pull_in_a: float
    drop_out_a: float


@dataclass(frozen=True, slots=True)
class FuseState:
    """One fuse, link or breaker."""

    id: str
    part: str
    rating_a: float
    current_a: float
    opened: bool

    @property
    def share(self) -> float:
        """Current as a share of the rating; 0 without a rating."""
        return abs(self.current_a) / self.rating_a if self.rating_a else 0.0


@dataclass(frozen=True, slots=True)
class StableState:
    """A state of the relays in which nothing moves, and what led there."""

    energised: frozenset[str]
    reached_by: str


TRACE_SHARE = 1e-4
"""Below this share of its rated power nothing can be seen or heard of a load."""
WEAK_SHARE = 0.05
ON_SHARE = 0.6
"""Power shares: a lamp at 60 % of its power has about 0.7 of its voltage and a third of its
light."""


@dataclass(slots=True)
class OperatingPoint:
    """A network at rest. Voltages are against the reference (the body), currents from a to b of the
    element as it was written."""

    network: Network
    volts: Array
    """Of every node, in the circuit's order."""
    siemens: Array = field(repr=False)
    """Conductance of every linear element as it stands; of others the slope of its law."""
    currents: Array = field(repr=False)
    """Of every element, in the circuit's order."""
    energised: frozenset[str]
    """Coils that are pulled in."""
    opened: Mapping[str, str]
    """Protection that is open -> why."""
    bands: Mapping[str, Band]
    """Protection that opened here -> how long it takes."""
    chattering: tuple[str, ...] = ()
    """Coils that pull in and let go again without end."""
    race: tuple[str, ...] = ()
    """Coils whose state depends on which of them is quicker."""
    failure: str = ""
    """Why there is no answer; '' when there is one."""
    steps: int = 0
    """Newton steps of the last round."""
    _labels: Index | None = field(default=None, repr=False)

    # --- single values

    def voltage_v(self, node: str) -> float:
        """Return the voltage of a node against the reference. A node that nothing ties to it reads
        zero, as it does on a meter; ask `is_floating`. Raises KeyError for an unknown node."""
        return float(self.volts[self.network.circuit.node_index[node]])

    def current_a(self, element: str) -> float:
        """Return the current from a to b of an element; raises KeyError for an unknown id."""
        return float(self.currents[self.network.circuit.element_index[element]])

    def across_v(self, element: str) -> float:
        """Return the voltage from a to b of an element."""
        found = self.network.circuit.elements[self.network.circuit.element_index[element]]
        return self.voltage_v(found.a) - self.voltage_v(found.b)

    def is_floating(self, node: str) -> bool:
        """Whether no path ties the node to the reference, so that its voltage is undefined."""
        return bool(self._floating[self.network.circuit.node_index[node]])

    def closed(self, element: str) -> bool:
        """Whether an element conducts: contacts closed, protection whole."""
        return bool(self.siemens[self.network.circuit.element_index[element]] > 0)

    # --- tables

    @property
    def floating_nodes(self) -> tuple[str, ...]:
        """Nodes that no path ties to the reference."""
        nodes = self.network.circuit.nodes
        return tuple(nodes[i] for i in np.flatnonzero(self._floating))

    @property
    def loads(self) -> tuple[LoadState, ...]:
        """Every load, in the order of the file."""
        return tuple(self._load(i) for i, e in enumerate(self.network.circuit.elements)
                     if e.role in LOAD_TYPES)

    @property
    def relays(self) -> tuple[RelayState, ...]:
        circuit = self.network.circuit
        found = []
        for index in circuit.coils:
            element, figures = circuit.elements[index], circuit.coil_figures(index)
            found.append(RelayState(element.id, element.part, element.name,
                                    element.id in self.energised, float(self.currents[index]),
                                    figures.pull_in_a, figures.drop_out_a))
        return tuple(found)

    @property
    def fuses(self) -> tuple[FuseState, ...]:
        circuit = self.network.circuit
        return tuple(
            FuseState(e.id, e.part, e.rated_a, float(self.currents[i]), e.id in self.opened)
            for i, e in enumerate(circuit.elements) if e.role in ("fuse", "link", "breaker"))

    @property
    def state(self) -> Start:
        """What this point leaves behind for the condition after it."""
        return Start(self.energised, self.network.hot, dict(self.opened))

    @property
    def residual_a(self) -> float:
        """The largest sum of currents at any node: Kirchhoff's first law, checked on every
        element's own law at the voltages found."""
        circuit = self.network.circuit
        ends_a, ends_b = element_ends(circuit)
        total = np.zeros(len(circuit.nodes))
        np.add.at(total, ends_a, self.currents)
        np.subtract.at(total, ends_b, self.currents)
        return float(np.abs(total).max(initial=0.0))

    @property
    def _floating(self) -> Bools:
        if self._labels is None:
            self._labels = island_labels(self.network.circuit, self.siemens)
        return np.asarray(self._labels != self._labels[0])

    def law(self, index: int) -> Law:
        """Return the law of an element in this condition."""
        return self.network.law(index)

    def _load(self, index: int) -> LoadState:
        element = self.network.circuit.elements[index]
        amperes = float(self.currents[index])
        volts = self.across_v(element.id)
        power = volts * amperes
        rated = element.rated_v * element.rated_a
        law = self.law(index)
        speed = law.speed_share(volts, amperes) if isinstance(law, Motor) else None
        if isinstance(element.law, Motor) and not isinstance(law, Motor):
            speed = 0.0  # held fast
        share = power / rated if rated else 0.0
        state = ("on" if share >= ON_SHARE else "weak" if share >= WEAK_SHARE
                 else "trace" if share >= TRACE_SHARE else "off")
        return LoadState(element.id, element.part, element.name, element.role, volts, amperes,
                         power, rated, speed, state)

    # --- what a person must know

    def warnings(self, other_states: bool = True) -> tuple[Warning_, ...]:
        """Return everything odd about this point; looking for other stable states takes a few
        more computations."""
        found: list[Warning_] = []
        if self.failure:
            found.append(Warning_("failed", "", f"no answer: {self.failure}"))
            return tuple(found)
        circuit = self.network.circuit

        def who(name: str) -> str:
            return circuit.elements[circuit.element_index[name]].part or name

        for name in self.chattering:
            found.append(Warning_("chattering", who(name), (
                f"{who(name)} chatters: as soon as it pulls in it takes away its own supply, lets "
                "go, and pulls in again")))
        for name in self.race:
            found.append(Warning_("race", who(name), (
                f"whether {who(name)} stays in depends on which relay is quicker")))
        for name in self.network.hysteresis:
            hot = self.network.hot.get(name, False)
            found.append(Warning_("hysteresis", who(name), (
                f"{who(name)} is between its two temperatures: it stands as it stood before, "
                f"here {'hot' if hot else 'cold'}")))
        for name, why in self.opened.items():
            found.append(Warning_("opened", who(name) if name in circuit.element_index else name,
                                  why))
        for over in overloads(self.network, self.currents, frozenset(self.opened)):
            if not over.band.opens and over.band.may_open:
                found.append(Warning_("may-open", over.part, over.text()))
        if other_states:
            for state in self.other_states():
                found.append(Warning_("other-state", ", ".join(sorted(
                    {who(n) for n in state.energised ^ self.energised})), state.reached_by))
        return tuple(found)

    def other_states(self) -> tuple[StableState, ...]:
        """Return the other stable states that the relays could be in, in this same condition."""
        from harnessdsl.electric.states import find_other_states

        return find_other_states(self)


def island_labels(circuit: Circuit, siemens: Array) -> Index:
    """Return the number of the island that each node is in."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    ends_a, ends_b = element_ends(circuit)
    joined = siemens > 0
    count = len(circuit.nodes)
    graph = coo_matrix((np.ones(int(joined.sum())), (ends_a[joined], ends_b[joined])),
                       shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.intp)


def _shift_islands(point: OperatingPoint) -> None:
    """Where a source is cut off from the reference its island has no voltage of its own: it is told
    from its lowest node (highest, with positive earth), so that the answer is always the same."""
    circuit = point.network.circuit
    labels = island_labels(circuit, point.siemens)
    for label in np.unique(labels[np.abs(point.volts) > 0]):
        if label != labels[0]:
            nodes = labels == label
            own = point.volts[nodes]
            point.volts[nodes] = own - (own.max() if circuit.positive_earth else own.min())


def _names(circuit: Circuit, coils: Iterable[int]) -> frozenset[str]:
    return frozenset(circuit.elements[circuit.coils[i]].id for i in coils)


def solve_many(networks: Sequence[Network], starts: Sequence[Start] | None = None,
               open_fuses: bool = True) -> list[OperatingPoint]:
    """Solve several networks of one circuit together.

    Args:
        starts: what each begins from; the network's own past without.
        open_fuses: whether protection whose curve does not carry its current opens.
    """
    if not networks:
        return []
    circuit = networks[0].circuit
    starts = list(starts) if starts is not None else [REST] * len(networks)
    opened = [{**n.opened, **s.opened} for n, s in zip(networks, starts, strict=True)]
    bands: list[dict[str, Band]] = [{} for _ in networks]
    points: list[OperatingPoint | None] = [None] * len(networks)
    todo = list(range(len(networks)))
    energised = start_states(circuit, starts)
    for _ in range(MOST_OPENINGS):
        outcomes, batch = settle([networks[i] for i in todo], energised[:, todo],
                                 [opened_indexes(circuit, opened[i]) for i in todo])
        again = []
        tables = zip(*batch.everything(outcomes), strict=True)
        for i, outcome, table in zip(todo, outcomes, tables, strict=True):
            point = OperatingPoint(
                networks[i], *table, _names(circuit, np.flatnonzero(outcome.energised)),
                dict(opened[i]), dict(bands[i]), tuple(sorted(_names(circuit, outcome.chattering))),
                tuple(sorted(_names(circuit, outcome.race))), outcome.failure, outcome.steps)
            if outcome.floating_source:
                _shift_islands(point)
            points[i] = point
            if not open_fuses or point.failure:
                continue
            over = next((o for o in overloads(networks[i], point.currents,
                                              frozenset(opened[i])) if o.band.opens), None)
            if over is not None:
                opened[i][over.id] = over.text()
                bands[i][over.id] = over.band
                energised[:, i] = outcome.energised
                again.append(i)
        todo = again
        if not todo:
            break
    return [point for point in points if point is not None]


def solve(network: Network, start_state: Start | None = None, *, open_fuses: bool = True
          ) -> OperatingPoint:
    """Return the operating point of a network, its relays beginning as `start_state` left them."""
    return solve_many([network], [start_state or REST], open_fuses)[0]


def solve_sequence(vehicle: Vehicle, conditions: Iterable[Condition | str],
                   start: Start = REST, *, ambient_c: float | None = None
                   ) -> list[OperatingPoint]:
    """Return the operating point of each condition, one after the other: relays and thermal
    switches keep their state, blown fuses stay blown. Raises KeyError for an unknown condition."""
    points = []
    for condition in conditions:
        if isinstance(condition, str):
            condition = vehicle.conditions[condition]
        network = build_network(vehicle, condition, ambient_c=ambient_c, start=start)
        points.append(solve(network, start))
        start = points[-1].state
    return points


def matrix(vehicle: Vehicle, conditions: Iterable[Condition] | None = None, *,
           ambient_c: float | None = None) -> dict[str, OperatingPoint]:
    """Return condition name -> operating point, each reached from rest; all that the file declares
    without `conditions`."""
    chosen = list(vehicle.conditions.values() if conditions is None else conditions)
    networks = [build_network(vehicle, c, ambient_c=ambient_c) for c in chosen]
    found: dict[int, OperatingPoint] = {}
    groups: dict[int, list[int]] = {}
    for place, network in enumerate(networks):
        groups.setdefault(id(network.circuit), []).append(place)
    for places in groups.values():
        for place, point in zip(places, solve_many([networks[p] for p in places]), strict=True):
            found[place] = point
    return {c.name: found[i] for i, c in enumerate(chosen)}
