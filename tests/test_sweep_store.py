"""Sweeps kept between runs: they come back whole, or are computed anew."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from harnessdsl.faults.bench import Bench
from harnessdsl.faults.sweep import run_sweep
from harnessdsl.faults.sweep_store import KEPT, digest, keep, kept
from harnessdsl.pipeline import load, load_string

FAN = Path(__file__).resolve().parent.parent / "examples" / "radiator-fan.harness"


@pytest.fixture(scope="module")
def bench() -> Bench:
    return Bench.of(load(FAN).vehicle)


def test_what_is_kept_comes_back(bench: Bench, tmp_path: Path) -> None:
    sweep = run_sweep(bench)
    assert any(e.states for row in sweep.fresh for e in row)
    assert any(sweep.blown)
    assert kept(bench, tmp_path / "store") is None
    keep(sweep, tmp_path / "store")
    again = kept(bench, tmp_path / "store")
    assert again is not None
    assert (again.fresh, again.found, again.blown, again.failures) == (
        sweep.fresh, sweep.found, sweep.blown, sweep.failures)


def test_the_name_is_the_same_in_every_process(bench: Bench) -> None:
    code = ("from pathlib import Path\nfrom harnessdsl.pipeline import load\n"
            "from harnessdsl.faults.bench import Bench\n"
            "from harnessdsl.faults.sweep_store import digest\n"
            f"print(digest(Bench.of(load(Path({str(FAN)!r})).vehicle)))")
    for seed in ("1", "2"):
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True,
                              env={**os.environ, "PYTHONHASHSEED": seed}, check=True)
        assert done.stdout.strip() == digest(bench)


@pytest.mark.parametrize(("old", "new"), [
    ("4 mm2", "2.5 mm2"), ("92 C", "97 C"), ("30 A", "25 A"),
])
def test_a_changed_vehicle_has_another_name(bench: Bench, old: str, new: str) -> None:
    text = FAN.read_text(encoding="utf-8")
    assert old in text
    other = load_string(text.replace(old, new)).vehicle
    assert digest(Bench.of(other)) != digest(bench)


@pytest.mark.parametrize("spoil", [b"", b"nonsense", None])
def test_a_spoilt_file_is_as_good_as_none(bench: Bench, tmp_path: Path, spoil: bytes | None
                                          ) -> None:
    keep(run_sweep(bench), tmp_path)
    (file,) = tmp_path.glob("*.sweep")
    file.write_bytes(spoil if spoil is not None else file.read_bytes()[:-40])
    assert kept(bench, tmp_path) is None


def test_old_sweeps_go(bench: Bench, tmp_path: Path) -> None:
    for number in range(KEPT + 5):
        (tmp_path / f"{number}.sweep").write_bytes(b"old")
        os.utime(tmp_path / f"{number}.sweep", (number, number))
    keep(run_sweep(bench), tmp_path)
    assert len(list(tmp_path.glob("*.sweep"))) == KEPT
    assert kept(bench, tmp_path) is not None
