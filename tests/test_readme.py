"""The README is true: its picture is what its example draws, its lines are in the example, its
commands and links exist."""

from __future__ import annotations

import re
from pathlib import Path

from click.testing import CliRunner

from harnessdsl.cli.main import main

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
EXAMPLE = ROOT / "examples" / "radiator-fan.harness"


def test_picture_is_what_the_example_draws(tmp_path: Path):
    result = CliRunner().invoke(main, ["draw", str(EXAMPLE), "--out", str(tmp_path)])
    assert result.exit_code == 0, result.output
    drawn = (tmp_path / "01-fan.svg").read_bytes()
    shown = (ROOT / "docs" / "pictures" / "radiator-fan.svg").read_bytes()
    assert drawn == shown, "draw it again: see test_readme.py"


def test_lines_shown_are_in_the_example():
    text = EXAMPLE.read_text(encoding="utf-8")
    block = re.findall(r"```\n(.*?)```", README, re.DOTALL)[0]
    for line in filter(None, block.splitlines()):
        assert line in text


def test_message_shown_is_what_check_prints(tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = EXAMPLE.read_text(encoding="utf-8").replace(
        "wire S1.15 -> F6.1         4 mm2    BK", "wire S1.15 -> F6.1         1 mm2    BK")
    Path("car.harness").write_text(text)
    result = CliRunner().invoke(main, ["check", "car.harness", "--show", "error"])
    assert result.exit_code == 1
    shown = re.findall(r"```\n(.*?)```", README, re.DOTALL)[1]
    printed = [re.sub(r"\d+", "#", line) for line in result.output.splitlines()]
    for line in shown.splitlines():
        assert re.sub(r"\d+", "#", line) in printed


def test_links_and_commands_exist():
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).exists(), target
    runner = CliRunner()
    for name in re.findall(r"\.venv/bin/harnessdsl (\w[\w-]*)", README):
        assert runner.invoke(main, [name, "--help"]).exit_code == 0, name
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    for target in re.findall(r"^    make (\w+)$", README, re.MULTILINE):
        assert re.search(rf"^{target}:", makefile, re.MULTILINE)
