"""The page on fault finding is true: its cases are read, its commands run, what it prints is what
the program prints."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from fault_docs import DEMO, DOCS, FOUND, made, search_case, written

from harnessdsl.cli.commands.suppose import _DEEDS
from harnessdsl.cli.main import main
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case_reader import HEADS, read_case_text
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.refusal_words import WAY_WORDS
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.pipeline import load

TEXT = DOCS.read_text(encoding="utf-8")
CASES = re.findall(r"```case\n(.*?)```", TEXT, re.DOTALL)
COMMANDS = re.findall(r"^    (harnessdsl .*)$", TEXT, re.MULTILINE)


@pytest.fixture(scope="module")
def predictor() -> Predictor:
    return Predictor(run_sweep(Bench.of(load(DEMO).vehicle)))


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with car.harness (the demo vehicle) and the cases of the page."""
    folder = tmp_path_factory.mktemp("garage")
    for file in DEMO.parent.glob("*.harness"):
        shutil.copy(file, folder / file.name)
    shutil.copy(DEMO, folder / "car.harness")
    (folder / "fan.case").write_text(CASES[0], encoding="utf-8")
    (folder / "search.case").write_text(search_case(TEXT), encoding="utf-8")
    (folder / "found.case").write_text(search_case(TEXT) + FOUND, encoding="utf-8")
    return folder


def test_what_is_printed_is_what_the_program_prints(predictor: Predictor, tmp_path: Path) -> None:
    """`python tests/fault_docs.py` (part of `make docs`) writes it again."""
    assert written(TEXT, made(TEXT, predictor, tmp_path)) == TEXT


@pytest.mark.parametrize("text", CASES)
def test_cases_are_read(text: str, predictor: Predictor) -> None:
    _, messages, _ = read_case_text(text, predictor.bench.vehicle)
    assert not messages, [m.message for m in messages]


@pytest.mark.parametrize("line", COMMANDS)
def test_commands_run(line: str, garage: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(garage)
    result = CliRunner().invoke(main, shlex.split(line)[1:], input="quit\n")
    assert result.exit_code == 0, result.output
    assert result.output.strip()


def test_likelihood_lines_are_read(tmp_path: Path) -> None:
    lines = re.findall(r"^    (likelihood .*)$", TEXT, re.MULTILINE)
    assert len(lines) >= 3
    for file in DEMO.parent.glob("*.harness"):
        shutil.copy(file, tmp_path / file.name)
    car = tmp_path / DEMO.name
    places = load(car).vehicle.places
    body = "\n".join(lines)
    if "left-wing" not in places:
        body = body.replace("left-wing", next(iter(places)))
    car.write_text(car.read_text(encoding="utf-8") + "\n" + body + "\n", encoding="utf-8")
    result = load(car)
    assert not result.broken, [d.message for d in result.diagnostics]
    assert len(result.vehicle.likelihoods) >= 3


def test_the_page_names_every_word() -> None:
    for word in (*HEADS, *(f"--{deed}" for deed in _DEEDS), *WAY_WORDS):
        assert word in TEXT, word
