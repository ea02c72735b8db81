"""The formatter keeps meaning and comments, and its second pass changes nothing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from harnessdsl.cli.main import main
from harnessdsl.language.formatter import comments_of, format_text, same_meaning
from harnessdsl.language.parser import parse_text
from harnessdsl.text import SourceFile

ROOT = Path(__file__).parent.parent
FILES = sorted([*ROOT.glob("examples/**/*.harness"), *ROOT.glob("harnessdsl/kinds/*.harness")])
REFERENCE = re.findall(r"```harness\n(.*?)```", (ROOT / "docs/language.md").read_text(), re.DOTALL)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_examples_and_kinds_keep_their_meaning(path: Path):
    text = path.read_text(encoding="utf-8")
    tidy = format_text(text)
    assert same_meaning(text, tidy)
    assert format_text(tidy) == tidy


def test_reference_keeps_its_meaning():
    for text in REFERENCE:
        tidy = format_text(text)
        assert same_meaning(text, tidy)
        assert format_text(tidy) == tidy


def test_columns_of_a_group_are_aligned_and_comments_survive():
    text = ('wire A.1->B.2 4 mm2   RD  # first\nwire LONGER.1 -> B.2   0.75 mm2 RD/YE # second\n'
            '\n\n\n# alone\nrelay K1 "x"   in box {\n note "n" # inside\n}\n')
    assert format_text(text) == (
        'wire A.1 -> B.2      4 mm2    RD     # first\n'
        'wire LONGER.1 -> B.2 0.75 mm2 RD/YE  # second\n'
        '\n# alone\nrelay K1 "x" in box {\n    note "n"  # inside\n}\n')


WORDS = st.sampled_from(["wire", "relay", "K1", "K1.30", "F7.2", "RD/YE", "in", "box", "traced",
                         "87a", "+", "G1.+", "3 A", "4 mm2", "1.5 m", "1..8", "2026-03-14",
                         '"a # b"', '"say \\"x\\""', "->", "=", ","])
COMMENTS = st.sampled_from(["", "", "", "# note", "# a \"quoted\" { brace", "#tight"])


@st.composite
def fact_lines(draw, depth=0):
    """A few lines of facts, some with blocks, comments, odd spacing and blank lines."""
    lines = []
    for _ in range(draw(st.integers(1, 4))):
        gap = draw(st.sampled_from([" ", "  ", "\t", "   "]))
        words = ["head", *draw(st.lists(WORDS, max_size=7))]
        line = draw(st.sampled_from(["", "  ", "\t"])) + gap.join(words)
        comment = draw(COMMENTS)
        if depth < 2 and draw(st.integers(0, 4)) == 0:
            inner = draw(fact_lines(depth=depth + 1))
            if draw(st.booleans()) and all("#" not in part.replace('"a # b"', "")
                                           for part in inner) and len(inner) == 1:
                lines.append(f"{line} {{ {inner[0].strip()} }}{gap}{comment}".rstrip())
            else:
                lines += [f"{line}{gap}{{ {comment}", *inner, "}"]
        else:
            lines.append(f"{line}{gap}{comment}")
        if draw(st.integers(0, 5)) == 0:
            lines += [""] * draw(st.integers(1, 3))
    return lines


@settings(max_examples=10_000, deadline=None, derandomize=True)
@given(fact_lines())
def test_generated_files_keep_meaning_and_settle_in_one_pass(lines: list[str]):
    text = "\n".join(lines)
    if parse_text(SourceFile("t", text))[1]:
        return
    tidy = format_text(text)
    assert same_meaning(text, tidy), (text, tidy)
    assert format_text(tidy) == tidy, (text, tidy)
    assert comments_of(text) == comments_of(tidy)


def test_file_with_a_mistake_is_left_alone(tmp_path: Path):
    path = tmp_path / "a.harness"
    path.write_text("lamp   L1 }\n")
    result = CliRunner().invoke(main, ["tidy", str(path)])
    assert result.exit_code == 1
    assert path.read_text() == "lamp   L1 }\n"


def test_changed_meaning_is_noticed():
    assert not same_meaning("lamp L1 21 W\n", "lamp L1 5 W\n")
    assert not same_meaning("lamp L1 # a\n", "lamp L1 # b\n")
