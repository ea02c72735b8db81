"""Wire lists: a vehicle's wires as a table, and a table as wires in the language."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, did_you_mean
from harnessdsl.exchange.tables import Row, complain, read_table, unharmed, write_csv
from harnessdsl.model.colour import read_colour
from harnessdsl.model.evidence import Trust
from harnessdsl.model.vehicle import End, Vehicle, Wire
from harnessdsl.model.wire_builder import INSULATIONS
from harnessdsl.quantity import GAUGE_UNIT, UNITS
from harnessdsl.text import SourceFile

COLUMNS = ("wire", "chain", "from", "to", "area", "colour", "length_m", "chain_length_m",
           "insulation", "class_c", "material", "fusible", "via", "note", "evidence", "date",
           "by", "source")
REQUIRED = ("from", "to")


def _end_text(end: End) -> str:
    return end.node


def _number(value: float | None) -> str:
    return "" if value is None else repr(round(value, 9)).removesuffix(".0")


def export_wires(vehicle: Vehicle) -> str:
    """Return all wires as CSV, one piece of wire a row; nothing that the file says is left out."""
    rows = []
    for wire in vehicle.wires.values():
        automatic = wire.name.startswith(f"{wire.a}-{wire.b}")
        chain = wire.chain if wire.chain else ""
        evidence = wire.evidence
        rows.append([
            "" if automatic else wire.name, chain, _end_text(wire.a), _end_text(wire.b),
            wire.area_text, wire.colour, _number(wire.length_m), _number(wire.chain_length_m),
            wire.insulation, _number(wire.temperature_class_c),
            "" if wire.material == "copper" else wire.material, "yes" if wire.fusible else "",
            " ".join(wire.via), wire.note, evidence.trust.word if evidence.stated else "",
            evidence.date, evidence.by, evidence.note])
    return write_csv(COLUMNS, rows)


@dataclass(slots=True)
class _Piece:
    row: Row
    start: str
    end: str
    look: list[str] = field(default_factory=list)
    """Area, colour and material words that may stand behind each piece."""
    common: list[str] = field(default_factory=list)
    length_m: float | None = None


class WireListReader:
    """Turns the rows of a table into lines of the language."""

    def __init__(self, source: SourceFile, vehicle: Vehicle | None) -> None:
        self.source = source
        self.vehicle = vehicle
        self.problems: list[Diagnostic] = []

    def _bad(self, row: Row, code: str, message: str, hint: str | None = None) -> None:
        self.problems.append(complain(self.source, row.line, code, message, hint))

    def lines(self, rows: Iterable[Row]) -> list[str]:
        """Return one line a wire; rows of one chain that follow one another make one line."""
        out: list[str] = []
        group: list[_Piece] = []
        for row in rows:
            piece = self._piece(row)
            if piece is None:
                continue
            chain = row.get("chain")
            if group and (not chain or group[-1].row.get("chain") != chain
                          or not self._follows(group[-1], piece)):
                out.append(self._line(group))
                group = []
            group.append(piece)
        if group:
            out.append(self._line(group))
        return out

    def _follows(self, before: _Piece, after: _Piece) -> bool:
        """Say whether a chain goes on from one piece to the next: the same end, or the other
        half of the same cavity."""
        if before.end == after.start:
            return True
        other = {"a": "b", "b": "a"}
        match = re.fullmatch(r"(.+)\.([ab])\.([^.]+)", before.end)
        return match is not None and after.start == f"{match[1]}.{other[match[2]]}.{match[3]}"

    def _piece(self, row: Row) -> _Piece | None:
        count = len(self.problems)
        ends = [unharmed(row.get("from")), unharmed(row.get("to"))]
        for end, column in zip(ends, REQUIRED, strict=True):
            if not end:
                self._bad(row, "missing-cell", f"the cell '{column}' is empty",
                          "each wire has two ends, such as K2.30")
            elif re.search(r"[\s\"{}=,;#]|->", end):
                self._bad(row, "bad-cell", f"'{end}' is no end of a wire",
                          "an end is PART.TERMINAL, such as K2.30")
            elif self.vehicle is not None:
                self._known(row, end)
        piece = _Piece(row, ends[0], ends[1])
        self._area(row, piece)
        self._colour(row, piece)
        piece.length_m = self._positive(row, "length_m")
        self._rest(row, piece)
        return piece if len(self.problems) == count else None

    def _known(self, row: Row, end: str) -> None:
        assert self.vehicle is not None
        part = self.vehicle.parts.get(end.partition(".")[0])
        if part is None:
            self._bad(row, "unknown-part", f"there is no part '{end.partition('.')[0]}'",
                      did_you_mean(end.partition(".")[0], self.vehicle.parts))
        elif part.connector is None and not part.kind.any_terminals:
            terminal = end.partition(".")[2]
            if part.kind.terminal(terminal) is None:
                self._bad(row, "unknown-terminal", f"'{part.name}' has no terminal '{terminal}'",
                          did_you_mean(terminal, part.kind.terminals))

    def _area(self, row: Row, piece: _Piece) -> None:
        text = row.get("area")
        if not text:
            return
        match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(mm2|mm²|sqmm|AWG)?", text)
        if match is None or (float(match[1]) <= 0 and match[2] != GAUGE_UNIT):
            hint = "write 4, 4 mm2 or 12 AWG"
            if re.fullmatch(r"\d+,\d+(\s*mm2)?", text):
                hint = "decimals take a point: " + text.replace(",", ".")
            self._bad(row, "bad-cell", f"'{text}' is no area of a wire", hint)
            return
        unit = match[2] or "mm2"
        assert unit in UNITS or unit == GAUGE_UNIT
        piece.look.append(f"{match[1]} {unit}")

    def _colour(self, row: Row, piece: _Piece) -> None:
        text = row.get("colour")
        if not text:
            return
        colour = read_colour(text, din=True) or read_colour(text.upper())
        if colour is None:
            self._bad(row, "bad-colour", f"'{text}' is no colour by IEC 60757",
                      "codes are BK BN RD OG YE GN BU VT GY WH PK GD TQ SR GNYE, base first: RD/YE")
        else:
            piece.look.append(colour)

    def _positive(self, row: Row, column: str) -> float | None:
        text = row.get(column)
        if not text:
            return None
        try:
            value = float(text.removesuffix("m").strip())
        except ValueError:
            value = -1.0
        if not 0 < value < 1000:
            self._bad(row, "bad-cell", f"'{text}' is no length in metres",
                      "write a number, such as 1.4; decimals take a point")
            return None
        return value

    def _rest(self, row: Row, piece: _Piece) -> None:
        insulation = row.get("insulation")
        if insulation and insulation not in INSULATIONS:
            self._bad(row, "bad-cell", f"'{insulation}' is no insulation",
                      did_you_mean(insulation, INSULATIONS, "one of: " + ", ".join(INSULATIONS)))
        elif insulation:
            piece.common.append(insulation)
        class_c = row.get("class_c")
        if class_c and not re.fullmatch(r"\d+(\.\d+)?", class_c):
            self._bad(row, "bad-cell", f"'{class_c}' is no temperature class", "write 85 or 105")
        elif class_c:
            piece.common.append(f"{class_c} C")
        material = row.get("material")
        if material and material not in ("copper", "aluminium"):
            self._bad(row, "bad-cell", f"'{material}' is no material", "copper or aluminium")
        elif material:
            piece.common.append(material)
        if row.get("fusible").casefold() in ("yes", "true", "1", "x"):
            piece.common.append("fusible")
        piece.common += [f"via {name}" for name in row.get("via").split()]
        if row.get("note"):
            piece.common.append(f"note {quoted(row.get('note'))}")
        self._evidence(row, piece)

    def _evidence(self, row: Row, piece: _Piece) -> None:
        word = row.get("evidence")
        if not word:
            return
        if word not in {trust.word for trust in Trust}:
            self._bad(row, "bad-cell", f"'{word}' is no evidence",
                      did_you_mean(word, [t.word for t in Trust],
                                   "measured, traced, copied or guessed"))
            return
        date = row.get("date")
        if date and not re.fullmatch(r"\d{4}-\d{2}(-\d{2})?", date):
            self._bad(row, "bad-date", f"'{date}' is no date", "write year-month-day: 2026-03-14")
            return
        if word == "copied" and not row.get("source"):
            self._bad(row, "missing-cell", "'copied' needs its source",
                      "say in the column 'source' which book or sheet")
            return
        piece.common.append(" ".join(part for part in (
            word, quoted(row.get("source")) if row.get("source") else "", date,
            f"by {quoted(row.get('by'))}" if row.get("by") else "") if part))

    def _line(self, group: list[_Piece]) -> str:
        first, last = group[0], group[-1]
        name = first.row.get("wire")
        if len(group) > 1:
            name = name.removesuffix(":1")
            if not name or "." in name:
                name = ""
        elif ":" in name or "." in name:
            name = ""
        words = ["wire", *([name] if name else []), first.start]
        for piece in group:
            words += ["->", piece.end]
            if piece is not last:
                words += piece.look
                if piece.length_m is not None:
                    words.append(f"{_number(piece.length_m)} m")
        words += last.look
        length = last.length_m
        if len(group) > 1:
            # what stands at the end of a chain is the length of the whole
            total = self._positive(last.row, "chain_length_m") or sum(
                piece.length_m or 0.0 for piece in group)
            length = total if last.length_m is not None else None
        if length is not None:
            words.append(f"{_number(length)} m")
        return " ".join([*words, *last.common])


def quoted(text: str) -> str:
    """Return a text as the language quotes it."""
    flat = " ".join(text.split())
    return '"' + flat.replace("\\", "\\\\").replace('"', '\\"') + '"'


def import_wires(path: Path, names: Mapping[str, str], vehicle: Vehicle | None = None
                 ) -> tuple[list[str], SourceFile | None, list[Diagnostic]]:
    """Return the lines for the wires of a table, the table's text, and what is wrong in it."""
    table, problems = read_table(path, COLUMNS, REQUIRED, names)
    if table is None:
        return [], None, problems
    reader = WireListReader(table.source, vehicle)
    lines = reader.lines(table.rows)
    seen: dict[str, int] = {}
    for row in table.rows:
        name = row.get("wire")
        if name and name in seen:
            reader.problems.append(complain(
                table.source, row.line, "duplicate-name",
                f"there are two wires called '{name}'; the first is on line {seen[name]}"))
        seen.setdefault(name, row.line)
    return lines, table.source, problems + reader.problems


def same_wires(first: Mapping[str, Wire], second: Mapping[str, Wire]) -> bool:
    """Say whether two sets of wires are the same but for where they are written."""
    from dataclasses import replace

    from harnessdsl.text import NOWHERE

    def bare(wire: Wire) -> Wire:
        return replace(wire, span=NOWHERE, colour_span=NOWHERE, area_span=NOWHERE,
                       length_span=NOWHERE, a=replace(wire.a, span=NOWHERE),
                       b=replace(wire.b, span=NOWHERE),
                       length_m=None if wire.length_m is None else round(wire.length_m, 6),
                       chain_length_m=None if wire.chain_length_m is None
                       else round(wire.chain_length_m, 6))

    return [bare(wire) for wire in first.values()] == [bare(wire) for wire in second.values()]
