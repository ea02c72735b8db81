"""Many faults in one condition at once, each computed against the network around it.

An element that differs from the healthy one is the healthy one and a current source beside it (an
exact equivalent). The sources of one fault, of the lamps and diodes that it shifts far, of the relays
that it moves and the fuses that it blows are found together by Newton's method over these few ports;
the rest of the network answers by its factors. Most faults change the conductance of one thing, and
nothing moves: those are done together, in closed form. What cannot be found so is computed the long
way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.sparse import csr_matrix

from harnessdsl.faults.base import Base
from harnessdsl.faults.changes import FAILED, NOTHING, Answer, Change
from harnessdsl.faults.entries import LINEAR, OPEN_SIEMENS, Array, Index
from harnessdsl.faults.few_ports import newton
from harnessdsl.faults.limits import Limits
from harnessdsl.faults.paths import Paths, Rows
from harnessdsl.faults.port_table import MOST_USED, PortTable
from harnessdsl.faults.settling import Task, begin, move_armatures, open_worst_fuse

MOST_ROUNDS = 60
MOST_CHUNK = 1500
"""Faults computed together: bounds the memory, not the answer."""
MOST_VOLTAGES = 4_000_000
SAME_V = 1e-6
DEAD_A = 1e-9
"""A wire that carries less, and has no voltage across, may be broken without anyone noticing."""
SIZES = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256)


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
        self.chunk = max(MOST_CHUNK // 8,
                         min(MOST_CHUNK, MOST_VOLTAGES // max(len(self.watched), 1)))
        self.table = PortTable(self.ports, self.paths)
        self.place = np.full(self.ports.count, -1, dtype=np.intp)
        """By port: its place among the watched ones, -1 without one."""
        self.place[self.watched] = np.arange(len(self.watched))
        shared = np.sqrt((self.seen.shared ** 2).sum(axis=1))
        self.shared_ohm = shared
        self.reach = float((shared / np.maximum(self.limits.care_v, 1e-12)).max(initial=0.0))

    def solve(self, changes: Sequence[Change]) -> list[Answer]:
        """Return the answer to each change, in order; `failed` ones are for the long way."""
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
        for first in range(0, len(tasks), self.chunk):
            self._chunk(tasks[first:first + self.chunk], answers)
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
        near = self._near(rows.pick(moving), ports[alive[moving]], extra[alive[moving]],
                          np.abs(new * volts)[alive[moving]], load[alive[moving]])
        for i in alive[moving[near]].tolist():
            answers[task[i]] = Answer(ports[i:i + 1], extra[i:i + 1], volts[i:i + 1],
                                      slopes[i:i + 1])
        moving = moving[~near]
        for first in range(0, len(moving), self.chunk):
            part = moving[first:first + self.chunk]
            one = alive[part]
            moved = rows.pick(part).times(self.seen)
            moved *= -extra[one][:, None]
            bends, rests = self._rests(moved, ports[one], extra[one], volts[one], new[one])
            rests &= np.isfinite(extra[one])
            shifts = moved[:, self.limits.load_places]
            felt = (np.abs(shifts) > self.limits.felt_v).any(axis=1) | load[one]
            going = []
            for row, i in enumerate(one.tolist()):
                if rests[row]:
                    answers[task[i]] = Answer(
                        ports[i:i + 1], extra[i:i + 1], volts[i:i + 1], slopes[i:i + 1],
                        load_shift=shifts[row].copy() if felt[row] else None)
                else:
                    number = int(task[i])
                    going.append((row, begun.get(number) or begin(self.limits, number,
                                                                  changes[number])))
            rows_on = np.asarray([row for row, _ in going], dtype=np.intp)
            coil_a = self.limits.coil_amperes(moved[rows_on])
            carried = self.limits.fuse_amperes(moved[rows_on])
            for at, (row, goes) in enumerate(going):
                goes.rounds += 1
                goes.volts = [float(volts[one[row]])]
                if row in bends:
                    self._bend(goes, bends[row], moved[row])
                elif np.isfinite(moved[row]).all() and not move_armatures(
                        self.limits, goes, coil_a[at]):
                    open_worst_fuse(self.limits, goes, moved[row], carried[at])
                further.append(goes)
        return further

    def _near(self, rows: Rows, ports: Index, extra: Array, through: Array, load: np.ndarray
              ) -> np.ndarray:
        """Return for each change of one port whether nothing that is watched moves enough to matter.

        The part of a resistance that goes over shared rails is at most the product of the two
        rows' lengths (the inequality of Cauchy and Schwarz); the rest is found where there is any.
        """
        limits = self.limits
        shared = np.abs(extra) * np.sqrt((rows.shared ** 2).sum(axis=1))
        near = (shared * self.reach <= 1.0) & ~load & np.isfinite(shared)
        chosen = np.flatnonzero(near)
        local = csr_matrix(rows.own[chosen] @ self.seen.own.T).tocoo()
        row, place = chosen[local.row], local.col
        far = (np.abs(extra[row] * local.data) + shared[row] * self.shared_ohm[place]
               > limits.care_v[place]) & (self.place[ports[row]] != place)
        near[row[far]] = False
        at, fuse = np.nonzero(ports[:, None] == limits.fuses[None, :])
        near[at[through[at] > limits.carries[fuse]]] = False
        return near

    def _rests(self, moved: Array, ports: Index, extra: Array, volts: Array, new: Array
               ) -> tuple[dict[int, list[int]], np.ndarray]:
        """Return for each change of one port the laws that bend, and whether none does, no relay
        moves and no fuse opens."""
        limits = self.limits
        rests = np.ones(len(ports), dtype=bool)
        place = self.place[ports]
        bends = self._bends(moved, np.arange(len(ports)), place)
        rests[list(bends)] = False
        coil_a = limits.coil_amperes(moved)
        rests &= ((coil_a >= limits.threshold_a) == self.base.energised).all(axis=1)
        carried = limits.fuse_amperes(moved)
        row, fuse = np.nonzero(ports[:, None] == limits.fuses[None, :])
        carried[row, fuse] = np.abs(volts[row] * new[row])
        rests &= (carried <= limits.carries).all(axis=1)
        return bends, rests

    # --- everything else

    def _alive(self, tasks: list[Task], answers: list[Answer]) -> list[Task]:
        """Drop the tasks that touch only what carries nothing and has no voltage across it."""
        base = self.base
        left = []
        for task in tasks:
            for port, spec in task.specs.items():
                volts = base.port_volts[port]
                if spec is None or spec.kind or abs(base.amperes[port]) > DEAD_A or abs(volts) > SAME_V or abs(
                        volts) * max(spec.figures[0], base.siemens[port]) > DEAD_A:
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
        first = 0
        while first < len(tasks):
            size = next((s for s in SIZES if s >= len(tasks[first].specs)), 0)
            if not size:
                for task in tasks[first:]:
                    answers[task.number] = FAILED
                break
            last = first
            most = max(8, 4_000_000 // (size * size))
            while last < len(tasks) and len(tasks[last].specs) <= size and last - first < most:
                last += 1
            again += self._batch(tasks[first:last], size, answers)
            first = last
        return again

    def _batch(self, tasks: list[Task], size: int, answers: list[Answer]) -> list[Task]:
        base, limits, count = self.base, self.limits, len(tasks)
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
        moved = self.table.moved(rows, place, extra[rows, columns], count, self.seen)
        bends = self._bends(moved, rows, self.place[ports])
        coil_a = self._coil_amperes(tasks, moved)
        carried = limits.fuse_amperes(moved)
        shifts = moved[:, limits.load_places]
        felt = (np.abs(shifts) > limits.felt_v).any(axis=1)
        again = []
        for row, task in enumerate(tasks):
            task.rounds += 1
            if not solved[row] or task.rounds > MOST_ROUNDS:
                answers[task.number] = FAILED
                continue
            width = len(task.specs)
            task.volts = volts[row, :width].tolist()
            if row in bends:
                self._bend(task, bends[row], moved[row])
                again.append(task)
            elif move_armatures(limits, task, coil_a[row]) or open_worst_fuse(
                    limits, task, moved[row], carried[row]):
                again.append(task)
            else:
                is_felt = felt[row] or not self.load_ports.isdisjoint(task.change.specs)
                answers[task.number] = Answer(
                    np.asarray(list(task.specs), dtype=np.intp), extra[row, :width].copy(),
                    volts[row, :width].copy(), slopes[row, :width].copy(),
                    task.energised if task.energised is not base.energised else None,
                    tuple(task.opened), task.chattering,
                    load_shift=shifts[row].copy() if is_felt else None)
        return again

    def _bend(self, task: Task, places: Sequence[int], moved: Array) -> None:
        """Let watched ports go by their own laws."""
        volts = (self.limits.healthy_v[places] + moved[places]).tolist()
        for port, volt in zip(self.watched[places].tolist(), volts, strict=True):
            task.put(port, None, volt)

    def _bends(self, moved: Array, rows: Index, at: Index) -> dict[int, list[int]]:
        """Return which laws bend too far to be taken as straight: row -> watched places."""
        own = np.flatnonzero(at >= 0)
        found: dict[int, list[int]] = {}
        row, place = self.limits.bends(moved, rows[own], at[own])
        for one, where in zip(row.tolist(), place.tolist(), strict=True):
            found.setdefault(one, []).append(where)
        return found

    def _coil_amperes(self, tasks: list[Task], moved: Array) -> Array:
        found = self.limits.coil_amperes(moved)
        for row, task in enumerate(tasks):
            for port in self.coil_ports.intersection(task.change.specs):
                spec, place = task.change.specs[port], self.ports.place[port]
                siemens = 0.0 if spec.figures[0] <= OPEN_SIEMENS else spec.figures[0]
                found[row, self.coil_number[port]] = siemens * abs(
                    float(self.limits.healthy_v[place] + moved[row, place]))
        return found


def _only(task: Task) -> tuple[int, float] | None:
    """(port, siemens) when all that a task begins with is one conductance."""
    if len(task.specs) != 1:
        return None
    (port, spec), = task.specs.items()
    return (port, spec.figures[0]) if spec is not None and spec.kind == LINEAR else None
