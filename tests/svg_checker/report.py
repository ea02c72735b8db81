"""All checks over all sheets of one vehicle, with the numbers that a drawing is judged by."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from svg_checker.findings import Finding
from svg_checker.lines import check_rails, check_terminals, rail_crossings
from svg_checker.page import (
    check_page,
    check_symbols_apart,
    check_text_on_own_symbol,
    check_text_on_symbols,
    check_text_on_wires,
    check_texts,
    check_wires_through_symbols,
    smallest_text,
)
from svg_checker.sheet import Sheet
from svg_checker.wires import (
    Crossing,
    DrawnWire,
    check_every_wire_once,
    check_false_joints,
    check_wire_ends,
    crossings,
    nets,
    read_wires,
)


@dataclass(frozen=True)
class Report:
    """What is wrong, and how good the drawing is."""

    findings: tuple[Finding, ...]
    wires: tuple[DrawnWire, ...]
    crossings: tuple[tuple[str, Crossing], ...]
    """With the name of the sheet."""
    rail_crossings: tuple[tuple[str, Crossing], ...]
    """Wires that run over a supply line on to its other side."""
    smallest_font_mm: float
    smallest_capital_mm: float

    @property
    def crossings_per_wire(self) -> float:
        return len(self.crossings) / max(1, len(self.wires))

    @property
    def bends_per_wire(self) -> float:
        return sum(wire.bends for wire in self.wires) / max(1, len(self.wires))

    @property
    def straight_share(self) -> float:
        return sum(wire.bends == 0 for wire in self.wires) / max(1, len(self.wires))

    def of(self, *what: str) -> list[Finding]:
        return [finding for finding in self.findings if finding.what in what]

    def counts(self) -> dict[str, int]:
        found: dict[str, int] = {}
        for finding in self.findings:
            found[finding.what] = found.get(finding.what, 0) + 1
        return dict(sorted(found.items()))


def check_schematics(
    sheets: Sequence[Sheet],
    expected_wires: Mapping[str, tuple[str, str]],
    plugs: Iterable[tuple[str, str]] = (),
) -> Report:
    """Return the report on all schematic sheets of a vehicle.

    `expected_wires` maps the name of each wire of the file to its two node keys; `plugs` are the
    pairs of nodes that a plug joins.
    """
    findings: list[Finding] = []
    drawn: list[DrawnWire] = []
    crossed: list[tuple[str, Crossing]] = []
    over_rails: list[tuple[str, Crossing]] = []
    net_of = nets(expected_wires.values())
    supply_of = nets([*expected_wires.values(), *plugs])
    for sheet in sheets:
        wires, wrong = read_wires(sheet)
        findings.extend(wrong)
        findings.extend(check_texts(sheet))
        findings.extend(check_text_on_symbols(sheet))
        findings.extend(check_text_on_own_symbol(sheet))
        findings.extend(check_text_on_wires(sheet, wires))
        findings.extend(check_wires_through_symbols(sheet, wires))
        findings.extend(check_symbols_apart(sheet))
        findings.extend(check_page(sheet))
        findings.extend(check_wire_ends(sheet, wires))
        findings.extend(check_false_joints(wires, net_of))
        findings.extend(check_rails(sheet))
        findings.extend(check_terminals(sheet, supply_of, wires))
        over_rails.extend((sheet.name, crossing) for crossing in rail_crossings(sheet, wires))
        lines = [(w.name, net_of.get(w.from_node, w.from_node), w.segments) for w in wires]
        crossed.extend((sheet.name, crossing) for crossing in crossings(lines))
        drawn.extend(wires)
    findings.extend(check_every_wire_once(drawn, expected_wires))
    font, capital = smallest_text(sheets)
    return Report(
        tuple(dict.fromkeys(findings)),
        tuple(drawn),
        tuple(crossed),
        tuple(over_rails),
        font,
        capital,
    )
