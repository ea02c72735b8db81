"""Many faults in one condition at once, each computed against the network around it.

An element that differs from the healthy one is the healthy one and a current source beside it (an
exact equivalent). The sources of one fault, of the lamps and diodes that it shifts far, of the relays
that it moves and the fuses that it blows are found together by Newton's method over these few ports;
the rest of the network answers by its factors. What cannot be found so is computed the long way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from harnessdsl.electric.laws import FAMILIES
from harnessdsl.faults.base import Base
from harnessdsl.faults.entries import (
    KINDS,
    OPEN_SIEMENS,
    Array,
    Index,
    Spec,
    evaluate,
    limited,
    linear,
)

MOST_ROUNDS = 60
MOST_STEPS = 60
STILL_STEP_V = 1e-8
DAMPED_STEP = 20
LATE_STEP, LATE_STILL_V = 35, 1e-5
"""From this step on rounding is taken for what keeps a port moving so little."""
MOST_CHUNK, COLUMNS = 1500, 512
"""Faults, and right-hand sides, computed together: bound the memory, not the answer."""
BEND_V = 2e-5
"""How far off a straight line may leave any voltage."""
STILL_V = {"cell": 0.0, "alternator": 0.0, "junction": 2e-3, "filament": 2e-2, "motor": 1e-3}
"""A law counts as straight over changes smaller than this."""
SAME_V = 1e-6
DEAD_A = 1e-9
"""A wire that carries less, and has no voltage across, may be broken without anyone noticing."""
FELT_SHARE = 0.01
"""Loads whose voltage changes by less than this share of their rated voltage do what they did."""
JUNCTION = KINDS.index("junction") + 1
SIZES = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256)
MOST_PORTS = 256


@dataclass(slots=True)
class Change:
    """What a fault changes in one condition."""

    specs: dict[int, Spec] = field(default_factory=dict)
    """Port -> how it behaves now. Contacts are not here."""
    contacts: dict[int, Spec] = field(default_factory=dict)
    """Contacts that conduct otherwise when closed."""
    switched: dict[int, bool] = field(default_factory=dict)
    """Contacts whose switch lets them close, or does not, against what the condition says."""
    inverted: frozenset[int] = frozenset()
    opened: tuple[int, ...] = ()
    """Protection that is open from the start."""


@dataclass(slots=True)
class Answer:
    """One fault in one condition: the source beside each port that is not as it was."""

    ports: Index
    amperes: Array
    """Extra current from a to b of each port, in amperes."""
    volts: Array
    slopes: Array
    """How the port's conductance differs now from the healthy one, in siemens."""
    energised: np.ndarray | None = None
    """Coils, where they differ from the healthy ones."""
    opened: tuple[int, ...] = ()
    """Ports of protection that opened."""
    chattering: bool = False
    failed: bool = False
    load_shift: Array | None = None
    """Change of voltage across every load, in volts; None where nothing changes."""


NOTHING = Answer(np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0), np.zeros(0))


@dataclass(slots=True)
class _Task:
    number: int
    change: Change
    specs: dict[int, Spec]
    energised: np.ndarray
    opened: list[int]
    seen: set[bytes]
    volts: dict[int, float] = field(default_factory=dict)
    rounds: int = 0
    one_by_one: bool = False
    """Whether armatures move one at a time, after moving together went round in a circle."""
    visited: list[np.ndarray] = field(default_factory=list)
    """The states gone through one by one."""
    chattering: bool = False


class Solver:
    """Faults in one condition."""

    def __init__(self, base: Base) -> None:
        self.base = base
        ports = base.ports
        self.ports = ports
        circuit = ports.circuit
        self.watched = ports.watched
        self.seen_rows = ports.incidence(self.watched).T.tocsr()
        self.between = np.empty((len(self.watched), len(self.watched)))
        for first in range(0, len(self.watched), COLUMNS):
            chosen = self.watched[first:first + COLUMNS]
            spread = base.factors.solve(ports.incidence(chosen).toarray())
            self.between[:, first:first + COLUMNS] = self.seen_rows @ spread
        self._make_room(0)
        self.across = np.zeros((0, len(self.watched)))
        self.chunk = max(MOST_CHUNK // 8, min(MOST_CHUNK, 2_000_000 // max(len(self.watched), 1)))
        place = ports.place
        coil = {circuit.elements[i].id: number for number, i in enumerate(ports.coils)}
        self.gates = {i: [(coil[t.coil], t.energised) for t in circuit.elements[i].gate or ()]
                      for i in ports.gated}
        self.by_coil: dict[int, list[int]] = {}
        for contact, terms in self.gates.items():
            for number, _ in terms:
                self.by_coil.setdefault(number, []).append(contact)
        self.coil_places = np.asarray([place[i] for i in ports.coils], dtype=np.intp)
        figures = [circuit.coil_figures(i) for i in ports.coils]
        self.pull_in_a = np.asarray([f.pull_in_a for f in figures])
        self.drop_out_a = np.asarray([f.drop_out_a for f in figures])
        chosen = [i for i in ports.protection
                  if circuit.elements[i].curve is not None and circuit.elements[i].rated_a > 0]
        self.fuses = np.asarray(chosen, dtype=np.intp)
        self.fuse_places = np.asarray([place[i] for i in chosen], dtype=np.intp)
        self.carries = np.asarray([e.rated_a * e.curve.carries
                                   for e in (circuit.elements[i] for i in chosen)
                                   if e.curve is not None])
        self.load_places = np.asarray([place[i] for i in ports.loads], dtype=np.intp)
        self.load_ports = frozenset(ports.loads)
        rated_v = np.asarray([circuit.elements[i].rated_v for i in ports.loads])
        self.felt_v = FELT_SHARE * np.maximum(rated_v, 1.0)
        self.felt_v[base.kinds[ports.loads] == JUNCTION] = STILL_V["junction"]
        still = np.full(len(self.watched), np.inf)
        for i in ports.nonlinear.tolist():
            kind = int(base.kinds[i])
            if kind:
                still[place[i]] = STILL_V[KINDS[kind - 1]]
        self.still = still
        self.own_ohm = np.maximum(self.between.diagonal(), 0.0)
        self.healthy_v = base.port_volts[self.watched]

    # --- what a change means

    def contact_siemens(self, contact: int, change: Change, energised: np.ndarray) -> float:
        """Return what a contact conducts as its switch and its coils stand."""
        element = self.ports.circuit.elements[contact]
        closed = change.switched.get(contact, self.base.network.closed.get(element.id, True))
        if closed:
            wrong = contact in change.inverted
            closed = all((bool(energised[number]) == wanted) != wrong
                         for number, wanted in self.gates.get(contact, ()))
        if not closed:
            return 0.0
        given = change.contacts.get(contact)
        if given is not None:
            return given.figures[0]
        own = self.base.network.law(contact)
        return float(own.siemens)  # type: ignore[union-attr]

    def _start(self, number: int, change: Change) -> _Task:
        specs = dict(change.specs)
        for contact in {*change.contacts, *change.switched, *change.inverted}:
            siemens = self.contact_siemens(contact, change, self.base.energised)
            if abs(siemens - self.base.siemens[contact]) > 1e-12:
                specs[contact] = linear(siemens)
        for port in change.opened:
            specs[port] = linear(0.0)
        state = self.base.energised
        return _Task(number, change, specs, state, [], {state.tobytes()})

    # --- solving

    def solve(self, changes: Sequence[Change]) -> list[Answer]:
        """Return the answer to each change, in order; `failed` ones are for the long way."""
        answers: list[Answer] = [NOTHING] * len(changes)
        tasks = self._dead([self._start(number, change) for number, change in enumerate(changes)],
                           answers)
        for first in range(0, len(tasks), self.chunk):
            self._chunk([t for t in tasks[first:first + self.chunk] if t.specs], answers)
        return answers

    def _dead(self, tasks: list[_Task], answers: list[Answer]) -> list[_Task]:
        """Drop the tasks that touch only what carries nothing and has no voltage across it."""
        base = self.base
        left = []
        for task in tasks:
            for port, spec in task.specs.items():
                volts = base.port_volts[port]
                if spec.kind or abs(base.amperes[port]) > DEAD_A or abs(volts) > SAME_V or abs(
                        volts) * max(spec.figures[0], base.siemens[port]) > DEAD_A:
                    left.append(task)
                    break
            else:
                if task.specs:
                    ports = np.asarray(list(task.specs), dtype=np.intp)
                    slopes = np.asarray([s.figures[0] for s in task.specs.values()])
                    answers[task.number] = Answer(ports, np.zeros(len(ports)),
                                                  base.port_volts[ports],
                                                  slopes - base.siemens[ports])
        return left

    def _chunk(self, tasks: list[_Task], answers: list[Answer]) -> None:
        if not tasks:
            return
        place = self.ports.place
        own = sorted({p for task in tasks for p in task.specs if p not in place})
        local = {port: len(self.watched) + i for i, port in enumerate(own)}
        self.index = {**place, **local}
        seen, count = len(self.watched), len(self.watched) + len(own)
        if count >= len(self.table):
            self._make_room(len(own) * 5 // 4 + 8)
        self.numbers[seen:] = 0
        self.numbers[seen:count] = own
        self.across = np.zeros((0, seen))
        if own:
            incidence = self.ports.incidence(own)
            spread = self.base.factors.solve(incidence.toarray())
            across = np.asarray(self.seen_rows @ spread)
            self.across = np.ascontiguousarray(across.T)
            self.table[:seen, seen:count] = across
            self.table[seen:count, :seen] = self.across
            self.table[seen:count, seen:count] = incidence.T @ spread
        pending = self._still(tasks, answers)
        while pending:
            pending = self._round(pending, answers)

    def _make_room(self, own: int) -> None:
        """Make a table of the resistances between all ports in use, the last row and column of
        which stay zero: they stand for no port."""
        seen = len(self.watched)
        self.table = np.zeros((seen + own + 1, seen + own + 1))
        self.table[:seen, :seen] = self.between
        self.numbers = np.zeros(seen + own + 1, dtype=np.intp)
        self.numbers[:seen] = self.watched

    def _still(self, tasks: list[_Task], answers: list[Answer]) -> list[_Task]:
        """Drop the tasks of one straight port that change nothing that could be measured."""
        single = [t for t in tasks if len(t.specs) == 1
                  and next(iter(t.specs.values())).kind == 0
                  and next(iter(t.specs)) not in self.load_ports]
        if not single:
            return tasks
        ports = np.asarray([next(iter(t.specs)) for t in single], dtype=np.intp)
        new = np.asarray([next(iter(t.specs.values())).figures[0] for t in single])
        at = np.asarray([self.index[int(p)] for p in ports], dtype=np.intp)
        base = self.base
        ohm = self.table[at, at]
        before, healthy = base.port_volts[ports], base.siemens[ports]
        rest = base.amperes[ports] - healthy * before
        with np.errstate(all="ignore"):
            volts = (before + ohm * rest) / (1 + ohm * (new - healthy))
        extra = new * volts - rest - healthy * volts
        nothing = np.abs(extra * ohm) < SAME_V
        quiet = {t.number for t, same in zip(single, nothing.tolist(), strict=True) if same}
        for task, volt, slope, port in zip(single, volts.tolist(), (new - healthy).tolist(),
                                           ports.tolist(), strict=True):
            if task.number in quiet:
                answers[task.number] = Answer(np.asarray([port]), np.zeros(1), np.asarray([volt]),
                                              np.asarray([slope]))
        return [t for t in tasks if t.number not in quiet]

    def _round(self, tasks: list[_Task], answers: list[Answer]) -> list[_Task]:
        """Solve the tasks with their ports as they stand; return those that are not at rest."""
        again: list[_Task] = []
        tasks = sorted(tasks, key=lambda t: len(t.specs))
        first = 0
        while first < len(tasks):
            size = next((s for s in SIZES if s >= len(tasks[first].specs)), 0)
            if not size:
                for task in tasks[first:]:
                    answers[task.number] = _failed()
                break
            last = first
            most = max(8, 4_000_000 // (size * size))
            while last < len(tasks) and len(tasks[last].specs) <= size and last - first < most:
                last += 1
            again += self._batch(tasks[first:last], size, answers)
            first = last
        return again

    def _batch(self, tasks: list[_Task], size: int, answers: list[Answer]) -> list[_Task]:
        count, base, index = len(tasks), self.base, self.index
        dummy = len(self.numbers) - 1
        at = np.full((count, size), dummy, dtype=np.intp)
        kinds = np.zeros((count, size), dtype=np.intp)
        figures = np.zeros((3, count, size))
        guess = np.zeros((count, size))
        known = np.zeros((count, size), dtype=bool)
        for row, task in enumerate(tasks):
            for column, (port, spec) in enumerate(task.specs.items()):
                at[row, column] = index[port]
                kinds[row, column] = spec.kind
                figures[:, row, column] = spec.figures
                volt = task.volts.get(port)
                if volt is not None:
                    guess[row, column] = volt
                    known[row, column] = True
        real = at < dummy
        numbers = self.numbers[at]
        before = np.where(real, base.port_volts[numbers], 0.0)
        healthy = np.where(real, base.siemens[numbers], 0.0)
        rest = np.where(real, base.amperes[numbers], 0.0) - healthy * before
        ohm = self.table[at[:, :, None], at[:, None, :]]
        volts, extra, slopes, solved = newton(ohm, before, healthy, rest, kinds, figures,
                                              np.where(known, guess, before))
        # the watched ports answer
        rows = np.repeat(np.arange(count), size)
        seen = len(self.watched)
        moved = np.zeros((count, seen))
        for inside, table in ((at < seen, self.between), (real & (at >= seen), self.across)):
            where = inside.ravel()
            if where.any():
                pushed = csr_matrix((extra.ravel()[where], (
                    rows[where], at.ravel()[where] - (0 if table is self.between else seen))),
                    shape=(count, len(table)))
                moved -= pushed @ table
        bends = self._bends(moved, at)
        amperes_coil = self._coil_amperes(tasks, moved)
        shifts = moved[:, self.load_places]
        felt = (np.abs(shifts) > self.felt_v).any(axis=1)
        for row, task in enumerate(tasks):
            if not felt[row] and not self.load_ports.isdisjoint(task.change.specs):
                felt[row] = True
        again = []
        for row, task in enumerate(tasks):
            task.rounds += 1
            if not solved[row] or task.rounds > MOST_ROUNDS:
                answers[task.number] = _failed()
                continue
            width = len(task.specs)
            task.volts = dict(zip(task.specs, volts[row, :width].tolist(), strict=True))
            if row in bends:
                for place in bends[row]:
                    port = int(self.watched[place])
                    task.specs[port] = Spec(int(base.kinds[port]),
                                            _three(base.figures[:, port]))
                    task.volts[port] = float(self.healthy_v[place] + moved[row, place])
                again.append(task)
                continue
            verdict = self._settled(task, amperes_coil[row], moved[row])
            if verdict == "again":
                again.append(task)
                continue
            if verdict == "failed":
                answers[task.number] = _failed()
                continue
            used = numbers[row, :width]
            answers[task.number] = Answer(
                used.copy(), extra[row, :width].copy(), volts[row, :width].copy(),
                slopes[row, :width].copy(),
                task.energised if task.energised is not base.energised else None,
                tuple(task.opened), task.chattering,
                load_shift=shifts[row].copy() if felt[row] else None)
        return again

    def _bends(self, moved: Array, at: Index) -> dict[int, list[int]]:
        """Return which laws bend too far to be taken as straight: row -> watched places."""
        far = np.abs(moved) > self.still
        inside = at < len(self.watched)
        rows = np.broadcast_to(np.arange(len(at))[:, None], at.shape)[inside]
        far[rows, at[inside]] = False
        row, place = np.nonzero(far)
        if not len(row):
            return {}
        base = self.base
        ports = self.watched[place]
        change = moved[row, place]
        amperes, _ = evaluate(base.kinds[ports], base.figures[:, ports],
                              base.port_volts[ports] + change)
        off = np.abs(amperes - base.amperes[ports] - base.siemens[ports] * change)
        bad = off * self.own_ohm[place] > BEND_V
        found: dict[int, list[int]] = {}
        for one, where in zip(row[bad].tolist(), place[bad].tolist(), strict=True):
            found.setdefault(one, []).append(where)
        return found

    def _coil_amperes(self, tasks: list[_Task], moved: Array) -> Array:
        ports = self.watched[self.coil_places]
        siemens = np.repeat(self.base.siemens[ports][None, :], len(tasks), axis=0)
        for row, task in enumerate(tasks):
            for port, spec in task.change.specs.items():
                if port in self.ports.place and self.ports.circuit.elements[port].coil is not None:
                    siemens[row, self.ports.coils.index(port)] = (
                        0.0 if spec.figures[0] <= OPEN_SIEMENS else spec.figures[0])
        return np.abs(self.healthy_v[self.coil_places] + moved[:, self.coil_places]) * siemens

    def _settled(self, task: _Task, coil_a: Array, moved: Array) -> str:
        """Let armatures move and the worst fuse open; 'rest' when neither happens."""
        threshold = np.where(task.energised, self.drop_out_a, self.pull_in_a)
        goes = coil_a >= threshold * (1 - 1e-9)
        if (goes != task.energised).any() and not task.chattering:
            if not task.one_by_one and goes.tobytes() in task.seen:
                task.one_by_one, task.seen = True, {task.energised.tobytes()}
                task.visited = [task.energised]
            if task.one_by_one:
                drive = np.abs(np.log(np.maximum(coil_a, 1e-30) / threshold))
                drive[goes == task.energised] = -1.0
                mover = int(np.argmax(drive))
                here, goes = goes, task.energised.copy()
                goes[mover] = here[mover]
            key = goes.tobytes()
            if key in task.seen and task.one_by_one:
                # it chatters: shown as it is with the fewest armatures of the circle pulled in
                first = next(i for i, state in enumerate(task.visited) if state.tobytes() == key)
                goes = min(task.visited[first:], key=lambda state: int(state.sum()))
                task.chattering = True
            task.seen.add(key)
            task.visited.append(goes)
            changed = np.flatnonzero(goes != task.energised)
            task.energised = goes
            for contact in dict.fromkeys(c for number in changed.tolist()
                                         for c in self.by_coil.get(number, ())):
                if contact in task.change.specs:
                    continue
                siemens = self.contact_siemens(contact, task.change, goes)
                if abs(siemens - self.base.siemens[contact]) > 1e-12:
                    task.specs[contact] = linear(siemens)
                else:
                    task.specs.pop(contact, None)
                    task.volts.pop(contact, None)
                    if not task.specs:
                        task.specs[contact] = linear(siemens)
            return "again"
        if len(self.fuses):
            volts = self.healthy_v[self.fuse_places] + moved[self.fuse_places]
            siemens = self.base.siemens[self.fuses]
            carried = np.abs(volts * siemens)
            over = np.flatnonzero(carried > self.carries)
            worst = None
            for place in over.tolist():
                port = int(self.fuses[place])
                if port in task.opened or port in task.change.opened:
                    continue
                through = float(carried[place])
                spec = task.specs.get(port)
                if spec is not None:
                    through = abs(float(volts[place])) * spec.figures[0]
                element = self.ports.circuit.elements[port]
                curve = element.curve
                assert curve is not None
                if through <= element.rated_a * curve.carries:
                    continue
                band = curve.band(through / element.rated_a)
                key_ = (band.longest_s, band.shortest_s, -through / element.rated_a, element.id)
                if band.opens and (worst is None or key_ < worst[0]):
                    worst = (key_, port)
                elif not band.opens and worst is None:
                    continue
            if worst is not None:
                task.opened.append(worst[1])
                task.specs[worst[1]] = linear(0.0)
                task.seen, task.one_by_one = {task.energised.tobytes()}, False
                task.chattering = False
                return "again"
        return "rest"


def newton(ohm: Array, before: Array, healthy: Array, rest: Array, kinds: Index, figures: Array,
           guess: Array) -> tuple[Array, Array, Array, np.ndarray]:
    """Solve u = before - ohm e(u), where e is what each port carries beyond its straight line
    `healthy` u + `rest`; all (tasks, ports).

    Returns:
        u, e, the difference of slopes and whether each task was solved.
    """
    count, size = before.shape
    volts = begun(kinds, figures, guess)
    extra = np.zeros_like(before)
    slopes = np.zeros_like(before)
    solved = np.zeros(count, dtype=bool)
    todo = np.arange(count)
    curved = np.asarray((kinds > 0).any(axis=1))
    flat = np.arange(size)
    with np.errstate(all="ignore"):
        for step in range(MOST_STEPS):
            u = volts[todo]
            kind = kinds[todo].ravel()
            figure = figures[:, todo].reshape(3, -1)
            amperes, slope = evaluate(kind, figure, u.ravel())
            amperes, slope = amperes.reshape(u.shape), slope.reshape(u.shape)
            beyond = amperes - rest[todo] - healthy[todo] * u
            differ = slope - healthy[todo]
            local = ohm[todo]
            off = u - before[todo] + np.einsum("tij,tj->ti", local, beyond)
            matrix = local * differ[:, None, :]
            matrix[:, flat, flat] += 1.0
            try:
                move = np.linalg.solve(matrix, -off[:, :, None])[:, :, 0]
            except np.linalg.LinAlgError:
                move = np.stack([_solve_one(m, -o) for m, o in zip(matrix, off, strict=True)])
            wanted = u + move
            if curved[todo].any():
                wanted = limited(kind, figure, u.ravel(), wanted.ravel()).reshape(u.shape)
                if step > DAMPED_STEP:
                    wanted = u + 0.5 * (wanted - u)
            # a straight port is right after one step, a bent one when it stands still; a broken
            # path's own voltage is all rounding where nothing else ties its far side
            moved = np.where(kinds[todo] > 0, np.abs(wanted - u), 0.0).max(axis=1)
            good = np.isfinite(wanted).all(axis=1)
            done = good & (moved < (STILL_STEP_V if step < LATE_STEP else LATE_STILL_V))
            rows = todo[done]
            volts[todo] = wanted
            if len(rows):
                u = volts[rows]
                amperes, slope = evaluate(kinds[rows].ravel(), figures[:, rows].reshape(3, -1),
                                          u.ravel())
                extra[rows] = amperes.reshape(u.shape) - rest[rows] - healthy[rows] * u
                slopes[rows] = slope.reshape(u.shape) - healthy[rows]
                solved[rows] = True
            todo = todo[good & ~done]
            if not len(todo):
                break
    return volts, extra, slopes, solved


def begun(kinds: Index, figures: Array, guess: Array) -> Array:
    """Return a first guess with no diode far beyond its knee, from where it would only creep back."""
    rows = kinds == JUNCTION
    found = guess.copy()
    if rows.any():
        saturation, slope_v = figures[0][rows], figures[1][rows]
        found[rows] = np.minimum(found[rows], slope_v * np.log(slope_v / (1.4142 * saturation)))
    return found


def _three(values: Array) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def _solve_one(matrix: Array, right: Array) -> Array:
    try:
        return np.asarray(np.linalg.solve(matrix, right))
    except np.linalg.LinAlgError:
        return np.full(len(right), np.nan)


def _failed() -> Answer:
    return Answer(NOTHING.ports, NOTHING.amperes, NOTHING.volts, NOTHING.slopes, failed=True)


assert set(STILL_V) == set(FAMILIES)
