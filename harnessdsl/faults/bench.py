"""The sound car in every condition, ready to have faults put into it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from harnessdsl.electric.assembly import VehicleCircuit
from harnessdsl.electric.circuit import Start
from harnessdsl.electric.conditions import circuit_of, set_condition
from harnessdsl.electric.elements import OPEN, Cell, Junction, Law, Resistance
from harnessdsl.electric.operating_point import OperatingPoint, solve_many
from harnessdsl.faults.base import Base, Ports
from harnessdsl.faults.case import BATTERY_OFF
from harnessdsl.faults.changes import Answer, Change
from harnessdsl.faults.effects import DEAD_SHARE, OFF, SAME, WORKS, Effect, load_states
from harnessdsl.faults.entries import Array, evaluate, linear, spec_of
from harnessdsl.faults.exact import faulty_networks, shifted_contacts
from harnessdsl.faults.modes import Fault, find_faults
from harnessdsl.faults.perturb import Solver
from harnessdsl.model.vehicle import Condition, Vehicle

ROWS = 3000
"""Faults whose answers are held at a time."""
_NO_LOADS = np.zeros(0, dtype=np.intp)


@dataclass
class Bench:
    """The healthy vehicle in every condition, ready for faults."""

    assembled: VehicleCircuit
    conditions: tuple[Condition, ...]
    ports: Ports
    points: list[OperatingPoint]
    """By condition; one more at the end, with every battery off and all switches at rest."""
    faults: list[Fault]
    _bases: dict[int, Base] = field(default_factory=dict)
    _solvers: dict[int, Solver] = field(default_factory=dict)
    _healthy: dict[int, tuple[Array, np.ndarray]] = field(default_factory=dict)
    _changes: dict[str, Change | None] = field(default_factory=dict)
    contacts: frozenset[str] = frozenset()
    rated_w: Array = field(default_factory=lambda: np.zeros(0))

    @classmethod
    def of(cls, vehicle: Vehicle, conditions: Iterable[Condition] | None = None,
           faults: Sequence[Fault] | None = None) -> Bench:
        """Return the bench of a vehicle, in all its conditions without `conditions`."""
        assembled = circuit_of(vehicle)
        chosen = tuple(vehicle.conditions.values() if conditions is None else conditions)
        if not chosen:
            chosen = (Condition("rest", "Everything at rest"),)
        ports = Ports(assembled.circuit)
        known = list(faults) if faults is not None else find_faults(assembled)
        for fault in known:
            for element in fault.added:
                ports.add(element)
        elements = assembled.circuit.elements
        networks = [set_condition(assembled, c) for c in chosen]
        dead = set_condition(assembled, Condition(BATTERY_OFF))
        networks.append(replace(dead, laws={**dead.laws, **batteries_off(assembled)}))
        points = solve_many(networks)
        return cls(assembled, chosen, ports, points, known,
                   contacts=frozenset(e.id for e in elements if e.role == "contact"),
                   rated_w=np.asarray([elements[i].rated_v * elements[i].rated_a
                                       for i in ports.loads]))

    @cached_property
    def _set_by_condition(self) -> frozenset[str]:
        """Ids of elements other than contacts whose law some condition sets."""
        return frozenset(name for point in self.points for name in point.network.laws)

    @property
    def vehicle(self) -> Vehicle:
        return self.assembled.vehicle

    @property
    def loads(self) -> list[str]:
        """Ids of the loads, as effects number them."""
        return [self.ports.names[i] for i in self.ports.loads]

    def base(self, number: int) -> Base:
        found = self._bases.get(number)
        if found is None:
            found = self._bases[number] = Base(self.ports, self.points[number])
        return found

    def solver(self, number: int, keep: bool = True) -> Solver:
        """Return the solver of a condition."""
        found = self._solvers.get(number)
        if found is None:
            if not keep:
                self._solvers.clear()
                self._bases.clear()
            found = self._solvers[number] = Solver(self.base(number))
        return found

    def forget(self, number: int, keep: bool) -> None:
        """Drop what was computed of a condition unless it is to be kept."""
        if not keep:
            self._solvers.pop(number, None)
            self._bases.pop(number, None)

    # --- what a fault changes

    def change(self, faults: Sequence[Fault], number: int,
               opened: Iterable[str] = ()) -> Change:
        """Return what faults change in a condition; `opened` names protection that is blown."""
        index = self.assembled.circuit.element_index
        blown = tuple(index[name] for name in opened if name in index)
        if len(faults) == 1:
            always = self._always(faults[0])
            if always is not None:
                return Change(dict(always.specs), dict(always.contacts), {}, always.inverted, blown)
        network = self.points[number].network
        found = Change(opened=blown)
        for fault in faults:
            self._put(found, fault, network.laws)
            for name, closed in fault.closed.items():
                if network.closed.get(name, True) != closed:
                    found.switched[index[name]] = closed
        moved = [fault for fault in faults if fault.thermal_shift_c]
        if moved:
            for name, closed in shifted_contacts(self.assembled, moved,
                                                 self._condition(number)).items():
                if network.closed.get(name, True) != closed:
                    found.switched[index[name]] = closed
        return found

    def _put(self, found: Change, fault: Fault, set_laws: Mapping[str, Law]) -> None:
        """Put what a fault changes into a change, but for contacts that a switch moves.

        Args:
            set_laws: elements whose law the condition sets.
        """
        index = self.assembled.circuit.element_index
        for name, law in fault.laws.items():
            if name in self.contacts:
                if isinstance(law, Resistance):
                    found.contacts[index[name]] = linear(law.siemens)
            elif name not in set_laws or isinstance(law, Resistance):
                found.specs[index[name]] = spec_of(law)
            # else held fast, or not turning: the condition decides
        for element in fault.added:
            found.specs[self.ports.add(element)] = spec_of(element.law)
        found.inverted |= {index[name] for name in fault.inverted}

    def _always(self, fault: Fault) -> Change | None:
        """Return what a fault changes in every condition alike, None when they differ."""
        if fault.id not in self._changes:
            found = None
            if not fault.closed and not fault.thermal_shift_c and (
                    self._set_by_condition.isdisjoint(fault.laws)):
                self._put(found := Change(), fault, {})
            self._changes[fault.id] = found
        return self._changes[fault.id]

    def _condition(self, number: int) -> Condition:
        """Return a condition; the one after the last has every battery off."""
        return (self.conditions[number] if number < len(self.conditions)
                else Condition(BATTERY_OFF))

    # --- answers

    def solve(self, number: int, jobs: Sequence[tuple[Sequence[Fault], Sequence[str]]],
              keep: bool = True) -> list[Answer]:
        """Return an answer to each (faults, blown protection) in a condition."""
        solver = self.solver(number, keep)
        return solver.solve([self._change_to_read(faults, number, opened)
                             for faults, opened in jobs])

    def _change_to_read(self, faults: Sequence[Fault], number: int, opened: Sequence[str]
                        ) -> Change:
        """Return what `change` does, shared between conditions where it is the same."""
        if len(faults) == 1 and not opened:
            always = self._always(faults[0])
            if always is not None:
                return always
        return self.change(faults, number, opened)

    def whole(self, faults: Sequence[Fault], number: int, opened: Iterable[str] = (),
              apart: Iterable[str] = ()) -> OperatingPoint:
        """Return the whole circuit solved anew with faults in it, the long way.

        Args:
            opened: ids of protection that is blown or out.
            apart: ids of other elements that are taken out.
        """
        network, = faulty_networks(self.assembled, faults, [self._condition(number)])
        out = dict.fromkeys(apart, OPEN)
        if number >= len(self.conditions):
            out |= batteries_off(self.assembled)
        network = replace(network, laws={**network.laws, **out},
                          closed={**network.closed, **dict.fromkeys(out, False)})
        start = Start(self.points[number].energised, {}, dict.fromkeys(opened, "blown"))
        return solve_many([network], [start])[0]

    def healthy_loads(self, number: int) -> tuple[Array, np.ndarray]:
        """Return the power of every load in the healthy car and its state there."""
        found = self._healthy.get(number)
        if found is None:
            point, loads = self.points[number], np.asarray(self.ports.loads, dtype=np.intp)
            volts = np.asarray([point.across_v(self.ports.names[i]) for i in loads])
            power = np.abs(volts * point.currents[loads]) if len(loads) else volts
            on = power >= DEAD_SHARE * np.maximum(self.rated_w, 1e-9)
            found = self._healthy[number] = (power, on)
        return found

    def load_powers(self, number: int, answers: Sequence[Answer]) -> Array:
        """Return the power of every load for each answer, in watts, (answers, loads)."""
        power = self.healthy_loads(number)[0]
        base = self.base(number)
        loads = np.asarray(self.ports.loads, dtype=np.intp)
        found = np.repeat(power[None, :], len(answers), axis=0)
        shifted = [(i, *a.load_shift) for i, a in enumerate(answers) if a.load_shift is not None]
        row = np.repeat([i for i, _, _ in shifted], [len(n) for _, n, _ in shifted]).astype(np.intp)
        load = np.concatenate([_NO_LOADS, *(n for _, n, _ in shifted)])
        chosen = loads[load]
        volts = base.port_volts[chosen] + np.concatenate([np.zeros(0),
                                                          *(v for _, _, v in shifted)])
        amperes, _ = evaluate(base.kinds[chosen], base.figures[:, chosen], volts)
        full_v, full_a = np.zeros_like(found), np.zeros_like(found)
        full_v[row, load], full_a[row, load] = volts, amperes
        # loads that the fault itself touches go by their own law there
        ports = np.concatenate([a.ports for a in answers])
        rows = np.repeat(np.arange(len(answers)), [len(a.ports) for a in answers])
        load_of = np.full(self.ports.count, -1, dtype=np.intp)
        load_of[loads] = np.arange(len(loads))
        at = load_of[ports]
        own = at >= 0
        rows, at, ports = rows[own], at[own], ports[own]
        own_v = np.concatenate([a.volts for a in answers])[own]
        extra = np.concatenate([a.amperes for a in answers])[own]
        full_v[rows, at] = own_v
        full_a[rows, at] = extra + base.amperes[ports] + base.siemens[ports] * (
            own_v - base.port_volts[ports])
        touched = np.zeros(found.shape, dtype=bool)
        touched[row, load] = touched[rows, at] = True
        full_v += full_a * self._inner_ohm()[None, :]
        return np.where(touched, np.abs(full_v * full_a), found)

    def _inner_ohm(self) -> Array:
        """Resistance inside the loads that have some before their own law (LEDs), in ohms."""
        found = np.zeros(len(self.ports.loads))
        for load, port in enumerate(self.ports.loads):
            law = self.ports.circuit.elements[port].law
            if isinstance(law, Junction):
                found[load] = law.series_ohm
        return found

    def node_volts(self, number: int, answers: Sequence[Answer]) -> Array:
        """Return the voltage of every node for each answer, (answers, nodes)."""
        base = self.base(number)
        nodes = len(self.ports.circuit.nodes)
        right = np.zeros((self.ports.nodes - 1, len(answers)))
        for column, answer in enumerate(answers):
            if len(answer.ports):
                right[:, column] = self.ports.incidence(answer.ports.tolist()) @ answer.amperes
        found = np.repeat(base.volts[:nodes, None], len(answers), axis=1)
        found[1:] -= base.spread(right)[:nodes - 1]
        return np.ascontiguousarray(found.T)

    def effect(self, number: int, answer: Answer) -> Effect:
        """Return what an answer means for the loads."""
        return self.effects(number, [answer])[0]

    def effects(self, number: int, answers: Sequence[Answer]) -> list[Effect]:
        """Return what each answer means for the loads, relays and fuses."""
        found = [Effect({}, failed=True) if a.failed else SAME for a in answers]
        felt = [i for i, a in enumerate(answers) if not a.failed and (
            a.load_shift is not None or a.energised is not None or a.opened or a.chattering)]
        if not felt:
            return found
        chosen = [answers[i] for i in felt]
        healthy, on = self.healthy_loads(number)
        usual = np.where(on, WORKS, OFF)
        energised = self.base(number).energised
        for first in range(0, len(felt), ROWS // 4):
            part = chosen[first:first + ROWS // 4]
            states = (load_states(self.load_powers(number, part), healthy, on, self.rated_w)
                      if len(healthy) else np.zeros((len(part), 0), dtype=int))
            rows, columns = np.nonzero(states != usual)
            changed: list[dict[int, int]] = [{} for _ in part]
            for row, column, state in zip(rows.tolist(), columns.tolist(),
                                          states[rows, columns].tolist(), strict=True):
                changed[row][column] = state
            for i, answer, differs in zip(felt[first:first + ROWS // 4], part, changed,
                                          strict=True):
                moved: dict[int, bool] = {}
                if answer.energised is not None:
                    moved = {int(n): bool(answer.energised[n])
                             for n in np.flatnonzero(answer.energised != energised)}
                if differs or moved or answer.opened or answer.chattering:
                    found[i] = Effect(differs, tuple(self.ports.names[p] for p in answer.opened),
                                      answer.chattering, False, moved)
        return found

    def effect_of_point(self, number: int, point: OperatingPoint,
                        before: Iterable[str] = ()) -> Effect:
        """Return the effect that a fully computed point shows."""
        if point.failure:
            return Effect({}, failed=True)
        healthy, on = self.healthy_loads(number)
        index = point.network.circuit.element_index
        power = np.asarray([abs(point.across_v(n) * point.currents[index[n]])
                            for n in self.loads])
        states = load_states(power, healthy, on, self.rated_w)
        differ = np.flatnonzero(states != np.where(on, WORKS, OFF))
        known = set(before)
        usual = self.points[number].energised
        moved = {i: self.ports.names[c] in point.energised
                 for i, c in enumerate(self.ports.coils)
                 if (self.ports.names[c] in point.energised) != (self.ports.names[c] in usual)}
        return Effect({int(i): int(states[i]) for i in differ},
                      tuple(n for n in point.opened if n not in known),
                      bool(point.chattering), False, moved)


def batteries_off(assembled: VehicleCircuit) -> dict[str, Resistance]:
    """Return the laws with which no battery is connected."""
    return {e.id: OPEN for e in assembled.circuit.elements if isinstance(e.law, Cell)}
