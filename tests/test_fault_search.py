"""Searches on simulated cars: how often the true cause is found, with how many steps.

The cars' faults are drawn by likelihood with a fixed seed; the limits leave room against what
bench/fault_search.py measures on many more. No outside source: the cars answer as computed.
"""

from __future__ import annotations

import math
import random
import statistics
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from harnessdsl.electric.elements import Element, Resistance
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.modes import Fault
from harnessdsl.faults.next_measurement import answer_as, next_actions
from harnessdsl.faults.predictions import MOST_ANSWERS, MOST_BYTES, Candidate, Predictor
from harnessdsl.faults.ranking import Verdict, Weights, consider_pairs, enough, judge, weigh
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.pipeline import load

DEMO = Path(__file__).resolve().parent.parent / "examples" / "tourer" / "tourer.harness"
SEED = 41
MOST_STEPS = 25
Answer = Callable[[Observation], Observation]


@pytest.fixture(scope="module")
def predictor() -> Predictor:
    return Predictor(run_sweep(Bench.of(load(DEMO).vehicle)))


def drawn(predictor: Predictor, count: int, seed: int = SEED) -> list[int]:
    faults = predictor.bench.faults
    seen = [i for i in range(len(faults)) if predictor.symptoms[i]]
    return random.Random(seed).choices(seen, [faults[i].likelihood for i in seen], k=count)


def complaint(predictor: Predictor, fault: int, truth: Candidate, seed: int) -> Observation:
    condition, part = random.Random(seed).choice(predictor.symptoms[fault])
    return answer_as(predictor, Observation(
        "load", part, condition=predictor.bench.conditions[condition].name), truth)


def search(predictor: Predictor, first: list[Observation], answer: Answer
           ) -> tuple[Weights, Verdict, int]:
    """Take the best step until the likeliest class is sure enough; return the steps too."""
    case = Case(observations=tuple(first))
    weights = weigh(predictor, case)
    steps = 0
    while True:
        verdict = judge(weights)
        actions = [] if enough(weights, verdict) else next_actions(weights, case)
        if not actions or steps == MOST_STEPS:
            break
        steps += 1
        seen = answer(actions[0].observation)
        case = replace(case, observations=(*case.observations, seen))
        weights.add(seen)
        consider_pairs(weights)
    return weights, verdict, steps


def found(verdict: Verdict, truth: Candidate) -> bool:
    return any(set(truth) == set(verdict.causes[i].candidate) for i in verdict.classes[0])


def test_exact_readings_lead_to_the_cause(predictor: Predictor) -> None:
    right, steps, bits, sizes = 0, [], [], []
    for k, fault in enumerate(drawn(predictor, 24)):
        first = complaint(predictor, fault, (fault,), k)
        weights, verdict, taken = search(predictor, [first], lambda seen, f=fault: answer_as(
            predictor, seen, (f,)))
        right += found(verdict, (fault,))
        steps.append(taken)
        bits.append(math.log2(max(2, int((weights.table[0] >= 0.2).sum()))))
        sizes.append(len(verdict.classes[0]))
    assert right >= 23
    assert statistics.mean(steps) <= 0.9 * statistics.mean(bits)
    assert statistics.mean(sizes) <= 5


def test_noise_and_a_mistake_are_borne(predictor: Predictor) -> None:
    """Readings off by 5 %; one reading in one case of four is quite wrong."""
    right = 0
    for k, fault in enumerate(drawn(predictor, 10, SEED + 1)):
        rng = random.Random(k)
        wrong = k // 4 if k % 4 == 0 else -1
        count = iter(range(100))

        def answer(seen: Observation, f: int = fault, rng: random.Random = rng, wrong: int = wrong,
                   count: object = count) -> Observation:
            shown = answer_as(predictor, seen, (f,))
            if next(count) == wrong:  # type: ignore[call-overload]
                shown = answer_as(predictor, seen, ())
            if shown.kind in ("volts", "ohms") and math.isfinite(shown.value):
                shown = replace(shown, value=shown.value * rng.gauss(1.0, 0.05))
            return shown

        _, verdict, _ = search(predictor, [complaint(predictor, fault, (fault,), k)], answer)
        right += found(verdict, (fault,))
    assert right >= 8


def test_the_same_case_gives_the_same_steps(predictor: Predictor) -> None:
    fault = drawn(predictor, 1)[0]
    case = Case(observations=(complaint(predictor, fault, (fault,), 0),))
    once = next_actions(weigh(predictor, case), case)
    predictor.tables.clear()
    again = next_actions(weigh(predictor, case), case)
    assert [a.observation for a in again[:3]] == [a.observation for a in once[:3]]
    assert again[0].score == pytest.approx(once[0].score, rel=1e-3)


def test_refusing_gives_the_next_best(predictor: Predictor) -> None:
    from harnessdsl.faults.case import Refusal

    fault = drawn(predictor, 1)[0]
    case = Case(observations=(complaint(predictor, fault, (fault,), 0),))
    actions = next_actions(weigh(predictor, case), case)
    best = next(a for a in actions if a.observation.kind == "volts")
    part = best.observation.subject.partition(".")[0]
    refused = replace(case, refusals=(Refusal(part),))
    rest = next_actions(weigh(predictor, refused), refused)
    assert rest
    assert not any(a.observation.subject.partition(".")[0] == part for a in rest
                   if a.observation.kind in ("volts", "ohms", "fuse", "swap"))
    kept = [a for a in actions if a.observation.subject.partition(".")[0] != part]
    assert rest[0].score >= 0.9 * kept[0].score


def test_memory_is_bounded(predictor: Predictor) -> None:
    """Every fault in several conditions asked for: what is kept stays within its limits."""
    from harnessdsl.faults.predictions import State

    everything: list[Candidate] = [(i,) for i in range(len(predictor.bench.faults))]
    for condition in predictor.bench.conditions[:5]:
        for first in range(0, len(everything), 1000):
            predictor.nodes(State(condition.name), everything[first:first + 1000])
        tables = predictor.tables.values()
        newest = max(t.size for t in tables)
        assert sum(t.size for t in tables) <= MOST_BYTES + newest
        assert sum(len(t.answers) for t in tables) <= MOST_ANSWERS + len(everything)


@pytest.mark.parametrize("ends", [("E1.56a", "M5.53a"), ("K3.85", "E7.55"), ("E7.55", "M2.+")])
def test_a_fault_that_no_list_has_is_not_named_with_certainty(predictor: Predictor,
                                                              ends: tuple[str, str]) -> None:
    """A poor bridge between two circuits that have nothing to do with each other: the search may
    doubt, speak of two faults, or of the diagram; it may not be sure of one wrong cause that
    explains everything."""
    vehicle = predictor.bench.vehicle
    assert set(ends) <= set(predictor.node_index), ends
    odd = Fault("odd", "odd", "a bridge", added=(
        Element("odd-bridge", ends[0], ends[1], Resistance(1.5), "chafe"),))
    car = Predictor(run_sweep(Bench.of(vehicle, faults=[odd])))
    assert car.symptoms[0]
    condition, part = car.symptoms[0][0]
    first = answer_as(car, Observation("load", part, condition=car.bench.conditions[
        condition].name), (0,))
    weights, verdict, _ = search(predictor, [first], lambda seen: answer_as(car, seen, (0,)))
    top = verdict.causes[verdict.classes[0][0]]
    sure_of_one = enough(weights, verdict) and len(top.candidate) == 1 and not top.fails
    assert verdict.contradictions or verdict.pairs or not sure_of_one, top.words


def test_contradictory_readings_are_pointed_out(predictor: Predictor) -> None:
    """The battery reads two voltages at once: no cause explains both."""
    seen = (Observation("load", "M2", "dead", condition="hot-idle"),
            Observation("volts", "G1.+", value=3.0, condition="hot-idle", sure=0.998),
            Observation("volts", "G1.+", value=13.6, condition="hot-idle", sure=0.998))
    verdict = judge(weigh(predictor, Case(observations=seen)))
    assert set(verdict.contradictions) & {1, 2}
