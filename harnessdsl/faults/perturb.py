"""Many faults in one condition at once, each computed against the network around it.

An element that differs from the healthy one is the healthy one and a current source beside it (an
exact equivalent). The sources of one fault, of the lamps and diodes that it shifts far, of the
relays that it moves and the fuses that it blows are found together by Newton's method over these
few ports; the rest of the network answers by its factors. Most faults change the conductance of
one thing, and nothing moves: those are done together, in closed form. What cannot be found so is
computed the long way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from harnessdsl.faults.base import Base
from harnessdsl.faults.changes import FAILED, NO_SHIFT, NOTHING, Answer, Change
from harnessdsl.faults.entries import LINEAR, OPEN_SIEMENS, Array, Index
from harnessdsl.faults.few_ports import newton
from harnessdsl.faults.limits import Limits
from harnessdsl.faults.paths import Paths, Rows
from harnessdsl.faults.port_table import MOST_USED, PortTable
from harnessdsl.faults.settling import Task, begin, move_armatures, open_worst_fuse
from harnessdsl.faults.shifts import Reach

MOST_ROUNDS = 60
MOST_CHUNK = 1500
"""Faults computed together: bounds the memory, not the answer."""
SAME_V = 1e-6
DEAD_A = 1e-9
"""A wire that carries less, and has no voltage across, may be broken without anyone noticing."""
CHEAP_FLOPS, MOST_PAIRS = 1_000_000, 4_000_000
SIZES = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256)


@dataclass(slots=True)
class _Happens:
    """What happens because of currents pushed, by answer; all but bends by their numbers."""

    bends: dict[int, tuple[Index, Array]] = field(default_factory=dict)
    """Watched places of laws, and the change of their voltage."""
    coils: dict[int, tuple[Index, Array]] = field(default_factory=dict)
    """Coils that carry another current, and how many amperes."""
    fuses: dict[int, list[tuple[int, float]]] = field(default_factory=dict)
    """Fuses that carry too much, and how many amperes."""
    felt: dict[int, tuple[Index, Array]] = field(default_factory=dict)
    """Loads and the change of their voltage."""


class Solver:
    """Faults in one condition."""

    def __init__(self, base: Base) -> None:
        self.base = base
        self.ports = base.ports
        self.watched = base.ports.watched
        incidence = base.ports.incidence(self.watched)
        self.paths = Paths(base.ways, incidence)
        self.seen = self.paths.of(incidence)
        self.limits = Limits(base, self.seen.squares())
        self.load_ports = frozenset(self.ports.loads)
        self.coil_ports = frozenset(self.ports.coils)
        self.coil_number = {port: number for number, port in enumerate(self.ports.coils)}
        self.table = PortTable(self.ports, self.paths)
        self.place = np.full(self.ports.count, -1, dtype=np.intp)
        """By port: its place among the watched ones, -1 without one."""
        self.place[self.watched] = np.arange(len(self.watched))
        self.reach = Reach(self.seen, self.limits.care_v, self.limits.coil_places)

    def solve(self, changes: Sequence[Change]) -> list[Answer]:
        """Return the answer to each change, in order; `failed` ones are for the long way."""
        self.base.grow()
        if len(self.place) < self.ports.count:
            self.place = np.concatenate([self.place, np.full(
                self.ports.count - len(self.place), -1, dtype=np.intp)])
        answers: list[Answer] = [NOTHING] * len(changes)
        single: list[tuple[int, int, float]] = []
        others: list[Task] = []
        begun: dict[int, Task] = {}
        for number, change in enumerate(changes):
            only = change.only
            if only is None:
                task = begin(self.limits, number, change)
                only = _only(task)
                if only is None or only[0] in self.coil_ports:
                    others.append(task)
                    continue
                begun[number] = task
            elif only[0] in self.coil_ports:
                others.append(begin(self.limits, number, change))
                continue
            single.append((number, *only))
        tasks = self._alive(others, answers)
        tasks += self._straight(single, changes, begun, answers)
        tasks.sort(key=lambda task: task.number)
        for first in range(0, len(tasks), MOST_CHUNK):
            self._chunk(tasks[first:first + MOST_CHUNK], answers)
        return answers

    # --- one conductance changed, and nothing else happens

    def _straight(self, single: Sequence[tuple[int, int, float]], changes: Sequence[Change],
                  begun: Mapping[int, Task], answers: list[Answer]) -> list[Task]:
        """Answer what one changed conductance does; return the tasks of those where more happens
        than that, one round on.

        Args:
            single: (number of the change, port, siemens).
            begun: tasks that there are already, by the number of the change.
        """
        if not single:
            return []
        base = self.base
        task = np.asarray([s[0] for s in single], dtype=np.intp)
        ports = np.asarray([s[1] for s in single], dtype=np.intp)
        new = np.asarray([s[2] for s in single])
        before, healthy, amperes = base.port_volts[ports], base.siemens[ports], base.amperes[ports]
        dead = (np.abs(amperes) <= DEAD_A) & (np.abs(before) <= SAME_V) & (
            np.abs(before) * np.maximum(new, healthy) <= DEAD_A)
        rest = amperes - healthy * before
        slopes = new - healthy
        alive = np.flatnonzero(~dead)
        ohm = np.zeros(len(ports))
        rows = self.paths.of(self.ports.incidence(ports[alive]))
        ohm[alive] = rows.squares()
        volts, extra = before.copy(), np.zeros(len(ports))
        with np.errstate(all="ignore"):
            volts[alive] = (before + ohm * rest)[alive] / (1 + ohm * slopes)[alive]
            extra[alive] = (new * volts - rest - healthy * volts)[alive]
        load = np.asarray([p in self.load_ports for p in ports.tolist()], dtype=bool)
        quiet = dead | ((np.abs(extra * ohm) < SAME_V) & ~load)
        extra[quiet] = 0.0
        for i in np.flatnonzero(quiet).tolist():
            answers[task[i]] = Answer(ports[i:i + 1], extra[i:i + 1], volts[i:i + 1],
                                      slopes[i:i + 1])
        further: list[Task] = []
        moving = np.flatnonzero(~quiet[alive])
        for first in range(0, len(moving), MOST_CHUNK):
            part = moving[first:first + MOST_CHUNK]
            one = alive[part]
            own = np.arange(len(part))
            pushed = rows.pick(part).scaled(extra[one])
            happens = self._happens(pushed, own, ports[one], volts[one], new[one],
                                    np.zeros(len(part), dtype=bool))
            finite = np.isfinite(extra[one])
            for row, i in enumerate(one.tolist()):
                if not finite[row] or row in happens.bends or row in happens.coils or (
                        row in happens.fuses):
                    number = int(task[i])
                    goes = begun.get(number) or begin(self.limits, number, changes[number])
                    goes.volts, goes.rounds = [float(volts[i])], 1
                    if finite[row]:
                        self._moves(goes, row, happens)
                    further.append(goes)
                    continue
                answers[task[i]] = Answer(ports[i:i + 1], extra[i:i + 1], volts[i:i + 1],
                                          slopes[i:i + 1],
                                          load_shift=happens.felt.get(row, NO_SHIFT if load[i]
                                                                      else None))
        return further

    def _happens(self, pushed: Rows, rows: Index, ports: Index, volts: Array, siemens: Array,
                 everywhere: np.ndarray) -> _Happens:
        """Return what else happens because of the currents that faults push.

        Args:
            rows, ports, volts, siemens: the answers' own ports, where those are and how they
                conduct; what is not straight has nan.
            everywhere: answers whose coils are all wanted.
        """
        limits, seen = self.limits, len(self.watched)
        shifts = self.reach.shifts(pushed, everywhere)
        place = self.place[ports]
        there = place >= 0
        own = rows[there] * seen + place[there]
        shifts = shifts.only(~np.isin(shifts.rows * seen + shifts.places, own))
        found = _Happens()
        bends = limits.bends(shifts)
        for row, part in bends.by_row():
            found.bends[row] = (bends.places[part], bends.volts[part])
        coils = limits.coils(shifts)
        for row, part in coils.by_row():
            found.coils[row] = (coils.places[part], coils.volts[part])
        fuses = limits.fuses_over(shifts)
        for row, part in fuses.by_row():
            found.fuses[row] = list(zip(fuses.places[part].tolist(), fuses.volts[part].tolist(),
                                        strict=True))
        felt = limits.felt(shifts)
        for row, part in felt.by_row():
            found.felt[row] = (felt.places[part], felt.volts[part])
        # the fuses that a fault itself touches
        number = np.where(there, limits.fuse_of[place], -1)
        with np.errstate(invalid="ignore"):
            through = np.abs(volts * siemens)
            over = (number >= 0) & (through > limits.carries[number]) if len(
                limits.carries) else number >= 0
        for i in np.flatnonzero(over).tolist():
            found.fuses.setdefault(int(rows[i]), []).append((int(number[i]), float(through[i])))
        return found

    def _moves(self, task: Task, row: int, happens: _Happens) -> bool:
        """Let laws bend, armatures move or the worst fuse open; return whether anything did."""
        bends = happens.bends.get(row)
        if bends is not None:
            places, by = bends
            for port, volt in zip(self.watched[places].tolist(),
                                  (self.limits.healthy_v[places] + by).tolist(), strict=True):
                task.put(port, None, volt)
            return True
        own = self.coil_ports.intersection(task.change.specs)
        if row in happens.coils or own or task.energised is not self.base.energised:
            amperes = self.limits.coil_a.copy()
            if row in happens.coils:
                number, changed = happens.coils[row]
                amperes[number] = changed
            for port in own:
                siemens = task.change.specs[port].figures[0]
                at = list(task.specs).index(port)
                amperes[self.coil_number[port]] = (
                    0.0 if siemens <= OPEN_SIEMENS else siemens * abs(task.volts[at]))
            if move_armatures(self.limits, task, amperes):
                return True
        return row in happens.fuses and open_worst_fuse(self.limits, task, happens.fuses[row])

    # --- everything else

    def _alive(self, tasks: list[Task], answers: list[Answer]) -> list[Task]:
        """Drop the tasks that touch only what carries nothing and has no voltage across it."""
        base = self.base
        left = []
        for task in tasks:
            for port, spec in task.specs.items():
                volts = abs(base.port_volts[port])
                if spec is None or spec.kind or volts > SAME_V or max(
                        abs(base.amperes[port]),
                        volts * max(spec.figures[0], base.siemens[port])) > DEAD_A:
                    left.append(task)
                    break
            else:
                if task.specs:
                    ports = np.asarray(list(task.specs), dtype=np.intp)
                    slopes = np.asarray([s.figures[0] for s in task.specs.values() if s])
                    answers[task.number] = Answer(ports, np.zeros(len(ports)),
                                                  base.port_volts[ports],
                                                  slopes - base.siemens[ports])
        return left

    def _chunk(self, tasks: list[Task], answers: list[Answer]) -> None:
        if self.table.used > MOST_USED:
            self.table.clear()
        pending = tasks
        while pending:
            pending = self._round(pending, answers)

    def _round(self, tasks: list[Task], answers: list[Answer]) -> list[Task]:
        """Solve the tasks with their ports as they stand; return those that are not at rest."""
        again: list[Task] = []
        self.table.use(np.asarray([p for t in tasks for p in t.specs], dtype=np.intp))
        tasks = sorted(tasks, key=lambda t: len(t.specs))
        sizes = [next((s for s in SIZES if s >= len(t.specs)), 0) for t in tasks]
        first = 0
        while first < len(tasks):
            size = sizes[first]
            if not size:
                for task in tasks[first:]:
                    answers[task.number] = FAILED
                break
            last = first
            while last < len(tasks) and sizes[last]:
                wider = sizes[last]
                # a few small tasks cost less padded than in a batch of their own
                if wider != size and (last + 1 - first) * wider ** 3 > CHEAP_FLOPS:
                    break
                if last - first >= max(8, MOST_PAIRS // wider ** 2):
                    break
                size, last = wider, last + 1
            again += self._batch(tasks[first:last], size, answers)
            first = last
        return again

    def _batch(self, tasks: list[Task], size: int, answers: list[Answer]) -> list[Task]:
        base, count = self.base, len(tasks)
        widths = np.asarray([len(t.specs) for t in tasks])
        rows = np.repeat(np.arange(count), widths)
        columns = np.arange(len(rows)) - np.repeat(np.cumsum(widths) - widths, widths)
        ports = np.asarray([p for t in tasks for p in t.specs], dtype=np.intp)
        place = self.table.index[ports]
        at = np.full((count, size), -1, dtype=np.intp)
        at[rows, columns] = place
        kinds, figures = np.zeros((count, size), dtype=np.intp), np.zeros((3, count, size))
        kinds[rows, columns] = base.kinds[ports]
        figures[:, rows, columns] = base.figures[:, ports]
        changed = [(i, spec) for i, spec in enumerate(s for t in tasks for s in t.specs.values())
                   if spec is not None]
        which = np.asarray([i for i, _ in changed], dtype=np.intp)
        kinds[rows[which], columns[which]] = [spec.kind for _, spec in changed]
        figures[:, rows[which], columns[which]] = np.asarray(
            [spec.figures for _, spec in changed]).reshape(-1, 3).T
        before, healthy = np.zeros((count, size)), np.zeros((count, size))
        rest, guess = np.zeros((count, size)), np.zeros((count, size))
        before[rows, columns] = base.port_volts[ports]
        healthy[rows, columns] = base.siemens[ports]
        rest[rows, columns] = base.amperes[ports] - base.siemens[ports] * base.port_volts[ports]
        known = np.asarray([v for t in tasks for v in t.volts])
        guess[rows, columns] = np.where(np.isnan(known), base.port_volts[ports], known)
        ohm = self.table.ohm[at[:, :, None], at[:, None, :]]
        volts, extra, slopes, solved = newton(ohm, before, healthy, rest, kinds, figures, guess)
        pushed = self.table.pushed(rows, place, extra[rows, columns], count)
        straight = np.where(kinds[rows, columns] == LINEAR, figures[0, rows, columns], np.nan)
        everywhere = np.asarray([t.energised is not base.energised for t in tasks])
        happens = self._happens(pushed, rows, ports, volts[rows, columns], straight, everywhere)
        again = []
        for row, task in enumerate(tasks):
            task.rounds += 1
            if not solved[row] or task.rounds > MOST_ROUNDS:
                answers[task.number] = FAILED
                continue
            width = len(task.specs)
            task.volts = volts[row, :width].tolist()
            if self._moves(task, row, happens):
                again.append(task)
                continue
            own = not self.load_ports.isdisjoint(task.specs)
            answers[task.number] = Answer(
                np.asarray(list(task.specs), dtype=np.intp), extra[row, :width].copy(),
                volts[row, :width].copy(), slopes[row, :width].copy(),
                task.energised if task.energised is not base.energised else None,
                tuple(task.opened), task.chattering,
                load_shift=happens.felt.get(row, NO_SHIFT if own else None))
        return again


def _only(task: Task) -> tuple[int, float] | None:
    """(port, siemens) when all that a task begins with is one conductance."""
    if len(task.specs) != 1:
        return None
    (port, spec), = task.specs.items()
    return (port, spec.figures[0]) if spec is not None and spec.kind == LINEAR else None
