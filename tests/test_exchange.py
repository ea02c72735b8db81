"""Wire lists and fuse charts go out and come back without loss; wrong tables are refused."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from harnessdsl.cli.main import main
from harnessdsl.exchange.fuse_chart import export_fuses, import_fuses
from harnessdsl.exchange.wire_list import export_wires, import_wires, same_wires
from harnessdsl.pipeline import load, load_string

ROOT = Path(__file__).parent.parent
EXAMPLES = sorted(p for p in ROOT.glob("examples/**/*.harness")
                  if "wire" in p.read_text() and "vehicle " in p.read_text())
SMALL = '''place p "P" at 0, 0, 0 mm
battery G1 in p
connector X1 in p 4 way
blade-fuse F1 "Lamp" in p 10 A
lamp L1 in p
earth E1 in p
splice J1 in p
run loom "L" p -> p 1 m
wire G1.+ -> F1.1 12 AWG RD 1.5 m traced "a, \\"b\\"" 2026-03-04 by "Ilse"
wire W1 F1.2 -> X1.b.1 1.5 mm2 RD/YE -> J1 -> L1.1 1 mm2 GN 2.5 m xlpe 105 C via loom note "x; y"
wire L1.2 -> X1.2 -> E1 1 mm2 BN fusible aluminium copied "book"
wire L1.2 -> E1 1 mm2 BN
wire L1.2 -> E1 1 mm2 BN 3 m
'''


def fresh(before: str, lines: list[str]) -> str:
    kept = [line for line in before.splitlines() if not line.startswith("wire ")]
    return "\n".join([*kept, *lines]) + "\n"


def test_wires_survive_the_round_trip(tmp_path: Path):
    vehicle = load_string(SMALL).vehicle
    assert len(vehicle.wires) == 8
    table = tmp_path / "w.csv"
    table.write_text(export_wires(vehicle), encoding="utf-8")
    lines, _, problems = import_wires(table, {}, vehicle)
    assert problems == []
    again = load_string(fresh(SMALL, lines))
    assert again.diagnostics == []
    assert same_wires(vehicle.wires, again.vehicle.wires)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.name)
def test_wires_of_the_examples_survive_the_round_trip(path: Path, tmp_path: Path):
    vehicle = load(path).vehicle
    table = tmp_path / "w.csv"
    table.write_text(export_wires(vehicle), encoding="utf-8")
    lines, _, problems = import_wires(table, {}, vehicle)
    assert problems == []
    assert sum(line.count("->") for line in lines) == len(vehicle.wires)


def test_spreadsheet_reads_like_the_csv(tmp_path: Path):
    vehicle = load_string(SMALL).vehicle
    book = openpyxl.Workbook()
    for row in [*export_wires(vehicle).splitlines()[:1], "W9,,F1.2,L1.1,1.5,RD,2"]:
        book.active.append(row.split(","))
    path = tmp_path / "w.xlsx"
    book.save(path)
    lines, _, problems = import_wires(path, {}, vehicle)
    assert problems == [] and lines == ["wire W9 F1.2 -> L1.1 1.5 mm2 RD 2 m"]


def test_columns_can_have_other_names(tmp_path: Path):
    table = tmp_path / "w.csv"
    table.write_text("Start;Ende;Farbe\nF1.2;L1.1;ro/ge\n")
    lines, _, problems = import_wires(table, {"from": "Start", "to": "Ende", "colour": "Farbe"})
    assert problems == [] and lines == ["wire F1.2 -> L1.1 RD/YE"]


def test_fuses_of_the_demo_survive_the_round_trip(tmp_path: Path):
    """Everything that a fuse's own line says comes back, for each fuse, breaker and link."""
    path = ROOT / "examples" / "tourer" / "tourer.harness"
    vehicle = load(path).vehicle
    table = tmp_path / "f.csv"
    table.write_text(export_fuses(vehicle), encoding="utf-8")
    lines, _, problems = import_fuses(table, {}, vehicle)
    assert problems == []
    places = sorted({vehicle.parts[line.split()[1]].place for line in lines})
    text = "".join(f"place {name} at 0, 0, 0 mm\n" for name in places if name)
    again = load_string(text + "\n".join(lines) + "\n")
    assert [d for d in again.diagnostics if d.code != "unknown-word"] == []
    assert len(lines) == sum(f in again.vehicle.parts for f in again.vehicle.parts) >= 40
    for name, part in again.vehicle.parts.items():
        before = vehicle.parts[name]
        assert (part.kind.name, part.label, part.place, part.slot, part.rating_a(), part.flags,
                part.note, part.evidence.trust, part.evidence.date, part.evidence.by,
                part.evidence.note) == (
            before.kind.name, before.label, before.place, before.slot, before.rating_a(),
            before.flags, before.note, before.evidence.trust, before.evidence.date,
            before.evidence.by, before.evidence.note), name


def test_fuse_chart_survives_the_round_trip(tmp_path: Path):
    vehicle = load_string(SMALL).vehicle
    table = tmp_path / "f.csv"
    table.write_text(export_fuses(vehicle))
    assert "L1" in table.read_text()
    lines, _, problems = import_fuses(table, {}, vehicle)
    assert problems == [] and lines == ['blade-fuse F1 "Lamp" in p 10 A']


HEAD = "wire,from,to,area,colour,length_m,evidence,date,source\n"
BROKEN = {
    "no rows": "",
    "only spaces": "   \n  \n",
    "no from column": "wire,to\nW1,L1.1\n",
    "unknown column": "from,to,kolour\nF1.2,L1.1,RD\n",
    "two columns alike": "from,from,to\nF1.2,F1.2,L1.1\n",
    "empty from": HEAD + "W1,,L1.1,1,RD,1,,,\n",
    "empty to": HEAD + "W1,F1.2,,1,RD,1,,,\n",
    "unknown part": HEAD + "W1,F9.2,L1.1,1,RD,1,,,\n",
    "unknown terminal": HEAD + "W1,F1.3,L1.1,1,RD,1,,,\n",
    "space in end": HEAD + "W1,F1 2,L1.1,1,RD,1,,,\n",
    "quote in end": HEAD + 'W1,"F1""2",L1.1,1,RD,1,,,\n',
    "brace in end": HEAD + "W1,F1.2},L1.1,1,RD,1,,,\n",
    "bad area": HEAD + "W1,F1.2,L1.1,thick,RD,1,,,\n",
    "area with comma": HEAD + 'W1,F1.2,L1.1,"1,5",RD,1,,,\n',
    "area nought": HEAD + "W1,F1.2,L1.1,0,RD,1,,,\n",
    "area in amperes": HEAD + "W1,F1.2,L1.1,5 A,RD,1,,,\n",
    "bad colour": HEAD + "W1,F1.2,L1.1,1,redish,1,,,\n",
    "bad tracer": HEAD + "W1,F1.2,L1.1,1,RD/ZZ,1,,,\n",
    "negative length": HEAD + "W1,F1.2,L1.1,1,RD,-1,,,\n",
    "length in words": HEAD + "W1,F1.2,L1.1,1,RD,long,,,\n",
    "length in kilometres": HEAD + "W1,F1.2,L1.1,1,RD,99999,,,\n",
    "bad evidence": HEAD + "W1,F1.2,L1.1,1,RD,1,sure,,\n",
    "copied from nowhere": HEAD + "W1,F1.2,L1.1,1,RD,1,copied,,\n",
    "bad date": HEAD + "W1,F1.2,L1.1,1,RD,1,traced,14.3.2026,\n",
    "too many cells": HEAD + "W1,F1.2,L1.1,1,RD,1,traced,2026-03-14,x,y,z\n",
    "name twice": HEAD + "W1,F1.2,L1.1,1,RD,1,,,\nW1,F1.2,L1.1,1,RD,1,,,\n",
    "unclosed quote": HEAD + 'W1,"F1.2,L1.1,1,RD,1,,,\n',
    "text behind quote": HEAD + 'W1,"F1.2"x,L1.1,1,RD,1,,,\n',
    "bad insulation": "from,to,insulation\nF1.2,L1.1,wool\n",
    "bad material": "from,to,material\nF1.2,L1.1,gold\n",
    "bad class": "from,to,class_c\nF1.2,L1.1,warm\n",
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_table_is_refused_and_nothing_written(name: str, tmp_path: Path):
    car, table, out = tmp_path / "c.harness", tmp_path / "w.csv", tmp_path / "out.harness"
    car.write_text(SMALL)
    table.write_text(BROKEN[name])
    result = CliRunner().invoke(
        main, ["list-in", str(table), "wires", "--vehicle", str(car), "--out", str(out)])
    assert result.exit_code in (1, 2), result.output
    assert "error[" in result.output and "Traceback" not in result.output
    assert "w.csv:" in result.output
    assert not out.exists()


@pytest.mark.parametrize("data", [b"\x00\x01\x02", b"PK\x03\x04broken", b"from,to\nF1.2,L\xff\n"])
def test_binary_tables_are_refused(data: bytes, tmp_path: Path):
    table = tmp_path / "w.csv"
    table.write_bytes(data)
    result = CliRunner().invoke(main, ["list-in", str(table), "wires"])
    assert result.exit_code == 1 and "error[" in result.output


def test_thirty_broken_tables():
    assert len(BROKEN) >= 30
