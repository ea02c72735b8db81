"""Faults that are there only when it is hot, or only when it moves: supposed, seen, found."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from harnessdsl.cli.main import main
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case import Case, Complaint, Observation
from harnessdsl.faults.circumstances import fits_when
from harnessdsl.faults.next_measurement import answer_as, next_actions
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.ranking import enough, judge, weigh
from harnessdsl.faults.refusals import possible
from harnessdsl.faults.step_text import cause_lines
from harnessdsl.faults.suppose import by_deed, only_when, outcomes_of
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.model.vehicle import Condition
from harnessdsl.pipeline import load

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "examples" / "tourer" / "tourer.harness"
FAN = ROOT / "examples" / "radiator-fan.harness"


@pytest.fixture(scope="module")
def predictor() -> Predictor:
    return Predictor(run_sweep(Bench.of(load(DEMO).vehicle)))


@pytest.mark.parametrize(("condition", "hot", "moving"), [
    (Condition("a"), False, False),
    (Condition("b", temperatures_c={"engine": 95.0}), True, False),
    (Condition("c", temperatures_c={"engine": 40.0}), False, False),
    (Condition("d", temperatures_c={"ambient": 90.0}), False, False),
    (Condition("e", moving=True), False, True),
])
def test_which_conditions_are_hot_or_moving(condition: Condition, hot: bool, moving: bool) -> None:
    assert fits_when(condition, "hot") == hot
    assert fits_when(condition, "moving") == moving
    assert fits_when(condition, "")


def test_a_supposed_fault_is_there_only_then(predictor: Predictor) -> None:
    bench = predictor.bench
    found = outcomes_of(bench, only_when(by_deed(bench, "open", "K3"), "hot"))
    for one in found:
        hot = fits_when(bench.conditions[one.number], "hot")
        assert one.there == hot
        if not hot:
            assert not one.effect.states
    assert any(one.effect.states for one in found)


def test_a_condition_says_that_it_moves(tmp_path: Path) -> None:
    text = FAN.read_text(encoding="utf-8") + (
        '\ncondition road "On the road" { S1 = run; engine 100 C; moving }\n'
        'condition stand "At the lights" { S1 = run; engine 100 C }\n')
    path = tmp_path / "car.harness"
    path.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(main, ["suppose", str(path), "--open", "K2", "--only", "moving"])
    assert result.exit_code == 0, result.output
    assert "road: On the road" in result.output
    assert "the fault is not there: stand" in result.output


def search(predictor: Predictor, number: int, when: str, first: Observation) -> tuple[bool, Case]:
    """Look for a fault that is there only `when`; return whether it is in the class at the end."""
    conditions = predictor.bench.vehicle.conditions

    def shown(seen: Observation) -> Observation:
        there = not seen.condition or fits_when(conditions.get(seen.condition), when)
        return answer_as(predictor, seen, (number,) if there else ())

    case = Case("x", complaints=(Complaint("x", when),), observations=(shown(first),))
    for _ in range(14):
        weights = weigh(predictor, case)
        verdict = judge(weights)
        actions = possible(case, weights, next_actions(weights, case))
        if enough(weights, verdict) or not actions:
            break
        case = replace(case, observations=(*case.observations, shown(actions[0].observation)))
    weights = weigh(predictor, case)
    verdict = judge(weights)
    return any(number in verdict.causes[i].candidate for i in verdict.classes[0]), case


def test_faults_that_are_there_only_when_hot_are_found(predictor: Predictor) -> None:
    """8 faults drawn by likelihood among those that show in a hot condition: with what is seen in
    the cold as it is in the sound car, most are found."""
    bench = predictor.bench
    hot = [i for i, c in enumerate(bench.conditions) if fits_when(c, "hot")]
    rng = random.Random(5)
    felt = []
    for number, row in enumerate(predictor.sweep.found):
        seen = [(c, load) for c in hot for load, state in row[c].states.items()
                if state == 0 and not predictor.sweep.blown[number]]
        if seen:
            felt.append((number, seen[0]))
    chosen = rng.choices(felt, [bench.faults[n].likelihood for n, _ in felt], k=8)
    right = 0
    for number, (condition, load_number) in chosen:
        part = bench.assembled.circuit.elements[bench.ports.loads[load_number]].part
        first = Observation("load", part, condition=bench.conditions[condition].name)
        good, _ = search(predictor, number, "hot", first)
        right += good
    assert right >= 7, right


def test_the_reason_says_when_it_is_there(predictor: Predictor) -> None:
    number = next(i for i, f in enumerate(predictor.bench.faults)
                  if f.id == "plug-open:X10:1")
    good, case = search(predictor, number, "hot", Observation("load", "M2", condition="hot-idle"))
    assert good
    cold = Observation("relay", "K3", "silent", condition="idling")
    weights = weigh(predictor, replace(case, observations=(*case.observations, cold)))
    assert weights.bound_share() > 0.3
    text = "\n".join(cause_lines(weights, judge(weights)))
    assert "X10" in text.split("\n")[0]
    assert "only when hot" in text.split("\n")[0]
