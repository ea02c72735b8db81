"""The wheel holds all that it needs, and works installed, away from the checkout."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

CAR = """vehicle "Hollin Ten" { supply 6 V positive-earth }
place nose "Nose" at 200, 0, 500 mm
battery G1 "Battery" in nose 40 Ah
glass-fuse F1 "Horn" in nose 15 A
push-switch S1 "Horn button" in nose
horn H1 "Horn" in nose 5 A
earth E1 "Nose" in nose
wire G1.- -> F1.1 2.5 mm2 BK 0.5 m traced
wire F1.2 -> S1.1 1.5 mm2 BK/YE 1.2 m traced
wire S1.2 -> H1.- 1.5 mm2 YE 1.2 m traced
wire H1.+ -> E1 1.5 mm2 BN 0.3 m traced
wire G1.+ -> E1 16 mm2 BK 0.4 m traced
circuit horn "Horn" { G1 F1 S1 H1 E1 }
"""


@pytest.fixture(scope="session")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    # without isolation, so that nothing is fetched, where the build backend is installed
    alone = ["--no-isolation"] if importlib.util.find_spec("hatchling") else []
    command = [sys.executable, "-m", "build", "--wheel", *alone, "--outdir", str(folder), str(ROOT)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    (found,) = folder.glob("*.whl")
    return found


@pytest.fixture(scope="session")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fresh environment with the wheel in it; the libraries are lent by this one."""
    folder = tmp_path_factory.mktemp("installed")
    venv.create(folder, with_pip=False)
    python = folder / ("Scripts" if os.name == "nt" else "bin") / "python"
    command = [sys.executable, "-m", "pip", "--python", str(python), "install", "--quiet"]
    options = ["--no-deps", "--no-index", "--disable-pip-version-check"]
    subprocess.run([*command, *options, str(wheel)], check=True)
    site = subprocess.run(
        [python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"],
        capture_output=True, text=True, check=True,
    ).stdout.strip()  # fmt: skip
    # a path in a .pth file is searched, but .pth files in it (of an editable install) are not read
    (Path(site) / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    return python


def run(python: Path, *call: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    return subprocess.run(
        [str(python), *call], cwd=cwd, env=environment, capture_output=True, text=True
    )


def test_what_the_wheel_holds(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        metadata = next(n for n in names if n.endswith(".dist-info/METADATA"))
        text = archive.read(metadata).decode("utf-8")
    kinds = sorted(p.name for p in (ROOT / "harnessdsl" / "kinds").glob("*.harness"))
    layouts = sorted(p.name for p in (ROOT / "layouts").iterdir() if p.is_file())
    assert {n.split("/")[-1] for n in names if n.startswith("harnessdsl/kinds/")} >= set(kinds)
    assert {n.split("/")[-1] for n in names if n.startswith("harnessdsl/_data/layouts/")} >= set(
        layouts
    )
    assert "harnessdsl/_data/grammar/harness.lark" in names
    assert "harnessdsl/py.typed" in names
    modules = {p.relative_to(ROOT).as_posix() for p in (ROOT / "harnessdsl").rglob("*.py")}
    assert modules <= set(names)
    assert not [n for n in names if n.startswith(("tests/", "bench/")) or "__pycache__" in n]
    for word in ("Requires-Python: >=3.11", "Provides-Extra: test", "Description-Content-Type"):
        assert word in text


def test_it_runs_from_another_folder(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "car.harness").write_text(CAR, encoding="utf-8")
    where = run(installed, "-c", "import harnessdsl; print(harnessdsl.__file__)", cwd=tmp_path)
    assert str(installed.parent.parent) in where.stdout, where.stderr
    check = run(
        installed, "-m", "harnessdsl", "check", "--fail-on", "error", "car.harness", cwd=tmp_path
    )
    assert check.returncode == 0, check.stdout + check.stderr
    assert "Hollin Ten: 5 parts, 5 wires" in check.stdout
    kinds = run(installed, "-m", "harnessdsl", "kinds", "relay-diode", cwd=tmp_path)
    assert "diode" in kinds.stdout


def test_it_draws_from_another_folder(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "car.harness").write_text(CAR, encoding="utf-8")
    drawn = run(installed, "-m", "harnessdsl", "draw", "car.harness", cwd=tmp_path)
    assert drawn.returncode == 0, drawn.stdout + drawn.stderr
    assert list(tmp_path.rglob("*.svg"))


def test_an_example_is_checked_by_the_installed_command(installed: Path, tmp_path: Path) -> None:
    example = ROOT / "examples" / "motorcycle.harness"
    script = installed.parent / "harnessdsl"
    done = subprocess.run(
        [str(script), "check", "--fail-on", "error", str(example)],
        cwd=tmp_path, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
