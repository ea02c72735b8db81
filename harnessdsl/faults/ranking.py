"""From what was seen to causes: weights by Bayes' rule, with the reasons in words.

Each fault is weighed as a lasting one and as one that is absent now and then. Pairs of faults are
weighed when no single one explains what was seen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from harnessdsl.faults.alike import classes_of
from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.case_prior import case_factor
from harnessdsl.faults.circumstances import fits_when
from harnessdsl.faults.entries import Array
from harnessdsl.faults.likelihood import WORD_BY_CHANCE, fits
from harnessdsl.faults.predictions import Candidate, Predictor, State

ABSENT_SHARE = 0.25
"""How often an intermittent fault is away when one looks."""
INTERMITTENT_SHARE = {"wire-open": 0.25, "wire-corroded": 0.15, "plug-open": 0.35,
                      "plug-corroded": 0.2, "earth-lifted": 0.3, "earth-corroded": 0.15,
                      "contact-open": 0.3, "contact-burnt": 0.15, "fuse-contact": 0.3,
                      "wire-short": 0.15, "wires-touch": 0.2, "motor-worn": 0.3}
"""Share of a way to fail that comes and goes (common practice, no source)."""
ELSE_INTERMITTENT = 0.03
UNTOLD = 0.3
"""How often nobody tells that a fault comes and goes (common practice, no source)."""
PAIR_PRIOR = 0.25
"""Chance that a second fault is there at all."""
PAIRS_SHOW = 0.2
"""Weight of all pairs together from which on two faults are spoken of."""
MOST_SURVIVORS = 400
MOST_PAIRS = 150
"""Pairs added at once; more come when these do not explain everything either."""
UNEXPLAINED = 0.2
"""An observation less likely than this is not explained."""
WHEN_FACTOR = 4.0
BOUND_SHARE = 0.7
"""Of faults that come and go, when the complaint says 'only when hot': those that do."""
SHOWS = 0.95
"""Chance that such a fault is there when it is hot, and away when it is not."""
CLASS_SHARE, CHANGING_CLASS_SHARE = 0.9, 0.96
"""Weight of the likeliest class from which on it is sure enough to be opened; more is asked of what
comes and goes, where a single reading says less."""
CHANGING = 0.3
"""Chance of such a fault from which on more is asked."""
LEAST_CLASS_SHARE = 0.05
"""Weight that suffices where no other cause explains everything that was seen."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One candidate with its weight and what it explains."""

    candidate: Candidate
    weight: float
    """Chance that this is it, of all causes considered."""
    words: str
    explains: tuple[int, ...]
    """Numbers of the observations that it explains."""
    fails: tuple[int, ...]
    """Numbers of the observations that speak against it."""
    intermittent: bool = False
    """Whether it fits better as a fault that comes and goes."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The ranked causes of a case."""

    causes: tuple[Cause, ...]
    classes: tuple[tuple[int, ...], ...]
    """Causes (by number) that are electrically the same until opened, the likeliest class first."""
    weights: tuple[float, ...]
    """Of the classes."""
    contradictions: tuple[int, ...] = ()
    """Observations that no cause explains: wrong, or the diagram is."""
    pairs: bool = False
    """Whether two faults at once had to be considered."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What one observation says of candidates: its chance, and its log chance as a fault that
    lasts, that comes and goes, that is there only `when`; its chance in the sound car."""

    chance: Array
    lasting: Array
    changing: Array
    bound: Array
    sound: float


@dataclass(slots=True)
class Weights:
    """The state of a search: candidates and how well each fits so far."""

    predictor: Predictor
    candidates: list[Candidate]
    prior: Array
    shares: Array
    """Chance that the candidate comes and goes."""
    lasting: Array
    """Log chance of everything seen so far, as a lasting fault."""
    changing: Array
    """The same as one that is absent a quarter of the time."""
    seen: list[Observation] = field(default_factory=list)
    table: list[Array] = field(default_factory=list)
    """Chance of each observation under each candidate."""
    sound: list[float] = field(default_factory=list)
    """Chance of each observation in the sound car."""
    when: str = ""
    """hot or moving: the complaint says that it is there only then."""
    bound: Array = field(default_factory=lambda: np.zeros(0))
    """Log chance of everything seen so far, as a fault that is there only `when`."""

    def going(self) -> Array:
        """Return the log chance of everything seen so far, as a fault that comes and goes."""
        if not self.when:
            return self.changing
        return np.asarray(np.logaddexp(math.log(1 - BOUND_SHARE) + self.changing,
                                       math.log(BOUND_SHARE) + self.bound))

    def bound_share(self) -> float:
        """Return the chance that the fault is there only when it is hot, or moving."""
        if not self.when:
            return 0.0
        logs = self.logs()
        with np.errstate(divide="ignore"):
            part = (np.log(self.prior) + np.log(self.shares) + math.log(BOUND_SHARE) + self.bound)
        top = logs.max()
        return float(np.exp(part - top).sum() / np.exp(logs - top).sum())

    def _there(self, seen: Observation) -> float:
        """Return the chance that a fault that is there only `when` was there at an observation."""
        if not seen.condition:  # a fuse looked at: it tells of the time before
            return 1.0
        condition = self.predictor.bench.vehicle.conditions.get(seen.condition)
        return SHOWS if fits_when(condition, self.when) else 1 - SHOWS

    def logs(self) -> Array:
        """Return the log weight of every candidate, not normalised."""
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(self.prior) + np.logaddexp(
                np.log1p(-self.shares) + self.lasting, np.log(self.shares) + self.going()))

    def normal(self) -> Array:
        """Return the weights, summing to 1."""
        logs = self.logs()
        found = np.exp(logs - logs.max())
        return np.asarray(found / found.sum())

    def changing_share(self) -> float:
        """Return the chance that the fault is one that comes and goes."""
        logs = self.logs()
        with np.errstate(divide="ignore"):
            part = np.log(self.prior) + np.log(self.shares) + self.going()
        top = logs.max()
        return float(np.exp(part - top).sum() / np.exp(logs - top).sum())

    def add(self, seen: Observation) -> None:
        """Take in one more observation."""
        single = [c for c in self.candidates]
        survivors = self._survivors() if seen.kind in ("volts", "lamp", "ohms", "amps") or (
            seen.unplugged or seen.pulled) else np.arange(len(single))
        sound = float(fits(self.predictor, seen, [()])[0])
        chance = np.full(len(single), sound)
        if len(survivors):
            chance[survivors] = fits(self.predictor, seen, [single[i] for i in survivors])
        told = self._told(seen, single, chance, sound)
        self.lasting += told.lasting
        self.changing += told.changing
        self.bound += told.bound
        self.seen.append(seen)
        self.table.append(told.chance)
        self.sound.append(told.sound)

    def _told(self, seen: Observation, candidates: Sequence[Candidate], chance: Array,
              sound: float) -> _Told:
        """Return what an observation says of candidates, given its chance under each of them as a
        lasting fault and in the sound car."""
        if seen.kind == "load" and seen.says == "intermittent":
            odd = np.ones(len(candidates), dtype=bool)
            if seen.condition:
                state = State(seen.condition)
                usual = self.predictor.load_states(state, [()], seen.subject)[0]
                odd = np.asarray(self.predictor.load_states(
                    state, candidates, seen.subject)) != usual
            # a thing that nothing is wrong with is not seen to come and go, but by a mistake
            mistake = (1 - seen.sure) * WORD_BY_CHANCE + 0.0003
            comes = np.where(odd, 0.9, mistake)
            return _Told(comes, np.log(np.where(odd, 0.05, mistake)), np.log(comes), np.log(comes),
                         mistake)
        if seen.kind == "wiggle":
            helped = seen.says == "helped"
            touched = np.asarray([self.touches(c, seen.subject) for c in candidates], dtype=bool)
            comes = np.where(touched == helped, 0.7, 0.3)
            lasts = np.where(touched & helped, 0.3, 0.1 if helped else 0.9)
            return _Told(comes, np.log(lasts), np.log(comes), np.log(comes),
                         0.05 if helped else 0.95)
        there = self._there(seen)
        return _Told(chance, np.log(chance),
                     np.log((1 - ABSENT_SHARE) * chance + ABSENT_SHARE * sound),
                     np.log(there * chance + (1 - there) * sound), sound)

    def _survivors(self) -> np.ndarray:
        logs = self.logs()
        order = np.argsort(-logs, kind="stable")[:MOST_SURVIVORS]
        return np.sort(order[logs[order] > logs[order[0]] - 16.0])

    def touches(self, candidate: Candidate, subject: str) -> bool:
        """Return whether wiggling a plug or a run moves what a candidate is about."""
        vehicle = self.predictor.bench.vehicle
        run = vehicle.runs.get(subject)
        for i in candidate:
            fault = self.predictor.bench.faults[i]
            if fault.subject == subject or (run is not None and fault.wire in run.wires):
                return True
        return False

    def extend(self, candidates: Sequence[Candidate], prior: Array) -> None:
        """Add candidates and weigh them against everything seen so far."""
        known = set(self.candidates)
        chosen = [i for i, c in enumerate(candidates) if c not in known]
        fresh = [candidates[i] for i in chosen]
        if not fresh:
            return
        lasting, changing, bound = (np.zeros(len(fresh)) for _ in range(3))
        tables = []
        for number, seen in enumerate(self.seen):
            told = self._told(seen, fresh, fits(self.predictor, seen, fresh), self.sound[number])
            lasting += told.lasting
            changing += told.changing
            bound += told.bound
            tables.append(told.chance)
        self.candidates += fresh
        self.prior = np.concatenate([self.prior, np.asarray(prior)[chosen]])
        self.shares = np.concatenate([self.shares, np.full(len(fresh), ELSE_INTERMITTENT)])
        self.lasting = np.concatenate([self.lasting, lasting])
        self.changing = np.concatenate([self.changing, changing])
        self.bound = np.concatenate([self.bound, bound])
        self.table = [np.concatenate([old, new])
                      for old, new in zip(self.table, tables, strict=True)]


def start(predictor: Predictor, case: Case) -> Weights:
    """Return the weights before anything was seen, as the case's own words set them."""
    bench = predictor.bench
    prior = np.asarray([f.likelihood for f in bench.faults])
    when = {c.when for c in case.complaints if c.when}
    for i, fault in enumerate(bench.faults):
        prior[i] *= case_factor(bench.vehicle, fault, case)
        if when and when & set(fault_exposure(predictor, i)):
            prior[i] *= WHEN_FACTOR
    prior /= prior.sum()
    shares = np.asarray([INTERMITTENT_SHARE.get(f.mode, ELSE_INTERMITTENT) for f in bench.faults])
    if when:
        shares = np.minimum(0.9, shares * 2)
    elif not any(o.says == "intermittent" for o in case.observations):
        shares = shares * UNTOLD
    count = len(bench.faults)
    told = next((w for w in ("hot", "moving") if w in when and any(
        fits_when(c, w) for c in bench.vehicle.conditions.values())), "")
    return Weights(predictor, [(i,) for i in range(count)], prior, shares, np.zeros(count),
                   np.zeros(count), when=told, bound=np.zeros(count))


def fault_exposure(predictor: Predictor, number: int) -> tuple[str, ...]:
    """Return the words (wet, hot, moving) of the places that a fault can be in."""
    vehicle = predictor.bench.vehicle
    fault = predictor.bench.faults[number]
    places: list[str] = []
    if fault.part in vehicle.parts:
        places.append(vehicle.parts[fault.part].place)
    elif fault.wire in vehicle.wires:
        wire = vehicle.wires[fault.wire]
        places += [vehicle.parts[e.part].place for e in (wire.a, wire.b) if e.part in vehicle.parts]
        for run in vehicle.runs.values():
            if wire.name in run.wires:
                places += run.places
    found: dict[str, None] = {}
    for place in places:
        seen: set[str] = set()
        while place in vehicle.places and place not in seen:
            seen.add(place)
            found.update(dict.fromkeys(vehicle.places[place].exposure))
            place = vehicle.places[place].inside
    return tuple(found)


def weigh(predictor: Predictor, case: Case) -> Weights:
    """Return the weights after everything in the case."""
    weights = start(predictor, case)
    # what everybody can compute comes first, so that few are left when points are read
    cheap = [o for o in case.observations if o.kind in ("load", "fuse", "relay", "swap", "wiggle")
             and not o.unplugged and not o.pulled]
    dear = [o for o in case.observations if o not in cheap]
    for seen in [*cheap, *dear]:
        weights.add(seen)
    consider_pairs(weights)
    return weights


def consider_pairs(weights: Weights) -> bool:
    """Add pairs of faults when no single one explains what was seen; return whether it was so."""
    if not weights.table or len(weights.table) < 2:
        return False
    table = np.stack(weights.table)
    singles = np.asarray([i for i, c in enumerate(weights.candidates) if len(c) == 1])
    logs = weights.logs()
    best = singles[int(np.argmax(logs[singles]))]
    bad = table[:, best] < UNEXPLAINED
    if not bad.any():
        return False
    if len(logs) > len(singles):  # pairs are there already: do they do?
        top = int(np.argmax(logs))
        if len(weights.candidates[top]) > 1 and not (table[:, top] < UNEXPLAINED).any():
            return True
    # for every pair, as a first guess, each observation is explained as well as by the better one
    keep = singles[np.argsort(-(logs[singles]), kind="stable")][:120]
    explains = table[:, singles] >= UNEXPLAINED
    sound = np.asarray(weights.sound)
    odd = sound < UNEXPLAINED
    useful = singles[(explains[odd].any(axis=0))] if odd.any() else singles
    score = np.log(weights.prior[useful]) + 3.0 * (table[:, useful][odd] >= UNEXPLAINED).sum(axis=0)
    extra = useful[np.argsort(-score, kind="stable")][:240]
    pool = np.unique(np.concatenate([keep, extra]))
    logt = np.log(table[:, pool])
    prior = np.log(weights.prior[pool])
    best_of = np.maximum(logt[:, :, None], logt[:, None, :])
    # what is as in the sound car is no merit of the other fault: the worse one counts
    worse = np.minimum(logt[:, :, None], logt[:, None, :])
    total = np.where(odd[:, None, None], best_of, worse).sum(axis=0)
    total += prior[:, None] + prior[None, :] + math.log(PAIR_PRIOR)
    rows, columns = np.triu_indices(len(pool), 1)
    order = np.argsort(-total[rows, columns], kind="stable")[:MOST_PAIRS]
    pairs = [tuple(sorted((weights.candidates[pool[rows[i]]][0],
                           weights.candidates[pool[columns[i]]][0]))) for i in order]
    priors = np.asarray([weights.prior[a] * weights.prior[b] * PAIR_PRIOR * 2 for a, b in pairs])
    weights.extend(pairs, priors)
    return True


def words_of(predictor: Predictor, candidate: Candidate) -> str:
    """Return a candidate in words."""
    return " and ".join(predictor.bench.faults[i].words for i in candidate)


def judge(weights: Weights, most: int = 40) -> Verdict:
    """Return the likeliest causes, with reasons, and which of them look alike."""
    normal = weights.normal()
    order = np.argsort(-normal, kind="stable")[:most]
    order = order[normal[order] > 1e-6]
    table = np.stack(weights.table) if weights.table else np.zeros((0, len(normal)))
    sound = np.asarray(weights.sound)
    going = weights.going()
    causes = []
    for i in order.tolist():
        chance = table[:, i]
        explains = tuple(np.flatnonzero((chance >= UNEXPLAINED) & (sound < UNEXPLAINED)).tolist())
        fails = tuple(np.flatnonzero(chance < UNEXPLAINED).tolist())
        changing = (math.log(weights.shares[i]) + going[i]
                    > math.log1p(-weights.shares[i]) + weights.lasting[i])
        causes.append(Cause(weights.candidates[i], float(normal[i]),
                            words_of(weights.predictor, weights.candidates[i]), explains, fails,
                            bool(changing)))
    classes = classes_of(weights.predictor, weights.seen, [c.candidate for c in causes])
    sums = [math.fsum(causes[i].weight for i in group) for group in classes]
    ranked = sorted(range(len(classes)), key=lambda k: (-sums[k], classes[k]))
    contradictions: tuple[int, ...] = ()
    if len(causes) and len(table):
        near = [i for i in order.tolist() if normal[i] > 0.05 * normal[order[0]]]
        contradictions = tuple(np.flatnonzero((table[:, near] < UNEXPLAINED).all(axis=1)).tolist())
    return Verdict(tuple(causes), tuple(classes[k] for k in ranked),
                   tuple(sums[k] for k in ranked), contradictions,
                   float(normal[[len(c) > 1 for c in weights.candidates]].sum()) > PAIRS_SHOW)


def enough(weights: Weights, verdict: Verdict) -> bool:
    """Return whether the likeliest class is sure enough to be opened, and explains everything."""
    if not verdict.weights:
        return False
    changing = weights.changing_share() > CHANGING
    wanted = CHANGING_CLASS_SHARE if changing else CLASS_SHARE
    top, share = verdict.causes[verdict.classes[0][0]], verdict.weights[0]
    if share >= wanted and (not top.fails or top.intermittent or len(weights.seen) > 12):
        return True
    if changing or top.fails or top.intermittent or share < LEAST_CLASS_SHARE:
        return False
    # many unlikely causes, each of which would need a mistake in what was seen, are no rivals
    explaining = (np.stack(weights.table) >= UNEXPLAINED).all(axis=0)
    return bool(share >= CLASS_SHARE * weights.normal()[explaining].sum())
