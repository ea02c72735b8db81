"""Fault finding measured: how often the true fault is found, and with how much trouble.

    python bench/fault_search.py [--faults 500] [--seed 1986]

Draws faults of the demo vehicle by likelihood, lets a simulated car answer every proposed step, and
compares the chooser with half-splitting along the path (half_split.py) and with a random choice of
steps. Exact readings; readings off by 5 % with one wrong observation in 20 cases; faults that are
absent one time in four; two faults at once.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from harnessdsl.threads import use_one_thread

use_one_thread()

import numpy as np  # noqa: E402
from half_split import half_splitting  # noqa: E402

from harnessdsl.faults.bench import Bench  # noqa: E402
from harnessdsl.faults.case import Case, Observation  # noqa: E402
from harnessdsl.faults.next_measurement import answer_as, next_actions  # noqa: E402
from harnessdsl.faults.predictions import Candidate, Predictor  # noqa: E402
from harnessdsl.faults.ranking import (  # noqa: E402
    Weights,
    consider_pairs,
    enough,
    judge,
    weigh,
)
from harnessdsl.faults.refusals import possible  # noqa: E402
from harnessdsl.faults.sweep import run_sweep  # noqa: E402
from harnessdsl.model.failures import Likelihood  # noqa: E402
from harnessdsl.pipeline import load  # noqa: E402

DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
MOST_STEPS = 25
MOST_OPENED = 6
"""How often a person opens what is accused before giving up."""
OPEN_MIN, NOT_THERE = 5.0, 0.001
EXPLAINS = 0.2
"""A fault explains a complaint that is at least this likely under it."""


@dataclass
class Outcome:
    """One search."""

    right: bool
    steps: int
    minutes: float
    log2_candidates: float
    """Of the faults that explain the first complaint."""
    seconds: float
    """The slowest step."""
    class_size: int
    """Causes in the final class."""


@dataclass
class Car:
    """A simulated car: answers as its faults do, now and then wrongly."""

    predictor: Predictor
    truth: Candidate
    rng: random.Random
    noise: float = 0.0
    wrong_at: int = -1
    absent: float = 0.0
    asked: int = 0

    def answer(self, seen: Observation) -> Observation:
        shown = self.truth
        if self.absent and self.rng.random() < self.absent:
            shown = ()
        found = answer_as(self.predictor, seen, shown)
        if self.noise and found.kind in ("volts", "ohms", "amps") and math.isfinite(found.value):
            found = replace(found, value=found.value * self.rng.gauss(1.0, self.noise))
        if self.asked == self.wrong_at:
            found = self._wrong(found)
        self.asked += 1
        return found

    def _wrong(self, found: Observation) -> Observation:
        if found.kind in ("volts", "ohms", "amps"):
            value = 12.0 if abs(found.value) < 3 else 0.0
            return replace(found, value=value)
        swaps = {"dead": "works", "works": "dead", "dim": "works", "blown": "whole",
                 "whole": "blown", "clicks": "silent", "silent": "clicks", "helped": "no-change",
                 "no-change": "helped", "stays-on": "off", "off": "stays-on", "glows": "off"}
        return replace(found, says=swaps.get(found.says, "works"))


def complaints(predictor: Predictor, truth: Candidate, rng: random.Random, count: int = 1
               ) -> list[Observation]:
    """Return what the driver says: loads that visibly do the wrong thing, one for each fault."""
    found = []
    for fault in truth:
        odd = predictor.symptoms[fault]
        for condition, part in rng.sample(odd, min(count, len(odd))):
            name = predictor.bench.conditions[condition].name
            found.append(answer_as(predictor, Observation("load", part, condition=name), truth))
    return found


def search(predictor: Predictor, car: Car, first: list[Observation],
           found: list[Candidate] | None = None, chooser: str = "best",
           sound: Sequence[str] = (), seen_already: list[Observation] | None = None) -> Outcome:
    """Search with one way of choosing the next step, best or random.

    Args:
        found: takes the members of the final class.
        sound: ids of faults that were looked for and are not there.
        seen_already: goes on from these, and takes what is seen.
    """
    case = Case(observations=tuple(seen_already or first),
                likelihoods=tuple(Likelihood((name,), NOT_THERE) for name in sound))
    weights = weigh(predictor, case)
    start = np.stack([row for row, seen in zip(weights.table, weights.seen, strict=True)
                      if seen.says != "intermittent"][:len(first)])
    likely = int((start >= EXPLAINS).all(axis=0)[:len(predictor.bench.faults)].sum())
    steps, minutes, slowest = 0, 0.0, 0.0
    while True:
        began = time.process_time()
        verdict = judge(weights)
        if enough(weights, verdict):
            break
        if steps >= MOST_STEPS:
            break
        actions = possible(case, weights, next_actions(weights, case))
        slowest = max(slowest, time.process_time() - began)
        if not actions:
            break
        action = actions[0] if chooser == "best" else car.rng.choice(actions)
        seen = car.answer(action.observation)
        case = replace(case, observations=(*case.observations, seen))
        add(weights, seen)
        steps += 1
        minutes += action.minutes
    group = [verdict.causes[i].candidate for i in verdict.classes[0]]
    if found is not None:
        found += group
    if seen_already is not None:
        seen_already[:] = case.observations
    right = any(set(car.truth) == set(candidate) for candidate in group)
    return Outcome(right, steps, minutes, math.log2(max(likely, 2)), slowest, len(group))


def both(predictor: Predictor, pair: Candidate, rng: random.Random,
         first: list[Observation]) -> Outcome:
    """Search a car with two faults: what is found is put right, everything complained of is tried
    again, and the search goes on with what is left."""
    left = pair
    total = Outcome(False, 0, 0.0, 0.0, 0.0, 1)
    sound: list[str] = []
    seen: list[Observation] = []
    for _ in range(MOST_OPENED):
        car = Car(predictor, left, rng)
        one = search(predictor, car, first, found := [], sound=sound, seen_already=seen)
        total.steps += one.steps
        total.minutes += one.minutes
        total.log2_candidates = max(total.log2_candidates, one.log2_candidates)
        total.seconds = max(total.seconds, one.seconds)
        hit = {i for candidate in found for i in candidate} & set(left)
        left = tuple(i for i in left if i not in hit)
        if not left:
            total.right = True
            break
        if hit:
            # put right; what was seen before tells nothing of the car as it is now
            seen, sound = [], []
            first = [answer_as(predictor, o, left) for o in first]
            if all(o.says in ("works", "off") for o in first):
                break
        else:  # opened for nothing, which is a step too
            sound += [predictor.bench.faults[i].id for candidate in found for i in candidate]
            total.steps += 1
            total.minutes += OPEN_MIN
    return total


def add(weights: Weights, seen: Observation) -> None:
    """Take an observation in, and consider pairs where single faults fail."""
    weights.add(seen)
    consider_pairs(weights)


def table(rows: list[tuple[str, list[Outcome]]]) -> None:
    """Print the means: steps, log2 of the faults that explain the first complaint, minutes, causes
    in the final class, seconds of processor time of the slowest step."""
    print(f"{'':34} {'cases':>6} {'right':>7} {'steps':>6} {'log2 n':>7} {'ratio':>6} "
          f"{'minutes':>8} {'class':>6} {'slowest':>8}")
    for name, found in rows:
        if not found:
            continue
        steps = statistics.mean(o.steps for o in found)
        bits = statistics.mean(o.log2_candidates for o in found)
        print(f"{name:34} {len(found):6} {sum(o.right for o in found) / len(found):7.1%} "
              f"{steps:6.2f} {bits:7.2f} {steps / bits:6.2f} "
              f"{statistics.mean(o.minutes for o in found):8.1f} "
              f"{statistics.mean(o.class_size for o in found):6.1f} "
              f"{max(o.seconds for o in found):7.2f}s", flush=True)


def run(count: int, seed: int, only: str) -> None:
    """Print one table: every way of searching on the same drawn faults."""
    predictor = Predictor(run_sweep(Bench.of(load(DEMO).vehicle)))
    bench = predictor.bench
    seen = [i for i in range(len(bench.faults)) if predictor.symptoms[i]]
    weights = [bench.faults[i].likelihood for i in seen]
    print(f"{len(bench.faults)} faults, {len(seen)} of them show a symptom; {count} drawn, "
          f"seed {seed}", flush=True)
    drawn = random.Random(seed).choices(seen, weights, k=count)
    firsts = [complaints(predictor, (f,), random.Random(seed * 7919 + k))
              for k, f in enumerate(drawn)]
    rows: list[tuple[str, list[Outcome]]] = []
    for name, most, one in rows_of(predictor, drawn, firsts, seed):
        if only and name.split()[0].strip(",") not in only.split(","):
            continue
        found = []
        for k in range(most):
            outcome = one(k)
            if outcome is None:
                continue
            found.append(outcome)
            if not outcome.right and "random" not in name:
                print(f"  {name}: missed", bench.faults[drawn[k]].id, firsts[k][0].subject,
                      flush=True)
        rows.append((name, found))
    table(rows)
    by_name = dict(rows)
    for name in (HALF, TOLD):
        if EXACT in by_name and name in by_name:
            ours, theirs = by_name[EXACT], by_name[name]
            steps = sum(o.steps for o in ours) / sum(o.steps for o in theirs)
            minutes = sum(o.minutes for o in ours) / sum(o.minutes for o in theirs)
            print(f"{steps:.2f} of the steps and {minutes:.2f} of the minutes of {name}")


EXACT, HALF = "exact readings", "half-splitting along the path"
TOLD = "told what each cause would read"
One = Callable[[int], Outcome | None]


def rows_of(predictor: Predictor, drawn: list[int], firsts: list[list[Observation]], seed: int
            ) -> list[tuple[str, int, One]]:
    """Return (name, cases, how to search case k) of every row of the table."""
    count = len(drawn)

    def exact(k: int) -> Outcome:
        return search(predictor, Car(predictor, (drawn[k],), random.Random(k)), firsts[k])

    def half(k: int, told: bool = False) -> Outcome:
        chance = weigh(predictor, Case(observations=tuple(firsts[k]))).table[0]
        left = [(i,) for i in np.flatnonzero(chance >= EXPLAINS).tolist()]
        if (drawn[k],) not in left:
            left.append((drawn[k],))
        steps, minutes = half_splitting(predictor, drawn[k], firsts[k][0], left, told)
        return Outcome(True, steps, minutes, math.log2(max(len(left), 2)), 0.0, 1)

    def at_random(k: int) -> Outcome:
        return search(predictor, Car(predictor, (drawn[k],), random.Random(k)), firsts[k],
                      chooser="random")

    def noisy(k: int) -> Outcome:
        own = random.Random(seed + k)
        wrong = own.randrange(4) if own.random() < 0.05 else -1
        return search(predictor, Car(predictor, (drawn[k],), own, 0.05, wrong), firsts[k])

    def absent(k: int) -> Outcome:
        first = [*firsts[k], *(replace(o, says="intermittent") for o in firsts[k])]
        car = Car(predictor, (drawn[k],), random.Random(seed + k), absent=0.25)
        return search(predictor, car, first)

    def double(k: int) -> Outcome | None:
        own = random.Random(seed * 31 + k)
        pair: Candidate = tuple(sorted({*own.sample(drawn, 2)}))
        first = complaints(predictor, pair, own) if len(pair) == 2 else []
        if len(first) < 2 or any(o.says in ("works", "off") for o in first):
            return None  # one fault hides the other's symptom
        return both(predictor, pair, own, first)

    return [(EXACT, count, exact), (HALF, count, half), (TOLD, count, lambda k: half(k, True)),
            ("random choice of steps", max(count // 5, 10), at_random),
            ("noisy 5 %, 1 wrong in 20 cases", count, noisy),
            ("intermittent, absent 1 in 4", max(count // 5, 10), absent),
            ("double faults", max(count // 4, 12), double)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faults", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1986)
    parser.add_argument("--only", default="", help="rows alone, joined by commas")
    given = parser.parse_args()
    run(given.faults, given.seed, given.only)


if __name__ == "__main__":
    sys.exit(main())
