"""Case files, ranking and the next step, on the demo vehicle."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from workshop_cases import WORKSHOP_CASES

from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case import Case, Observation, Refusal
from harnessdsl.faults.case_file import save_case
from harnessdsl.faults.case_reader import read_case_text
from harnessdsl.faults.case_text import case_text
from harnessdsl.faults.next_measurement import answer_as, next_actions
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.ranking import enough, judge, weigh
from harnessdsl.faults.step_text import action_lines, cause_lines
from harnessdsl.faults.story import story_lines
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import load
from harnessdsl.text import NOWHERE

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "examples" / "tourer" / "tourer.harness"
DOCS = ROOT / "docs" / "fault-finding.md"


@pytest.fixture(scope="module")
def predictor() -> Predictor:
    return Predictor(run_sweep(Bench.of(load(DEMO).vehicle)))


@pytest.fixture(scope="module")
def vehicle(predictor: Predictor) -> Vehicle:
    return predictor.bench.vehicle


def read(text: str, vehicle: Vehicle) -> Case:
    case, messages, _ = read_case_text(text, vehicle)
    assert not messages, [m.message for m in messages]
    return case


def bare(case: Case) -> Case:
    return replace(case, observations=tuple(replace(o, span=NOWHERE) for o in case.observations))


def test_sweep_answers_every_fault(predictor: Predictor) -> None:
    sweep = predictor.sweep
    assert len(sweep.bench.faults) > 3000
    assert sweep.failures == []


@pytest.mark.parametrize("title, text, causes", WORKSHOP_CASES, ids=[c[0] for c in WORKSHOP_CASES])
def test_workshop_case(predictor: Predictor, vehicle: Vehicle, title: str, text: str,
                       causes: list[tuple[str, str]]) -> None:
    """The expected cause is among the first three (how such cases are told: common practice)."""
    verdict = judge(weigh(predictor, read(text, vehicle)))
    faults = predictor.bench.faults
    first = [(faults[i].mode, faults[i].subject) for c in verdict.causes[:3] for i in c.candidate]
    assert set(first) & set(causes), (title, first)


def test_cases_survive_writing(vehicle: Vehicle) -> None:
    texts = [text for _, text, _ in WORKSHOP_CASES]
    texts += re.findall(r"```case\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.S)
    assert len(texts) >= 28
    for text in texts:
        case = read(text, vehicle)
        assert bare(read(case_text(case), vehicle)) == bare(case)


def test_documented_cases_are_ranked(predictor: Predictor, vehicle: Vehicle) -> None:
    text = re.search(r"```case\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.S)
    assert text is not None
    case = read(text[1], vehicle)
    weights = weigh(predictor, case)
    verdict = judge(weights)
    assert "S9 Fan switch" in verdict.causes[0].words
    lines = "\n".join(cause_lines(weights, verdict))
    assert "explains M2 Radiator fan: dead" in lines
    assert "the same until opened" in lines
    assert any("speaks against" in line for line in story_lines(weights, verdict, case))


@pytest.mark.parametrize("text, words", [
    ("saw M99 dead in parked", "no part 'M99'"),
    ("saw M2 ded in parked", "what does 'M2' do?"),
    ("saw M2 dead", "in which condition?"),
    ("saw M2 dead in hotidle", "no condition 'hotidle'"),
    ("read 12 V at K3.31 in parked", "no terminal '31'"),
    ("read 12 V at X9.7 in parked", "no cavity '7'"),
    ("read 12 at K3.30 in parked", "what did the instrument show?"),
    ("saw X9 dead in parked", "neither lights"),
    ("swapped K3 K4 in parked", "did it help?"),
    ("see M2 dead", "nothing that a case file says"),
    ("open nowhere", "no place"),
])
def test_mistakes_in_a_case_are_told(vehicle: Vehicle, text: str, words: str) -> None:
    _, messages, _ = read_case_text(text + "\n", vehicle)
    assert len(messages) == 1
    assert words in messages[0].message
    assert messages[0].span.line == 1 and messages[0].span.column > 0
    assert messages[0].hint


def search(predictor: Predictor, fault: int, case: Case, most: int = 20) -> tuple[list[int], int]:
    """Answer every proposed step as a car with `fault` would; return the final class and steps."""
    weights = weigh(predictor, case)
    steps = 0
    while True:
        verdict = judge(weights)
        if enough(weights, verdict):
            break
        actions = next_actions(weights, case)
        if not actions or steps == most:
            break
        seen = answer_as(predictor, actions[0].observation, (fault,))
        case = replace(case, observations=(*case.observations, seen))
        weights.add(seen)
        steps += 1
    return [i for k in verdict.classes[0] for i in verdict.causes[k].candidate], steps


@pytest.mark.parametrize("fault_id", [
    "plug-open:X10:2", "wire-open:X41.21-M11.15", "filament-open:E15:E15:filament:1-2",
    "earth-lifted:EP11:EP11"])
def test_search_finds_the_fault(predictor: Predictor, fault_id: str) -> None:
    bench = predictor.bench
    number = next(i for i, f in enumerate(bench.faults) if f.id == fault_id)
    condition, load = next((c, n) for c, effect in enumerate(predictor.sweep.found[number])
                           for n in effect.states)
    part = bench.assembled.circuit.elements[bench.ports.loads[load]].part
    first = answer_as(predictor, Observation(
        "load", part, condition=bench.conditions[condition].name), (number,))
    found, steps = search(predictor, number, Case(observations=(first,)))
    assert number in found
    assert steps <= 10


def test_refused_places_are_left_alone(predictor: Predictor, vehicle: Vehicle) -> None:
    case = read("saw M2 dead in hot-idle\nsaw K3 clicks in hot-idle\n", vehicle)
    weights = weigh(predictor, case)
    actions = next_actions(weights, case)
    at = {a.observation.subject.split(".")[0] for a in actions if a.observation.kind == "volts"}
    assert at & {"M2", "X9"}
    refused = replace(case, refusals=(Refusal("radiator", "hot"),))
    rest = next_actions(weights, refused)
    assert rest
    assert not {a.observation.subject.split(".")[0] for a in rest
                if a.observation.kind in ("volts", "ohms")} & {"M2", "X9", "X10", "S9"}


def test_step_says_where_how_and_what_is_dangerous(predictor: Predictor, vehicle: Vehicle) -> None:
    case = read("saw M2 dead in hot-idle\nsaw K3 clicks in hot-idle\n", vehicle)
    weights = weigh(predictor, case)
    verdict = judge(weights)
    action = next(a for a in next_actions(weights, case) if a.observation.kind == "volts"
                  and a.observation.subject.startswith("X9"))
    text = "\n".join(action_lines(weights, verdict, action))
    assert "plug X9 Fan plug, cavity" in text
    assert "Open the bonnet" in text
    assert "engine 96 C" in text
    assert "DC volts" in text
    assert "if all is well:" in text
    assert "fan may start by itself" in text


def test_two_faults_are_considered(predictor: Predictor, vehicle: Vehicle) -> None:
    """A burnt bulb in front and a dead horn have nothing in common."""
    text = ("saw E15 dead in braking-left\nsaw E19 works in braking-left\n"
            "saw H11 dead in horn\nsaw H12 works in horn\nsaw E17 works in braking-left\n")
    assert judge(weigh(predictor, read(text, vehicle))).pairs
    text = text.replace("H11 dead in horn", "H11 dead in horn sure")
    verdict = judge(weigh(predictor, read(text, vehicle)))
    faults = predictor.bench.faults
    pairs = [{faults[i].subject for i in c.candidate} for c in verdict.causes[:3] if not c.fails]
    assert {"E15", "H11"} in pairs


def test_a_reading_that_nothing_explains_accuses_the_diagram(predictor: Predictor,
                                                             vehicle: Vehicle) -> None:
    case = read("saw E15 dead in braking-left\nsaw E19 works in braking-left\n"
                "read 6 V at G1.+ against G1.- in parked sure\n"
                "read 12.6 V at J1 in parked sure\n", vehicle)
    weights = weigh(predictor, case)
    verdict = judge(weights)
    assert verdict.contradictions
    assert "diagram is wrong" in "\n".join(cause_lines(weights, verdict))


def test_saving_leaves_the_old_file_or_the_new_one(tmp_path: Path, vehicle: Vehicle,
                                                   monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "fan.case"
    old = read('case "old"\n', vehicle)
    save_case(old, path)

    def fail(*_: object) -> None:
        raise OSError("power gone")

    monkeypatch.setattr("os.replace", fail)
    with pytest.raises(OSError, match="power gone"):
        save_case(replace(old, title="new"), path)
    assert path.read_text(encoding="utf-8") == 'case "old"\n'
    assert list(tmp_path.iterdir()) == [path]
