"""Renaming keeps the vehicle the same but for the name."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from harnessdsl.cli.main import main
from harnessdsl.pipeline import load

TEXT = '''place box "Box" at 0, 0, 0 mm { slots 1..2 blade-fuse }
place door "Door" in box
battery G1 in box
blade-fuse F1 in box slot 1 10 A
lamp L1 "L1 is here" in door
earth E1 in box
wire G1.+ -> F1.1 1 mm2 RD
wire W1 F1.2 -> L1.1 1 mm2 RD
wire L1.2 -> E1 1 mm2 BN
run loom "Loom" box -> door 1 m { wires W1 L1.2-E1 }
circuit c "C" { F1, L1 }
accept load-always-fed L1 "a test"
'''


def write(tmp_path: Path) -> Path:
    (tmp_path / "part.harness").write_text(TEXT)
    main_file = tmp_path / "car.harness"
    main_file.write_text('use "part.harness"\nwire F1.2 -> L1.1 1 mm2 RD # L1 stays\n')
    return main_file


@pytest.mark.parametrize(("old", "new"), [("L1", "E7"), ("box", "crate"), ("W1", "W99")])
def test_rename_there_and_back_gives_the_same_files(tmp_path: Path, old: str, new: str):
    path = write(tmp_path)
    before = load(path)
    assert not before.diagnostics
    result = CliRunner().invoke(main, ["rename", str(path), old, new])
    assert result.exit_code == 0, result.output
    after = load(path)
    assert not after.diagnostics
    vehicle = after.vehicle
    assert new in {**vehicle.parts, **vehicle.places, **vehicle.wires}
    assert old not in {**vehicle.parts, **vehicle.places, **vehicle.wires}
    assert len(vehicle.wires) == len(before.vehicle.wires)
    back = CliRunner().invoke(main, ["rename", str(path), new, old])
    assert back.exit_code == 0, back.output
    assert (tmp_path / "part.harness").read_text() == TEXT
    assert "# L1 stays" in path.read_text()


def test_taken_and_unknown_names_are_refused(tmp_path: Path):
    path = write(tmp_path)
    for arguments in (["L1", "F1"], ["L9", "L2"], ["L1", "a b"]):
        result = CliRunner().invoke(main, ["rename", str(path), *arguments])
        assert result.exit_code == 2, result.output
    assert (tmp_path / "part.harness").read_text() == TEXT
