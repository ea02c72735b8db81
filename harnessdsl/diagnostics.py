"""Messages for a person in a garage: one record, one way to print it, one JSON form.

Stages return diagnostics; only the command line prints them.
"""

from __future__ import annotations

import difflib
import enum
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from harnessdsl.text import NOWHERE, SourceFile, Span


class Severity(enum.IntEnum):
    """How much it matters; higher is worse."""

    NOTE = 1
    WARNING = 2
    ERROR = 3

    @property
    def word(self) -> str:
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Related:
    """A second place that belongs to a message, such as `first defined here`."""

    message: str
    span: Span


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One message: where, which kind (`code`), how bad, what is wrong, what to write instead."""

    severity: Severity
    code: str
    message: str
    span: Span = NOWHERE
    hint: str | None = None
    related: tuple[Related, ...] = ()
    subject: str = ""
    """The name of the part, wire or place that it is about; `accept` matches it."""
    accepted: str | None = None
    """The reason, when the file accepts this finding."""

    def sort_key(self) -> tuple[Any, ...]:
        return (self.span, -self.severity, self.code, self.message)

    def accept(self, reason: str) -> Diagnostic:
        return replace(self, accepted=reason)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known name most like `word`, or None when none is near."""
    names = sorted(set(known))
    by_fold = {name.casefold(): name for name in names}
    if word.casefold() in by_fold:
        return by_fold[word.casefold()]
    cutoff = 0.5 if len(word) <= 3 else 0.6  # one letter is much of a short name
    close = difflib.get_close_matches(word.casefold(), list(by_fold), n=1, cutoff=cutoff)
    return by_fold[close[0]] if close else None


def did_you_mean(word: str, known: Iterable[str], otherwise: str | None = None) -> str | None:
    """Return a hint that names the nearest known name, else `otherwise`."""
    near = nearest(word, known)
    return f"did you mean '{near}'?" if near is not None else otherwise


def sorted_unique(diagnostics: Iterable[Diagnostic]) -> list[Diagnostic]:
    """Return the diagnostics in reading order, each once."""
    return sorted(dict.fromkeys(diagnostics), key=Diagnostic.sort_key)


MAX_LINE_SHOWN = 160


def _source_lines(span: Span, sources: Mapping[str, SourceFile]) -> list[str]:
    source = sources.get(span.path)
    if source is None or span.line < 1:
        return []
    raw = source.line(span.line)
    if not raw and span.column <= 1:
        return []
    start = max(0, span.column - 1)
    end = max(start + 1, span.end_column - 1)
    offset = 0
    if len(raw) > MAX_LINE_SHOWN:  # a very long line: show the neighbourhood of the fault
        offset = max(0, start - 40)
        raw = raw[offset : offset + MAX_LINE_SHOWN]
    # tabs count as four columns both in the line and under it, so that the caret fits
    lead = "".join(c if c != "\t" else "    " for c in raw[: start - offset])
    shown = "".join(c if c.isprintable() or c == "\t" else "?" for c in raw).replace("\t", "    ")
    width = max(1, min(end - start, len(shown) - len(lead)))
    number = f"{span.line:>5}"
    return [f"{number} | {shown}", f"{' ' * len(number)} | {' ' * len(lead)}{'^' * width}"]


def printable(text: str) -> str:
    """Return text without control characters, so that no file can steer the terminal."""
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def render(diagnostic: Diagnostic, sources: Mapping[str, SourceFile]) -> str:
    """Return the message as text: position, what is wrong, the line with a caret, what to do."""
    where = f"{diagnostic.span}: " if diagnostic.span.line else ""
    accepted = " (accepted)" if diagnostic.accepted is not None else ""
    head = f"{where}{diagnostic.severity.word}[{diagnostic.code}]{accepted}: {diagnostic.message}"
    lines = [head, *_source_lines(diagnostic.span, sources)]
    for related in diagnostic.related:
        lines.append(f"  {related.span}: {related.message}")
        lines.extend(_source_lines(related.span, sources))
    if diagnostic.accepted is not None:
        lines.append(f"  accepted because: {diagnostic.accepted}")
    elif diagnostic.hint:
        lines.append(f"  help: {diagnostic.hint}")
    return printable("\n".join(lines))


def to_json(diagnostic: Diagnostic) -> dict[str, Any]:
    """Return the message as plain data for other programs; the keys are stable."""

    def place(span: Span) -> dict[str, Any]:
        return {
            "file": span.path,
            "line": span.line,
            "column": span.column,
            "end_column": span.end_column,
        }

    return {
        "code": diagnostic.code,
        "severity": diagnostic.severity.word,
        "message": diagnostic.message,
        "subject": diagnostic.subject,
        "at": place(diagnostic.span),
        "hint": diagnostic.hint,
        "related": [{"message": r.message, "at": place(r.span)} for r in diagnostic.related],
        "accepted": diagnostic.accepted,
    }
