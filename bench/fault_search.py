"""Fault finding measured: how often the true fault is found, and with how much trouble.

    python bench/fault_search.py [--faults 500] [--seed 1986]

Draws faults of the demo vehicle by likelihood, lets a simulated car answer every proposed step, and
compares the chooser with half-splitting along the path and with a random choice of steps. Exact
readings; readings off by 5 % with one wrong observation in 20 cases; faults that are absent one
time in four; two faults at once.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import sys
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from harnessdsl.faults.alike import classes_of
from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.effort import Effort, places_of_node
from harnessdsl.faults.next_measurement import _UNSEEN, answer_as, next_actions
from harnessdsl.faults.predictions import Candidate, Predictor, State
from harnessdsl.faults.ranking import (
    Weights,
    consider_pairs,
    enough,
    judge,
    weigh,
)
from harnessdsl.faults.sweep import Bench, run_sweep
from harnessdsl.pipeline import load

DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
MOST_STEPS = 25


@dataclass
class Outcome:
    """One search."""

    right: bool
    steps: int
    minutes: float
    log2_candidates: float
    seconds: float


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
    bench = predictor.bench
    elements = bench.assembled.circuit.elements
    found = []
    for fault in truth:
        odd = [(c, n) for c, effect in enumerate(predictor.sweep.found[fault])
               for n in effect.states
               if bench.vehicle.parts[elements[bench.ports.loads[n]].part].family not in _UNSEEN]
        for c, n in rng.sample(odd, min(count, len(odd))):
            part = elements[bench.ports.loads[n]].part
            found.append(answer_as(predictor, Observation(
                "load", part, condition=bench.conditions[c].name), truth))
    return found


def search(predictor: Predictor, car: Car, first: list[Observation],
           found: list[Candidate] | None = None, chooser: str = "best") -> Outcome:
    """Search with one way of choosing the next step, best or random; the members of the final class
    go into `found`."""
    case = Case(observations=tuple(first))
    weights = weigh(predictor, case)
    start = np.stack([row for row, seen in zip(weights.table, weights.seen, strict=True)
                      if seen.says != "intermittent"][:len(first)])
    likely = int((start >= 0.2).all(axis=0)[:len(predictor.bench.faults)].sum())
    steps, minutes, slowest = 0, 0.0, 0.0
    while True:
        began = time.process_time()
        verdict = judge(weights)
        if enough(weights, verdict):
            break
        if steps >= MOST_STEPS:
            break
        actions = next_actions(weights, case)
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
    right = any(set(car.truth) == set(candidate) for candidate in group)
    return Outcome(right, steps, minutes, math.log2(max(likely, 2)), slowest)


def both(predictor: Predictor, pair: Candidate, rng: random.Random,
         first: list[Observation]) -> Outcome:
    """Search a car with two faults: what is found is put right, everything complained of is tried
    again, and the search goes on with what is left."""
    left = pair
    total = Outcome(False, 0, 0.0, 0.0, 0.0)
    for _ in range(2):
        car = Car(predictor, left, rng)
        one = search(predictor, car, first, found := [])
        total.steps += one.steps
        total.minutes += one.minutes
        total.log2_candidates = max(total.log2_candidates, one.log2_candidates)
        total.seconds = max(total.seconds, one.seconds)
        hit = {i for candidate in found for i in candidate} & set(left)
        left = tuple(i for i in left if i not in hit)
        if not left:
            total.right = True
            break
        first = [answer_as(predictor, o, left) for o in first]
        if not hit or all(o.says in ("works", "off") for o in first):
            break
    return total


def add(weights: Weights, seen: Observation) -> None:
    """Take an observation in, and consider pairs where single faults fail."""
    weights.add(seen)
    consider_pairs(weights)


def half_splitting(predictor: Predictor, truth: int, first: Observation,
                   weights: Weights) -> tuple[int, float]:
    """Return steps and minutes of splitting the path of the complaint in halves with a meter.

    The rule of the text books: measure at the load; where the supply is missing, in the middle of
    the supply's path, then in the middle of the half that must hold the fault, and so on; where
    the earth side is up, the same there; where both are right, along the path of the coils of the
    relays passed. What the readings leave over is inspected thing by thing, the likeliest first;
    causes that look alike until opened count as one. (Common practice; the choice of the middle by
    position is what makes it blind to likelihood and to trouble.)
    """
    bench = predictor.bench
    vehicle = bench.vehicle
    effort = Effort.of(vehicle, Case(observations=(first,)))
    chance = weights.table[0]
    left = [(i,) for i in range(len(bench.faults)) if chance[i] >= 0.2 or i == truth]
    left.sort(key=lambda c: -bench.faults[c[0]].likelihood)
    steps, minutes = 0, 0.0
    state = State(first.condition)
    def visit(node: str, extra: float) -> None:
        nonlocal steps, minutes
        places = places_of_node(vehicle, node)
        minutes += effort.reach(places) + extra
        for place in places:
            while place:
                effort.opened.add(place)
                place = vehicle.places[place].inside if place in vehicle.places else ""
        steps += 1

    volts, ohms = predictor.nodes(state, [*left, ()])
    shown = volts * (1e7 / (1e7 + ohms))
    usual = shown[-1]
    well = np.abs(shown[:-1] - usual) <= np.maximum(0.6, 0.08 * np.abs(usual))
    at = left.index((truth,))
    alive = np.ones(len(left), dtype=bool)
    known: dict[str, bool] = {}

    def good(node: str) -> bool:
        nonlocal alive, minutes
        if node not in known:
            visit(node, 0.4)
            minutes += effort.condition(first.condition)
            effort.now = first.condition
            column = predictor.node_index[node]
            known[node] = bool(well[at, column])
            alive &= well[:, column] == known[node]
        return known[node]

    for supply, earth in paths(predictor, first.subject, first.condition):
        side = []
        if supply and not good(supply[-1]):
            side = supply
        elif earth and not good(earth[-1]):
            side = earth
        low, high = -1, len(side) - 1
        while high - low > 1:
            middle = (low + high) // 2
            if good(side[middle]):
                low = middle
            else:
                high = middle
        if side:
            break
    left = [c for c, yes in zip(left, alive.tolist(), strict=True) if yes]
    groups = [[left[i] for i in g] for g in classes_of(predictor, weights.seen, left[:60])]
    groups += [[c] for c in left[60:]]
    for number, group in enumerate(groups):
        if number == len(groups) - 1:
            break  # the only ones left
        subject = bench.faults[group[0][0]].subject
        visit(subject, 1.0)
        if (truth,) in group:
            break
    return steps, minutes


def paths(predictor: Predictor, part: str, condition: str
          ) -> list[tuple[list[str], list[str]]]:
    """Return the nodes along the current of a part in the sound car, from the supply to it and from
    the earth to it, then the same of the coils of the relays passed."""
    bench = predictor.bench
    number = predictor.numbers[condition]
    point = bench.points[number]
    circuit = bench.assembled.circuit
    into: dict[str, list[tuple[str, float]]] = {}
    out: dict[str, list[tuple[str, float]]] = {}
    for index, element in enumerate(circuit.elements):
        current = float(point.currents[index])
        if abs(current) > 1e-6:
            a, b = (element.a, element.b) if current > 0 else (element.b, element.a)
            into.setdefault(b, []).append((a, abs(current)))
            out.setdefault(a, []).append((b, abs(current)))
    found: list[tuple[list[str], list[str]]] = []
    seen_parts = {part}
    todo = [bench.ports.loads[n] for n in predictor.load_numbers.get(part, [])]
    todo.sort(key=lambda port: -abs(float(point.currents[port])))
    todo = todo[:1]
    while todo:
        element = circuit.elements[todo.pop(0)]
        top, bottom = element.a, element.b
        if point.voltage_v(top) < point.voltage_v(bottom):
            top, bottom = bottom, top
        supply, earth = walk(into, top)[::-1], walk(out, bottom)[::-1]
        found.append((supply, earth))
        for node in [*supply, *earth]:
            name = node.partition(".")[0]
            if name not in seen_parts and name in predictor.coil_numbers:
                seen_parts.add(name)
                todo += [bench.ports.coils[n] for n in predictor.coil_numbers[name]]
    return found


def walk(sources: dict[str, list[tuple[str, float]]], node: str) -> list[str]:
    """Follow the largest current from a node until it ends."""
    found = [node]
    known = {node}
    while sources.get(node):
        node = max(sources[node], key=lambda s: (s[1], s[0]))[0]
        if node in known or node.startswith("@"):
            break
        known.add(node)
        found.append(node)
    return found


def table(rows: list[tuple[str, list[Outcome]]]) -> None:
    print(f"{'':34} {'cases':>6} {'right':>7} {'steps':>6} {'log2 n':>7} {'ratio':>6} "
          f"{'minutes':>8} {'slowest':>8}")
    for name, found in rows:
        if not found:
            continue
        steps = statistics.mean(o.steps for o in found)
        bits = statistics.mean(o.log2_candidates for o in found)
        print(f"{name:34} {len(found):6} {sum(o.right for o in found) / len(found):7.1%} "
              f"{steps:6.2f} {bits:7.2f} {steps / bits:6.2f} "
              f"{statistics.mean(o.minutes for o in found):8.1f} "
              f"{max(o.seconds for o in found):7.2f}s", flush=True)


def run(count: int, seed: int, only: str) -> None:
    predictor = Predictor(run_sweep(Bench.of(load(DEMO).vehicle)))
    bench = predictor.bench
    elements = bench.assembled.circuit.elements
    seen = [i for i, row in enumerate(predictor.sweep.found)
            if any(bench.vehicle.parts[elements[bench.ports.loads[n]].part].family not in _UNSEEN
                   for e in row for n in e.states)]
    weights = [bench.faults[i].likelihood for i in seen]
    print(f"{len(bench.faults)} faults, {len(seen)} of them show a symptom; {count} drawn, "
          f"seed {seed}", flush=True)
    rng = random.Random(seed)
    drawn = rng.choices(seen, weights, k=count)
    rows: list[tuple[str, list[Outcome]]] = []

    def sample(name: str, most: int) -> list[int]:
        return drawn[:most] if not only or name in only.split(",") else []

    exact, halves, at_random = [], [], []
    firsts = [complaints(predictor, (f,), random.Random(seed * 7919 + k))
              for k, f in enumerate(drawn)]
    for k, fault in enumerate(sample("exact", count)):
        exact.append(search(predictor, Car(predictor, (fault,), random.Random(k)), firsts[k]))
        if not exact[-1].right:
            print("  missed:", bench.faults[fault].id, firsts[k][0].subject, flush=True)
    rows.append(("best step, exact readings", exact))
    for k, fault in enumerate(sample("half", count)):
        steps, minutes = half_splitting(predictor, fault, firsts[k][0],
                                        weigh(predictor, Case(observations=tuple(firsts[k]))))
        halves.append(Outcome(True, steps, minutes, exact[k].log2_candidates if exact else 7.0,
                              0.0))
    rows.append(("half-splitting along the path", halves))
    for k, fault in enumerate(sample("random", max(count // 10, 10))):
        at_random.append(search(predictor, Car(predictor, (fault,), random.Random(k)), firsts[k],
                                chooser="random"))
    rows.append(("random step of those that tell", at_random))
    noisy = []
    for k, fault in enumerate(sample("noisy", count)):
        own = random.Random(seed + k)
        wrong = own.randrange(4) if own.random() < 0.05 else -1
        noisy.append(search(predictor, Car(predictor, (fault,), own, 0.05, wrong), firsts[k]))
    rows.append(("5 % noise, 1 wrong in 20 cases", noisy))
    absent = []
    for k, fault in enumerate(sample("intermittent", max(count // 5, 10))):
        first = [*firsts[k], *(replace(o, says="intermittent") for o in firsts[k])]
        absent.append(search(predictor, Car(predictor, (fault,), random.Random(seed + k),
                                            absent=0.25), first))
    rows.append(("absent one time in four", absent))
    double = []
    if not only or "double" in only.split(","):
        for k in range(200):
            if len(double) == min(100, max(count // 5, 10)):
                break
            own = random.Random(seed * 31 + k)
            pair: Candidate = tuple(sorted(own.sample(drawn, 2)))
            if pair[0] == pair[1]:
                continue
            first = complaints(predictor, pair, own)
            if len(first) == 2 and all(o.says not in ("works", "off") for o in first):
                double.append(both(predictor, pair, own, first))
    rows.append(("two faults at once", double))
    table(rows)
    if exact and halves:
        steps = statistics.mean(o.steps for o in exact) / statistics.mean(o.steps for o in halves)
        minutes = (statistics.mean(o.minutes for o in exact)
                   / statistics.mean(o.minutes for o in halves))
        print(f"against half-splitting: {steps:.2f} of its steps, {minutes:.2f} of its minutes")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faults", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1986)
    parser.add_argument("--only", default="", help="rows alone, joined by commas")
    given = parser.parse_args()
    run(given.faults, given.seed, given.only)


if __name__ == "__main__":
    sys.exit(main())
