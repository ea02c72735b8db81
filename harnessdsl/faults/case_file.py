"""A case file that grows by one line an answer: what stands in it already stays as it was written,
comments too. Every change is on the disk, whole, before it counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from harnessdsl.faults.case import Case
from harnessdsl.faults.case_text import case_text
from harnessdsl.files import replace_file
from harnessdsl.language.parser import parse_text
from harnessdsl.text import SourceFile

ANSWERS = ("saw", "read", "swapped", "wiggled", "refused", "changed", "likelihood", "found", "note",
           "complaint", "case")
"""Facts that the dialogue can take back, by their first word."""


@dataclass(slots=True)
class CaseFile:
    """The text of a case and where it is kept."""

    path: Path
    text: str = ""

    def add(self, lines: list[str]) -> None:
        """Write lines at the end, a `case` line at the beginning. Raises OSError."""
        text = self.text
        end = "\r\n" if "\r\n" in text else "\n"
        for line in lines:
            if line.startswith("case "):
                text = line + end + text
                continue
            if text and not text.endswith("\n"):
                text += end
            text += line + end
        self._keep(text)

    def take_back(self) -> str:
        """Remove the last line that holds an answer and return it, '' when there is none. Raises
        OSError."""
        facts, _ = parse_text(SourceFile(str(self.path), self.text))
        found = [fact for fact in facts if fact.word in ANSWERS and fact.end_line == fact.span.line]
        if not found:
            return ""
        number = max(fact.span.line for fact in found)
        lines = self.text.split("\n")
        gone = lines.pop(number - 1)
        self._keep("\n".join(lines))
        return gone.strip()

    def _keep(self, text: str) -> None:
        save_text(text, self.path)
        self.text = text


def save_case(case: Case, path: Path) -> None:
    """Write a whole case. Raises OSError."""
    save_text(case_text(case), path)


def save_text(text: str, path: Path) -> None:
    """Write a file whole or not at all. Raises OSError."""
    replace_file(path, text.encode("utf-8", "replace"))
