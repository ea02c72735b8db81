"""What a rule is given: the vehicle, its graph, and derived facts that are worked out once."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import Any, TypeVar

from harnessdsl.model.topology import Edge, Topology, build_topology
from harnessdsl.model.vehicle import Vehicle, Wire
from harnessdsl.rules.analysis.loads import Load, find_loads
from harnessdsl.rules.analysis.nets import Nets, build_nets
from harnessdsl.rules.analysis.shared_cavities import taken_apart
from harnessdsl.rules.analysis.simulation import Settled, Simulation
from harnessdsl.rules.analysis.states import States, build_states
from harnessdsl.rules.analysis.supply import Supply, build_supply

T = TypeVar("T")


class RuleContext:
    """Shared by all rules of one run; nothing in it changes."""

    def __init__(self, vehicle: Vehicle, electric: Callable[[Vehicle], Any] | None = None
                 ) -> None:
        self.written = vehicle
        """The vehicle as the file has it."""
        self.vehicle = taken_apart(vehicle)
        """The same with two chains in one cavity taken apart; what rules look at."""
        self.topology: Topology = build_topology(self.vehicle)
        self._electric = electric
        self._once: dict[Callable[[RuleContext], Any], Any] = {}

    def once(self, make: Callable[[RuleContext], T]) -> T:
        """Return what `make` makes of this context, made when first asked for and then kept."""
        if make not in self._once:
            self._once[make] = make(self)
        found: T = self._once[make]
        return found

    @property
    def has_electric(self) -> bool:
        """Say whether the circuit can be computed in this run."""
        return self._electric is not None

    @cached_property
    def electric(self) -> Any:
        """What the caller's factory makes of the vehicle for rules that need figures, made when
        first asked for; None when the caller gave none."""
        return None if self._electric is None else self._electric(self.written)

    @cached_property
    def nets(self) -> Nets:
        return build_nets(self.topology)

    @cached_property
    def states(self) -> States:
        return build_states(self.vehicle, self.topology)

    @cached_property
    def supply(self) -> Supply:
        return build_supply(self.vehicle, self.topology, self.nets, self.states)

    @cached_property
    def simulation(self) -> Simulation:
        """Plays states with the batteries alone: at rest no generator turns."""
        families = {name: part.family for name, part in self.vehicle.parts.items()}
        starts = [pole.net for pole in self.supply.live_poles
                  if families[pole.part] != "alternator"]
        return Simulation(self.nets, self.states, self.supply, list(dict.fromkeys(starts)))

    @cached_property
    def at_rest(self) -> Settled:
        """The parked vehicle: key out, every switch at rest."""
        return self.simulation.settle(self.states.rest)

    @cached_property
    def loads(self) -> tuple[Load, ...]:
        return tuple(find_loads(self.vehicle, self.topology, self.nets, self.wired))

    @cached_property
    def loads_at(self) -> dict[int, list[Load]]:
        """The loads by the nets of their ends."""
        found: dict[int, list[Load]] = {}
        for load in self.loads:
            found.setdefault(load.a, []).append(load)
            if load.b != load.a:
                found.setdefault(load.b, []).append(load)
        return found

    @cached_property
    def wires_at(self) -> dict[str, tuple[Wire, ...]]:
        """The wires that end at a node; nodes without any are not in it."""
        found: dict[str, list[Wire]] = {}
        for wire in self.vehicle.wires.values():
            found.setdefault(wire.a.node, []).append(wire)
            if wire.b.node != wire.a.node:
                found.setdefault(wire.b.node, []).append(wire)
        return {node: tuple(wires) for node, wires in found.items()}

    @cached_property
    def wired(self) -> frozenset[str]:
        """Nodes with a wire on them."""
        return frozenset(self.wires_at)

    @cached_property
    def wired_parts(self) -> frozenset[str]:
        """Parts with a wire on them."""
        return frozenset(end.part for wire in self.vehicle.wires.values()
                         for end in (wire.a, wire.b))

    @cached_property
    def has_battery(self) -> bool:
        """Say whether there is any source: without one nothing can be said about the supply."""
        return bool(self.supply.live_poles)

    @cached_property
    def has_sound_supply(self) -> bool:
        """Say whether loads can be judged: there is a source, and none is shorted or put in the
        wrong way round, beside which everything else is a consequence."""
        supply = self.supply
        return self.has_battery and not supply.live_nets & supply.earth_nets

    def edges_of(self, part: str) -> list[Edge]:
        """Return the edges inside a part."""
        return self._edges_of.get(part, [])

    @cached_property
    def _edges_of(self) -> dict[str, list[Edge]]:
        found: dict[str, list[Edge]] = {}
        for edge in self.topology.edges:
            if edge.part:
                found.setdefault(edge.part, []).append(edge)
        return found
