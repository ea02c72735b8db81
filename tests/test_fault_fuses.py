"""A blown fuse and what blew it: told apart by a sound fuse, and told at the end."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case import Case, Observation
from harnessdsl.faults.last_question import last_question
from harnessdsl.faults.made_conditions import with_conditions
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.ranking import judge, weigh
from harnessdsl.faults.step_text import action_lines, cause_lines
from harnessdsl.faults.story import story_lines
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.pipeline import load

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"
DEMO = EXAMPLES / "tourer" / "tourer.harness"
FAN = EXAMPLES / "radiator-fan.harness"
SEEN = Case("Fan silent", observations=(
    Observation("load", "M2", "dead", condition="hot-idle"),
    Observation("volts", "K3.30", value=0.0, condition="hot-idle"),
    Observation("volts", "F5.1", value=13.9, condition="hot-idle")))


@pytest.fixture(scope="module")
def predictor() -> Predictor:
    return Predictor(run_sweep(Bench.of(load(DEMO).vehicle)))


def test_a_sound_fuse_is_proposed_and_tells(predictor: Predictor) -> None:
    weights = weigh(predictor, SEEN)
    verdict = judge(weights)
    step = last_question(weights, verdict, SEEN)
    assert step is not None and step.observation.subject == "F5"
    text = "\n".join(action_lines(weights, verdict, step))
    assert "never a larger one" in text and "blown: M2 Radiator fan: seized" in text
    assert "until a sound F5 is put in" in "\n".join(cause_lines(weights, verdict))
    after = replace(SEEN, observations=(*SEEN.observations,
                                        replace(step.observation, says="blown")))
    weights = weigh(predictor, after)
    top = judge(weights).causes[0]
    assert predictor.blown(top.candidate)
    whole = weigh(predictor, replace(SEEN, observations=(
        *SEEN.observations, replace(step.observation, says="whole"))))
    assert not predictor.blown(judge(whole).causes[0].candidate)


def test_no_fuse_no_question(predictor: Predictor) -> None:
    case = Case("x", observations=(Observation("load", "M2", "slow", condition="hot-idle"),))
    weights = weigh(predictor, case)
    assert last_question(weights, judge(weights), case) is None


@pytest.mark.parametrize(("found", "says"), [
    (("motor-seized:M2:M2:motor:+--",), "Why the fuse blew: this blew F5."),
    (("fuse-blown:F5",), "Why did F5 blow?"),
    (("fuse-blown:F5",), "M2 Radiator fan: seized"),
    (("plug-open:X9:1", "coil-open:K8:K8:coil:86-85"), "and K8 Horn relay: coil open."),
    (("a chewed cable",), "It was: a chewed cable."),
])
def test_the_story_says_why_the_fuse_blew(found: tuple[str, ...], says: str, predictor: Predictor
                                          ) -> None:
    case = replace(SEEN, found=found)
    weights = weigh(predictor, case)
    text = "\n".join(story_lines(weights, judge(weights), case))
    assert says in text


def test_the_story_follows_the_order_of_the_case(predictor: Predictor) -> None:
    """A fuse looked at last is told last, though it is weighed first."""
    case = replace(SEEN, observations=(*SEEN.observations, Observation("fuse", "F5", "blown")))
    weights = weigh(predictor, case)
    text = "\n".join(story_lines(weights, judge(weights), case))
    steps = text.partition("What each step told:")[2]
    assert steps.index("1. M2") < steps.index("2. 0.0 V at K3.30") < steps.index("4. F5")
    assert "speaks against" in steps


def test_a_relay_that_does_not_switch_is_listened_to() -> None:
    """Its coil has full voltage and nothing comes out: coil or contact, which its click tells."""
    fan = Predictor(run_sweep(Bench.of(with_conditions(load(FAN).vehicle))))
    case = Case("x", observations=(
        Observation("load", "M3", "dead", condition="engine-warm"),
        Observation("volts", "K2.30", value=12.6, condition="engine-warm"),
        Observation("volts", "K2.86", value=12.6, condition="engine-warm"),
        Observation("volts", "K2.85", value=0.0, condition="engine-warm"),
        Observation("volts", "K2.87", value=0.0, condition="engine-warm")))
    weights = weigh(fan, case)
    verdict = judge(weights)
    group = [fan.bench.faults[verdict.causes[i].candidate[0]] for i in verdict.classes[0]]
    assert {"contact-open", "coil-open"} <= {fault.mode for fault in group}
    step = last_question(weights, verdict, case)
    assert step is not None
    assert (step.observation.kind, step.observation.subject) == ("relay", "K2")
    assert "click of K2" in "\n".join(cause_lines(weights, verdict))
    for word, mode in (("silent", "coil-open"), ("clicks", "contact-open")):
        after = replace(case, observations=(*case.observations,
                                            replace(step.observation, says=word)))
        top = judge(weigh(fan, after)).causes[0]
        assert fan.bench.faults[top.candidate[0]].mode == mode
