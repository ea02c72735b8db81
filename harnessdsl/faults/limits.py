"""How far things may shift in one condition before something else happens.

A law counts as straight, a relay stays, a fuse holds and a load does what it did while the change
of voltage across it is small enough. All arrays go over the watched ports of `Ports.watched`.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from harnessdsl.electric.elements import Resistance
from harnessdsl.electric.laws import FAMILIES
from harnessdsl.faults.base import Base
from harnessdsl.faults.changes import Change
from harnessdsl.faults.entries import KINDS, Array, Index, evaluate
from harnessdsl.faults.few_ports import JUNCTION
from harnessdsl.faults.shifts import Shifts

BEND_V = 2e-5
"""How far off a straight line may leave any voltage."""
STILL_V = {"cell": 0.0, "alternator": 0.0, "junction": 2e-3, "filament": 2e-2, "motor": 1e-3}
"""A law counts as straight over changes smaller than this."""
TRIED_V = (1e-4, 3e-4, 1e-3, 3e-3, 1e-2, 3e-2, 0.1, 0.3, 1.0)
FELT_SHARE = 0.01
"""Loads whose voltage changes by less than this share of their rated voltage do what they did."""


class Limits:
    """The thresholds of one condition."""

    def __init__(self, base: Base, own_ohm: Array) -> None:
        """Take the condition and the resistance of every watched port itself, in ohms."""
        self.base = base
        self.own_ohm = own_ohm
        ports = self.ports = base.ports
        circuit, place = ports.circuit, ports.place
        self.watched = ports.watched
        self.healthy_v = base.port_volts[self.watched]
        coil = {circuit.elements[i].id: number for number, i in enumerate(ports.coils)}
        self.gates = {i: [(coil[t.coil], t.energised) for t in circuit.elements[i].gate or ()]
                      for i in ports.gated}
        self.by_coil: dict[int, list[int]] = {}
        for contact, terms in self.gates.items():
            for number, _ in terms:
                self.by_coil.setdefault(number, []).append(contact)
        self.coil_places = np.asarray([place[i] for i in ports.coils], dtype=np.intp)
        self.coil_siemens = base.siemens[self.watched[self.coil_places]]
        figures = [circuit.coil_figures(i) for i in ports.coils]
        self.pull_in_a = np.asarray([f.pull_in_a for f in figures])
        self.drop_out_a = np.asarray([f.drop_out_a for f in figures])
        self.fuses = np.asarray([i for i in ports.protection
                                 if circuit.elements[i].curve is not None
                                 and circuit.elements[i].rated_a > 0], dtype=np.intp)
        self.fuse_places = np.asarray([place[i] for i in self.fuses.tolist()], dtype=np.intp)
        self.fuse_siemens = base.siemens[self.fuses]
        self.carries = np.asarray([e.rated_a * e.curve.carries for e in
                                   (circuit.elements[i] for i in self.fuses.tolist())
                                   if e.curve is not None])
        self.coil_of = self._numbers(self.coil_places)
        self.fuse_of = self._numbers(self.fuse_places)
        self.load_places = np.asarray([place[i] for i in ports.loads], dtype=np.intp)
        rated_v = np.asarray([circuit.elements[i].rated_v for i in ports.loads])
        self.load_of = self._numbers(self.load_places)
        self.felt_v = FELT_SHARE * np.maximum(rated_v, 1.0)
        self.felt_v[base.kinds[ports.loads] == JUNCTION] = STILL_V["junction"]
        self.curved = np.flatnonzero(base.kinds[self.watched])
        """Watched places with a law that is not straight."""
        self.still = self._straight_v()
        self.threshold_a = self.thresholds(base.energised)
        self.coil_a = np.abs(self.healthy_v[self.coil_places]) * self.coil_siemens
        """Current of every coil of the sound car."""
        self.care_v = self._care_v()

    def thresholds(self, energised: np.ndarray) -> Array:
        """Return the current of each coil above which its armature is, or stays, pulled in."""
        return np.where(energised, self.drop_out_a, self.pull_in_a) * (1 - 1e-9)

    def _numbers(self, places: Index) -> Index:
        """Return for each watched place which of `places` it is, -1 for none."""
        found = np.full(len(self.watched), -1, dtype=np.intp)
        found[places] = np.arange(len(places))
        return found

    def _straight_v(self) -> Array:
        """Return over how many volts each curved law counts as straight."""
        ports = self.watched[self.curved]
        still = np.asarray([0.0, *(STILL_V[name] for name in KINDS)])[self.base.kinds[ports]]
        good = np.ones(len(ports), dtype=bool)
        for step in TRIED_V:
            for by in (step, -step):
                good &= self._off_a(ports, np.full(len(ports), by)) * self.own_ohm[
                    self.curved] <= BEND_V
            still = np.where(good, np.maximum(still, step), still)
        return still

    def _off_a(self, ports: Index, by: Array) -> Array:
        """Return how far the current is off a straight line after a change of voltage."""
        base = self.base
        amperes, _ = evaluate(base.kinds[ports], base.figures[:, ports],
                              base.port_volts[ports] + by)
        return np.abs(amperes - base.amperes[ports] - base.siemens[ports] * by)

    def _care_v(self) -> Array:
        """Return the change of each watched port's voltage below which nothing comes of it."""
        care = np.full(len(self.watched), np.inf)
        care[self.curved] = self.still
        np.minimum.at(care, self.load_places, self.felt_v)
        with np.errstate(divide="ignore", invalid="ignore"):
            coil_v = np.abs(self.healthy_v[self.coil_places])
            room = np.abs(self.threshold_a / self.coil_siemens - coil_v)
            room[((coil_v * self.coil_siemens) >= self.threshold_a) != self.base.energised] = 0.0
            np.minimum.at(care, self.coil_places, np.nan_to_num(room, nan=np.inf))
            room = self.carries / self.fuse_siemens - np.abs(self.healthy_v[self.fuse_places])
            np.minimum.at(care, self.fuse_places,
                          np.nan_to_num(np.maximum(room, 0.0), nan=np.inf))
        return care

    def bends(self, shifts: Shifts) -> Shifts:
        """Return the laws that bend too far to be taken as straight."""
        curved = shifts.only(self.base.kinds[self.watched[shifts.places]] > 0)
        off = self._off_a(self.watched[curved.places], curved.volts)
        return curved.only(~(off * self.own_ohm[curved.places] <= BEND_V))

    def coils(self, shifts: Shifts) -> Shifts:
        """Return the coils that move, by their numbers instead of places, with their amperes."""
        found = shifts.only(self.coil_of[shifts.places] >= 0)
        number = self.coil_of[found.places]
        return Shifts(found.rows, number, np.abs(
            self.healthy_v[found.places] + found.volts) * self.coil_siemens[number])

    def fuses_over(self, shifts: Shifts) -> Shifts:
        """Return the fuses that carry more than they can for long, by number, with their
        amperes."""
        found = shifts.only(self.fuse_of[shifts.places] >= 0)
        number = self.fuse_of[found.places]
        amperes = np.abs(self.healthy_v[found.places] + found.volts) * self.fuse_siemens[number]
        return Shifts(found.rows, number, amperes).only(amperes > self.carries[number])

    def felt(self, shifts: Shifts) -> Shifts:
        """Return the loads that feel it, by number, with the change of their voltage."""
        found = shifts.only(self.load_of[shifts.places] >= 0)
        number = self.load_of[found.places]
        return Shifts(found.rows, number, found.volts).only(
            np.abs(found.volts) > self.felt_v[number])

    def contact_siemens(self, contact: int, change: Change, energised: np.ndarray) -> float:
        """Return what a contact conducts as its switch and its coils stand."""
        network = self.base.network
        closed = change.switched.get(contact,
                                     network.closed.get(self.ports.names[contact], True))
        if closed:
            wrong = contact in change.inverted
            closed = all((bool(energised[number]) == wanted) != wrong
                         for number, wanted in self.gates.get(contact, ()))
        if not closed:
            return 0.0
        given = change.contacts.get(contact)
        if given is not None:
            return given.figures[0]
        own = network.law(contact)
        assert isinstance(own, Resistance)
        return own.siemens

    def contacts_of(self, coils: Iterable[int]) -> dict[int, None]:
        """Return the contacts that coils (by number) move, each once, in order."""
        return dict.fromkeys(c for number in coils for c in self.by_coil.get(number, ()))


assert set(STILL_V) == set(FAMILIES)
