"""The dialogue on the terminal: answers, back, refusals, and a power cut at any moment."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from harnessdsl.cli.dialogue import Dialogue
from harnessdsl.cli.main import main
from harnessdsl.faults.case import Case
from harnessdsl.faults.case_reader import read_case_text
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.sweep import Bench, run_sweep
from harnessdsl.pipeline import load

ROOT = Path(__file__).resolve().parent.parent
SMALL = ROOT / "examples" / "motorcycle.harness"


@pytest.fixture(scope="module")
def predictor() -> Predictor:
    return Predictor(run_sweep(Bench.of(load(SMALL).vehicle)))


class Person:
    """Answers in order, then stops the dialogue; keeps what was said."""

    def __init__(self, *answers: str) -> None:
        self.answers = list(answers)
        self.said: list[str] = []

    def ask(self, question: str) -> str:
        self.said.append(question)
        if not self.answers:
            raise EOFError
        return self.answers.pop(0)


def talk(predictor: Predictor, path: Path, *answers: str, case: Case | None = None) -> Person:
    person = Person(*answers)
    Dialogue(predictor, case or Case(), path, "2026-05-03", person.ask, person.said.append).run()
    return person


def saved(path: Path, predictor: Predictor) -> Case:
    case, messages, _ = read_case_text(path.read_text(encoding="utf-8"), predictor.bench.vehicle)
    assert not messages
    return case


def working_load(predictor: Predictor) -> tuple[str, str]:
    """A load and a condition in which it works."""
    bench = predictor.bench
    for number, condition in enumerate(bench.conditions):
        _, on = bench.healthy_loads(number)
        for load_number, works in enumerate(on):
            part = bench.assembled.circuit.elements[bench.ports.loads[load_number]].part
            if works and bench.vehicle.parts[part].family in ("motor", "lamp"):
                return part, condition.name
    raise AssertionError("nothing works in this example")


def test_every_answer_is_saved(predictor: Predictor, tmp_path: Path) -> None:
    path = tmp_path / "a.case"
    part, condition = working_load(predictor)
    person = talk(predictor, path, "The fan is silent", "hot", part, "dead", condition)
    case = saved(path, predictor)
    assert case.title == "The fan is silent"
    assert case.complaints[0].when == "hot"
    assert case.observations[0].subject == part and case.observations[0].says == "dead"
    assert any("if all is well" in line for line in person.said)
    assert "Stopped" in person.said[-1]


def test_answers_that_mean_nothing_are_asked_again(predictor: Predictor, tmp_path: Path) -> None:
    path = tmp_path / "b.case"
    part, condition = working_load(predictor)
    person = talk(predictor, path, "x", "always", "zzz", part, "ded", "dead", "nowhere", condition,
                  "purple", "?")
    assert len(saved(path, predictor).observations) == 1
    assert any("can't get there" in line for line in person.said)


def test_back_takes_the_last_answer_back(predictor: Predictor, tmp_path: Path) -> None:
    path = tmp_path / "c.case"
    part, condition = working_load(predictor)
    talk(predictor, path, "x", "always", part, "dead", condition)
    before = saved(path, predictor)
    person = talk(predictor, path, "saw", part, "works", condition, "back", case=before)
    assert saved(path, predictor).observations[-1].says == "dead"
    assert "Took the last answer back." in person.said


def test_a_refusal_brings_another_step(predictor: Predictor, tmp_path: Path) -> None:
    path = tmp_path / "d.case"
    part, condition = working_load(predictor)
    person = talk(predictor, path, "x", "always", part, "dead", condition, "no", "rusted solid")
    case = saved(path, predictor)
    assert case.refusals and case.refusals[0].reason == "rusted solid"
    steps = [line for line in person.said if line.startswith(("Measure", "Watch", "Look", "Listen",
                                                              "Fit", "Swap"))]
    assert len(steps) != 1 and (len(steps) < 2 or steps[0] != steps[1])


def test_the_end_tells_the_story(predictor: Predictor, tmp_path: Path) -> None:
    path = tmp_path / "e.case"
    part, condition = working_load(predictor)
    person = talk(predictor, path, "x", "always", part, "dead", condition, "found", "1")
    text = "\n".join(person.said)
    assert saved(path, predictor).found
    assert "What each step told:" in text
    assert "It was: " in text


def test_a_case_survives_kill_9_at_any_moment(tmp_path: Path) -> None:
    """A process that saves again and again is killed at random moments: what is on the disk is
    always one whole case."""
    path = tmp_path / "k.case"
    writer = (
        "import sys\n"
        "from pathlib import Path\n"
        "from harnessdsl.faults.case import Case\n"
        "from harnessdsl.faults.case_text import save_case\n"
        "n = 0\n"
        "print('ready', flush=True)\n"
        "while True:\n"
        "    n += 1\n"
        "    save_case(Case(title=f'case {n}', notes=tuple(f'{n} ' * 40 for _ in range(60))),\n"
        "              Path(sys.argv[1]))\n")
    rng = random.Random(7)
    for _ in range(12):
        process = subprocess.Popen([sys.executable, "-c", writer, str(path)], cwd=ROOT,
                                   stdout=subprocess.PIPE,
                                   env={**os.environ, "PYTHONPATH": str(ROOT)})
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(0.01 + rng.random() * 0.05)
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        if path.exists():
            text = path.read_text(encoding="utf-8")
            number = text.split("\n")[0].removeprefix('case "case ').removesuffix('"')
            assert text.count(f"note \"{f'{number} ' * 40}\"") == 60


def test_the_commands_run(predictor: Predictor, tmp_path: Path) -> None:
    runner = CliRunner()
    lamp, condition = working_load(predictor)
    result = runner.invoke(main, ["suppose", str(SMALL), "--open", lamp])
    assert result.exit_code == 0, result.output
    assert f"suppose: {lamp}" in result.output
    assert "dead:" in result.output
    assert runner.invoke(main, ["suppose", str(SMALL), "--open", "nothing"]).exit_code == 1
    assert runner.invoke(main, ["suppose", str(SMALL)]).exit_code == 2
    result = runner.invoke(main, ["symptoms", str(SMALL)])
    assert result.exit_code == 0, result.output
    assert "dead" in result.output and "%" in result.output
    case = tmp_path / "x.case"
    case.write_text(f'case "x"\nvehicle "{SMALL}"\nsaw {lamp} dead in {condition}\n',
                    encoding="utf-8")
    result = runner.invoke(main, ["diagnose", str(case)])
    assert result.exit_code == 0, result.output
    assert "1." in result.output
    case.write_text("saw nonsense\n", encoding="utf-8")
    result = runner.invoke(main, ["diagnose", str(case), "--vehicle", str(SMALL)])
    assert result.exit_code == 1
    assert "no part 'nonsense'" in result.output
