"""Makes the printed parts of docs/fault-finding.md from the program: run it to write them again.

    python tests/fault_docs.py
"""

from __future__ import annotations

import re
import sys
import textwrap
from pathlib import Path

from harnessdsl.cli.dialogue import Dialogue
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.case_file import CaseFile
from harnessdsl.faults.case_reader import read_case_text
from harnessdsl.faults.next_measurement import next_actions
from harnessdsl.faults.predictions import Predictor
from harnessdsl.faults.ranking import judge, weigh
from harnessdsl.faults.refusals import different, possible
from harnessdsl.faults.step_text import action_lines, cause_lines
from harnessdsl.faults.story import story_lines
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.model.failures import FAILURES
from harnessdsl.pipeline import load

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs" / "fault-finding.md"
DEMO = ROOT / "examples" / "tourer" / "tourer.harness"
WIDTH = 124
ANSWERS = ("The fan is silent in traffic", "always", "M2", "dead", "hot-idle", "no", "place")
FOUND = ("read 13.9 V at S9.1 in hot-idle 2026-05-03\n"
         "read 13.9 V at S9.2 in hot-idle 2026-05-03\nfound \"plug-open:X10:2\"\n")
_BLOCK = re.compile(
    r"(<!-- made by tests/fault_docs.py: (\w+) -->\n```text\n)(.*?)(```)", re.DOTALL)


def search_case(text: str) -> str:
    """Return the case of the worked example, as the page prints it."""
    return next(block for block in re.findall(r"```case\n(.*?)```", text, re.DOTALL)
                if "search" not in block and 'vehicle "car.harness"' in block)


def wrapped(lines: list[str]) -> str:
    """Return lines, long ones folded, as they stand on the page."""
    found: list[str] = []
    for line in (piece for text in lines for piece in text.split("\n")):
        indent = " " * (len(line) - len(line.lstrip()) + 4)
        found += textwrap.wrap(line, WIDTH, subsequent_indent=indent,
                               break_on_hyphens=False) or [""]
    return "\n".join(found).strip("\n") + "\n"


def dialogue(predictor: Predictor, folder: Path) -> str:
    """Return the first steps of a dialogue, questions and answers as on a terminal."""
    said: list[str] = []
    answers = list(ANSWERS)

    def ask(question: str) -> str:
        if not answers:
            raise EOFError
        said.append(f"{question} {answers[0]}")
        return answers.pop(0)

    path = folder / "fan.case"
    path.unlink(missing_ok=True)
    Dialogue(predictor, CaseFile(path, 'vehicle "car.harness"\n'), "2026-05-03", ask,
             said.append).run()
    return wrapped(said[:-1])


def made(text: str, predictor: Predictor, folder: Path) -> dict[str, str]:
    """Return every printed part by its name."""
    vehicle = predictor.bench.vehicle
    case, wrong, _ = read_case_text(search_case(text), vehicle)
    assert not wrong, wrong
    weights = weigh(predictor, case)
    verdict = judge(weights)
    action = different(possible(case, weights, next_actions(weights, case)))[0]
    diagnosis = [*cause_lines(weights, verdict), "", "Next:",
                 *action_lines(weights, verdict, action)]
    closed, wrong, _ = read_case_text(search_case(text) + FOUND, vehicle)
    assert not wrong, wrong
    ending = weigh(predictor, closed)
    return {"dialogue": dialogue(predictor, folder), "diagnose": wrapped(diagnosis),
            "story": wrapped(story_lines(ending, judge(ending), closed)),
            "failures": wrapped([f"{word:<22}{what}" for word, what in FAILURES.items()])}


def written(text: str, parts: dict[str, str]) -> str:
    """Return the page with its printed parts."""
    return _BLOCK.sub(lambda m: m[1] + parts[m[2]] + m[4], text)


def main() -> int:
    """Write the page again."""
    import tempfile

    predictor = Predictor(run_sweep(Bench.of(load(DEMO).vehicle)))
    text = DOCS.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        DOCS.write_text(written(text, made(text, predictor, Path(folder))), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
