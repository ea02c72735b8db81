"""Relays that move and fuses that open because of a fault, one round after another."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from harnessdsl.faults.changes import Change
from harnessdsl.faults.entries import Array, Spec, linear
from harnessdsl.faults.limits import Limits


@dataclass(slots=True)
class Task:
    """One fault on its way to rest."""

    number: int
    change: Change
    specs: dict[int, Spec | None]
    """Ports that go by laws of their own, as they stand now; None is the sound car's law."""
    energised: np.ndarray
    opened: list[int]
    seen: set[bytes]
    volts: list[float]
    """Where each of these ports was last, in volts; nan before it is known."""
    rounds: int = 0
    one_by_one: bool = False
    """Whether armatures move one at a time, after moving together went round in a circle."""
    visited: list[np.ndarray] = field(default_factory=list)
    """The states gone through one by one."""
    chattering: bool = False

    def put(self, port: int, spec: Spec | None, volts: float = math.nan) -> None:
        """Let a port go by a law of its own."""
        if port not in self.specs:
            self.volts.append(volts)
        self.specs[port] = spec

    def drop(self, port: int) -> None:
        """Let a port go with the straight-line network again."""
        if port in self.specs:
            del self.volts[list(self.specs).index(port)]
            del self.specs[port]


def begin(limits: Limits, number: int, change: Change) -> Task:
    """Return the task of a change, relays as they stand in the sound car."""
    specs: dict[int, Spec | None] = dict(change.specs)
    state = limits.base.energised
    for contact in {*change.contacts, *change.switched, *change.inverted}:
        siemens = limits.contact_siemens(contact, change, state)
        if abs(siemens - limits.base.siemens[contact]) > 1e-12:
            specs[contact] = linear(siemens)
    for port in change.opened:
        specs[port] = linear(0.0)
    return Task(number, change, specs, state, [], {state.tobytes()}, [math.nan] * len(specs))


def move_armatures(limits: Limits, task: Task, coil_a: Array) -> bool:
    """Let relays go where their currents pull them; return whether any moved."""
    if task.chattering:
        return False
    threshold = limits.thresholds(task.energised)
    goes = coil_a >= threshold
    if not (goes != task.energised).any():
        return False
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
    for contact in limits.contacts_of(changed.tolist()):
        if contact in task.change.specs:
            continue
        siemens = limits.contact_siemens(contact, task.change, goes)
        if abs(siemens - limits.base.siemens[contact]) > 1e-12:
            task.put(contact, linear(siemens))
        else:
            task.drop(contact)
            if not task.specs:
                task.put(contact, linear(siemens))
    return True


def open_worst_fuse(limits: Limits, task: Task, carried: Iterable[tuple[int, float]]) -> bool:
    """Open the fuse that goes first, if any goes; return whether one did.

    Args:
        carried: number and current, in amperes, of every fuse that may carry too much.
    """
    worst = None
    for number, through in carried:
        port = int(limits.fuses[number])
        if port in task.opened or port in task.change.opened:
            continue
        element = limits.ports.circuit.elements[port]
        curve = element.curve
        assert curve is not None
        if through <= element.rated_a * curve.carries:
            continue
        band = curve.band(through / element.rated_a)
        key = (band.longest_s, band.shortest_s, -through / element.rated_a, element.id)
        if band.opens and (worst is None or key < worst[0]):
            worst = (key, port)
    if worst is None:
        return False
    task.opened.append(worst[1])
    task.put(worst[1], linear(0.0))
    task.seen, task.one_by_one = {task.energised.tobytes()}, False
    task.chattering = False
    return True
