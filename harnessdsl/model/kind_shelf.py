"""The shipped kinds, found by name; only those that a vehicle uses are parsed."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic
from harnessdsl.language.facts import Fact
from harnessdsl.language.parser import parse_text
from harnessdsl.resources import data_folder
from harnessdsl.text import SourceFile

_KIND_LINE = re.compile(r"^kind[ \t]+(\S+)", re.MULTILINE)


class KindShelf:
    """Shipped kinds as stretches of text: kind name -> the file, first line and text of it."""

    def __init__(self, folder: Path) -> None:
        self.sources: dict[str, SourceFile] = {}
        self._stretches: dict[str, tuple[str, int, str]] = {}
        self.diagnostics: list[Diagnostic] = []
        for path in sorted(folder.glob("*.harness")):
            shown = f"kinds/{path.name}"
            text = path.read_text(encoding="utf-8")
            self.sources[shown] = SourceFile(shown, text)
            matches = list(_KIND_LINE.finditer(text))
            for match, following in zip(matches, [*matches[1:], None], strict=True):
                stop = following.start() if following else len(text)
                line = text.count("\n", 0, match.start())
                self._stretches[match[1]] = (shown, line, text[match.start() : stop])

    def names(self) -> list[str]:
        return sorted(self._stretches)

    def fact(self, name: str) -> Fact | None:
        """Return the fact that defines a kind, or None when none is shipped by that name."""
        found = self._stretches.get(name)
        if found is None:
            return None
        shown, line, text = found
        facts, diagnostics = parse_text(SourceFile(shown, text), line_offset=line)
        self.diagnostics += diagnostics
        return facts[0] if facts else None


@lru_cache(maxsize=1)
def shipped_kinds() -> KindShelf:
    """Return the kinds of this installation."""
    return KindShelf(data_folder("kinds"))
