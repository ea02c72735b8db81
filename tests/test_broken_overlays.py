"""What is wrong in an overlay is said clearly, at its line, and nothing is drawn or written.

Each file in tests/broken-overlays/ but base.harness has one mistake; its first line names the line
of it and words that the message must hold. No source outside the project: common practice.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from harnessdsl.cli.main import main

FOLDER = Path(__file__).with_name("broken-overlays")
BASE = FOLDER / "base.harness"
FILES = [path for path in sorted(FOLDER.glob("*.harness")) if path != BASE]


def run(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, list(words))
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.output


def expectation(path: Path) -> tuple[int, list[str]]:
    first = path.read_text(encoding="utf-8").split("\n", 1)[0]
    match = re.fullmatch(r"# expect (\d+): (.+)", first)
    assert match is not None, f"{path.name} does not say what is expected"
    return int(match[1]), match[2].split(" | ")


def test_there_are_enough_broken_overlays() -> None:
    assert len(FILES) >= 30


def test_their_base_is_sound() -> None:
    code, output = run("check", str(BASE), "--fail-on", "error")
    assert code == 0, output


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_mistake_is_reported_where_it_is(path: Path) -> None:
    line, words = expectation(path)
    code, output = run("check", str(path), "--show", "warning")
    assert code == 1
    blocks = re.split(r"\n(?=\S)", output)
    at = re.escape(str(path)) + rf":{line}:(\d+): error\[[a-z-]+\]: "
    found = [block for block in blocks if re.match(at, block)]
    assert len(found) == 1, output
    assert [word for word in words if word not in found[0]] == [], found[0]
    _, shown, caret, *rest = found[0].splitlines()
    assert re.match(rf" *{line} \| ", shown)
    assert re.fullmatch(r" +\| *\^+", caret)
    assert any(text.startswith("  help: ") and len(text) > 12 for text in rest), "no remedy"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_one_mistake_brings_one_message(path: Path) -> None:
    _, output = run("check", str(path), "--show", "error")
    errors = [line for line in output.splitlines() if re.search(r": error\[", line)]
    assert len(errors) == 1, output


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_nothing_is_written(path: Path, tmp_path: Path) -> None:
    shutil.copytree(FOLDER, tmp_path / "files")
    before = sorted(tmp_path.rglob("*"))
    file = str(tmp_path / "files" / path.name)
    for words in (["draw", file, "--out", str(tmp_path / "sheets")],
                  ["compare", file, "--draw", str(tmp_path / "sheets")],
                  ["compare", str(tmp_path / "files" / "base.harness"), file,
                   "--write-overlay", str(tmp_path / "files" / "written.harness")],
                  ["plan", file, "--draw", str(tmp_path / "sheets")]):
        code, output = run(*words)
        assert code in (1, 2), output
    assert sorted(tmp_path.rglob("*")) == before
