"""Fuse charts: what sits in which slot and what it feeds, as a table; and a table as parts."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, did_you_mean
from harnessdsl.exchange.tables import Row, complain, read_table, write_csv
from harnessdsl.exchange.wire_list import quoted
from harnessdsl.model.feeds import Feeds
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.text import SourceFile

COLUMNS = ("box", "slot", "fuse", "kind", "rating_a", "label", "feeds", "marks", "note",
           "evidence", "date", "by", "source")
REQUIRED = ("box", "slot", "fuse", "rating_a")
DEFAULT_KIND = "blade-fuse"
MARKS = ("always-live", "retained", "spare")
"""Words on a fuse's own line that the chart carries."""


def export_fuses(vehicle: Vehicle) -> str:
    """Return every fuse, breaker and link as CSV, with the loads that it feeds."""
    feeds = Feeds(vehicle)
    rows = []
    for name in feeds.protections():
        part = vehicle.parts[name]
        rating = part.rating_a()
        evidence = part.evidence
        rows.append([
            part.place, part.slot, name, part.kind.name, "" if rating is None else f"{rating:g}",
            part.label, "; ".join(feeds.fed_by(name)),
            " ".join(mark for mark in MARKS if mark in part.flags), part.note,
            evidence.trust.word if evidence.stated else "", evidence.date, evidence.by,
            evidence.note])
    return write_csv(COLUMNS, rows)


def import_fuses(path: Path, names: Mapping[str, str], vehicle: Vehicle | None = None
                 ) -> tuple[list[str], SourceFile | None, list[Diagnostic]]:
    """Return a line for each fuse of a table. What it feeds is checked against the vehicle, not
    written: the wires say that."""
    table, problems = read_table(path, COLUMNS, REQUIRED, names)
    if table is None:
        return [], None, problems
    lines = []
    seen: dict[str, int] = {}
    for row in table.rows:
        before = len(problems)
        _check_row(table.source, row, vehicle, seen, problems)
        if len(problems) == before:
            lines.append(_line(row))
    return lines, table.source, problems


def _check_row(source: SourceFile, row: Row, vehicle: Vehicle | None, seen: dict[str, int],
               problems: list[Diagnostic]) -> None:
    def bad(code: str, message: str, hint: str | None = None) -> None:
        problems.append(complain(source, row.line, code, message, hint))

    for column in ("box", "slot", "fuse", "kind"):
        text = row.get(column)
        if not text and column in ("fuse",):
            bad("missing-cell", f"the cell '{column}' is empty", "give the fuse a name such as F7")
        elif text and not re.fullmatch(r"[\w+-][\w+\-/]*", text):
            bad("bad-cell", f"'{text}' can't be a name", "use letters, digits, - and _")
    for mark in row.get("marks").split():
        if mark not in MARKS:
            bad("bad-cell", f"'{mark}' marks nothing on a fuse",
                did_you_mean(mark, MARKS, "one of: " + ", ".join(MARKS)))
    rating = row.get("rating_a").removesuffix("A").strip()
    if not re.fullmatch(r"\d+(\.\d+)?", rating) or float(rating) <= 0:
        bad("bad-cell", f"'{row.get('rating_a')}' is no rating in amperes",
            "write a number such as 7.5")
    name = row.get("fuse")
    if name in seen:
        bad("duplicate-name", f"there are two fuses called '{name}'; the first is on line "
            f"{seen[name]}")
    seen.setdefault(name, row.line)
    evidence = row.get("evidence")
    if evidence and evidence not in ("measured", "traced", "copied", "guessed"):
        bad("bad-cell", f"'{evidence}' is no evidence", "measured, traced, copied or guessed")
    elif evidence == "copied" and not row.get("source"):
        bad("missing-cell", "'copied' needs its source", "say in the column 'source' which book")
    if row.get("date") and not re.fullmatch(r"\d{4}-\d{2}(-\d{2})?", row.get("date")):
        bad("bad-date", f"'{row.get('date')}' is no date", "write year-month-day: 2026-03-14")
    if vehicle is None:
        return
    box = row.get("box")
    if box and box not in vehicle.places:
        bad("unknown-place", f"there is no place '{box}'", did_you_mean(box, vehicle.places))
    elif box and row.get("slot") and vehicle.places[box].slots and (
            row.get("slot") not in vehicle.places[box].slots):
        bad("unknown-slot", f"'{box}' has no slot '{row.get('slot')}'",
            did_you_mean(row.get("slot"), vehicle.places[box].slots))


def _line(row: Row) -> str:
    words = [row.get("kind") or DEFAULT_KIND, row.get("fuse")]
    if row.get("label"):
        words.append(quoted(row.get("label")))
    if row.get("box"):
        words.append(f"in {row.get('box')}")
    if row.get("slot"):
        words.append(f"slot {row.get('slot')}")
    words.append(f"{row.get('rating_a').removesuffix('A').strip()} A")
    words += row.get("marks").split()
    if row.get("note"):
        words.append(f"note {quoted(row.get('note'))}")
    if row.get("evidence"):
        words.append(row.get("evidence"))
        if row.get("source"):
            words.append(quoted(row.get("source")))
        if row.get("date"):
            words.append(row.get("date"))
        if row.get("by"):
            words.append(f"by {quoted(row.get('by'))}")
    return " ".join(words)
