"""Tables of text: CSV files and spreadsheets as rows with line numbers."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, Severity, did_you_mean
from harnessdsl.text import SourceFile, Span

MAX_ROWS = 100_000
MAX_BYTES = 20_000_000


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the line that it is on in the file, and the cells by column name."""

    line: int
    cells: Mapping[str, str]

    def get(self, column: str) -> str:
        return self.cells.get(column, "").strip()


@dataclass(frozen=True, slots=True)
class Table:
    """A table as read; `source` lets messages show the line."""

    source: SourceFile
    rows: tuple[Row, ...]
    columns: tuple[str, ...]


def complain(source: SourceFile, line: int, code: str, message: str, hint: str | None = None
             ) -> Diagnostic:
    """Return an error about a whole line of a table."""
    return Diagnostic(Severity.ERROR, code, message,
                      Span(source.path, line, 1, max(2, len(source.line(line)) + 1)), hint)


def read_cells(path: Path) -> tuple[SourceFile, list[tuple[int, list[str]]]] | Diagnostic:
    """Return the file's rows as (line number, cells), or why it can't be read."""
    nowhere = SourceFile(str(path), "")
    try:
        if path.is_dir():
            return complain(nowhere, 0, "cannot-read", f"'{path}' is a folder, not a file")
        if path.stat().st_size > MAX_BYTES:
            return complain(nowhere, 0, "file-too-large", f"'{path}' is larger than "
                            f"{MAX_BYTES // 1_000_000} MB", "is this the right file?")
        data = path.read_bytes()
    except FileNotFoundError:
        return complain(nowhere, 0, "no-such-file", f"there is no file '{path}'")
    except OSError as error:
        return complain(nowhere, 0, "cannot-read", f"'{path}' can't be read: {error.strerror}")
    if data[:4] == b"PK\x03\x04":
        return _read_spreadsheet(path, data)
    if b"\x00" in data:
        return complain(nowhere, 0, "not-text", f"'{path}' is neither CSV nor a spreadsheet",
                        "save the table as CSV (UTF-8) or as .xlsx")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return complain(nowhere, 0, "not-text", f"'{path}' is not UTF-8 text (line {line})",
                        "save the table as CSV in UTF-8")
    source = SourceFile(str(path), text)
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=lambda mark: (first.count(mark), mark == ","))
    rows: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    start = 1
    try:
        for cells in reader:
            rows.append((start, cells))
            start = reader.line_num + 1
            if len(rows) > MAX_ROWS:
                return complain(source, start, "file-too-large", "the table has more than "
                                f"{MAX_ROWS:,} rows")
    except csv.Error as error:
        return complain(source, min(start, text.count("\n") + 1), "bad-table",
                        f"this row can't be read: {error}",
                        'text with a quotation mark in it is written "like ""this"""')
    return source, rows


def _read_spreadsheet(path: Path, data: bytes
                      ) -> tuple[SourceFile, list[tuple[int, list[str]]]] | Diagnostic:
    import openpyxl

    nowhere = SourceFile(str(path), "")
    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        cells = [["" if value is None else _cell_text(value) for value in row]
                 for row in sheet.iter_rows(values_only=True, max_row=MAX_ROWS)]
    except Exception as error:  # the library raises many kinds for a damaged file
        return complain(nowhere, 0, "bad-table", f"'{path}' is no spreadsheet that can be read: "
                        f"{type(error).__name__}", "save it again as .xlsx, or as CSV")
    text = "\n".join(",".join(value.replace("\n", " ") for value in row) for row in cells)
    return SourceFile(str(path), text), list(enumerate(cells, 1))


def _cell_text(value: object) -> str:
    if isinstance(value, float) and value == int(value):
        return str(int(value))
    return str(value)


def read_table(path: Path, columns: Sequence[str], required: Iterable[str],
               names: Mapping[str, str]) -> tuple[Table | None, list[Diagnostic]]:
    """Return the table with its columns called as in `columns`.

    `names` maps our column -> the heading in the file, where they differ. A heading that is not
    known is refused, so that nothing is lost in silence.
    """
    found = read_cells(path)
    if isinstance(found, Diagnostic):
        return None, [found]
    source, rows = found
    rows = [(line, cells) for line, cells in rows if any(cell.strip() for cell in cells)]
    if not rows:
        return None, [complain(source, 1, "empty-file", f"'{path}' holds no rows",
                               "its first row names the columns: " + ", ".join(columns))]
    header_line, header = rows[0]
    heading_to_column = {names.get(column, column).strip().casefold(): column
                         for column in columns}
    problems: list[Diagnostic] = []
    order: list[str] = []
    for heading in header:
        column = heading_to_column.get(heading.strip().casefold())
        if column is None and heading.strip():
            problems.append(complain(
                source, header_line, "unknown-column", f"a column called '{heading.strip()}' "
                "means nothing here",
                did_you_mean(heading.strip(), heading_to_column,
                             "columns: " + ", ".join(columns) + "; say what yours are called with "
                             "--column OURS=YOURS, or leave one out with --ignore NAME")))
        elif column is not None and column in order:
            problems.append(complain(source, header_line, "unknown-column",
                                     f"there are two columns '{heading.strip()}'"))
        order.append(column or "")
    for column in required:
        if column not in order:
            problems.append(complain(
                source, header_line, "missing-column",
                f"there is no column '{names.get(column, column)}'",
                did_you_mean(names.get(column, column), [h.strip() for h in header],
                             "the first row names the columns")))
    if problems:
        return None, problems
    table_rows = []
    for line, cells in rows[1:]:
        if len(cells) > len(order) and any(cell.strip() for cell in cells[len(order):]):
            problems.append(complain(source, line, "bad-table", f"this row has {len(cells)} cells, "
                                     f"the first row {len(order)}",
                                     "a text with a comma in it is put in quotation marks"))
            continue
        table_rows.append(Row(line, {column: cell for column, cell in
                                     zip(order, cells, strict=False) if column}))
    return Table(source, tuple(table_rows), tuple(c for c in order if c)), problems


def write_csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table as CSV (RFC 4180, with plain newlines).

    A cell that a spreadsheet would run as a formula is written as text, with an apostrophe.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_harmless(cell) for cell in row])
    return out.getvalue()


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell[:1] in ("=", "@") or (
        cell[:1] in ("+", "-") and not cell.lstrip("+-").replace(".", "", 1).isdigit()
        and len(cell) > 1) else cell


def unharmed(cell: str) -> str:
    """Return a cell as it was before `write_csv` made it harmless."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in ("=", "@", "+", "-") else cell
