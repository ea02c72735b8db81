"""What the commands of fault finding share: the vehicle of a case, the sweep with its progress."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from harnessdsl.cli.loading import print_diagnostics, read_vehicle
from harnessdsl.model.vehicle import Vehicle

MOST_FAILURES = 5

if TYPE_CHECKING:
    from harnessdsl.faults.case import Case
    from harnessdsl.faults.predictions import Predictor
    from harnessdsl.faults.sweep import Sweep


def sweep_with_progress(vehicle: Vehicle) -> Sweep:
    """Return the sweep over all faults: the one kept from an earlier run, else computed, with a
    bar on a terminal."""
    from harnessdsl.faults.bench import Bench
    from harnessdsl.faults.sweep import run_sweep
    from harnessdsl.faults.sweep_store import keep, kept

    bench = Bench.of(vehicle)
    if not vehicle.conditions:
        click.echo("The file declares no condition: everything is looked at with all switches at "
                   "rest. Write some, such as: condition run \"Key in run\" { S1 = run }", err=True)
    folder = store_folder()
    found = kept(bench, folder) if folder is not None else None
    if found is not None:
        return found
    if sys.stderr.isatty():
        from rich.console import Console
        from rich.progress import Progress

        with Progress(console=Console(stderr=True), transient=True) as bar:
            task = bar.add_task(f"{len(bench.faults)} faults in {len(bench.conditions)} conditions")
            found = run_sweep(bench, lambda done, total: bar.update(task, completed=done,
                                                                    total=total))
    else:
        found = run_sweep(bench)
    if folder is not None:
        with contextlib.suppress(OSError):  # a full or locked disk costs time, nothing else
            keep(found, folder)
    return found


def store_folder() -> Path | None:
    """Return where computed sweeps are kept; None when HARNESSDSL_STORE is `off`."""
    given = os.environ.get("HARNESSDSL_STORE", "")
    if given.casefold() == "off":
        return None
    if given:
        return Path(given)
    from platformdirs import user_cache_path

    return user_cache_path("harnessdsl", appauthor=False)


def vehicle_for(case: Path, file: Path | None) -> tuple[Vehicle, Path]:
    """Return the vehicle that a case is about: the one named, else the one that the case names."""
    if file is None:
        from harnessdsl.faults.case_reader import vehicle_of

        named = vehicle_of(case) if case.is_file() else ""
        if not named:
            raise click.ClickException(
                f"'{case}' names no vehicle; say which: --vehicle car.harness, or write in it: "
                'vehicle "car.harness"')
        file = Path(named) if Path(named).is_absolute() else case.parent / named
    return read_vehicle(file).vehicle, file


def load_case(path: Path, vehicle: Vehicle) -> Case:
    """Return the case in a file, or print what is wrong and end with status 1."""
    from harnessdsl.faults.case_reader import read_case

    case, messages, sources = read_case(path, vehicle)
    if messages:
        print_diagnostics(messages, sources)
        raise SystemExit(1)
    return case


def predictor_for(vehicle: Vehicle) -> Predictor:
    """Return the predictor, every fault computed."""
    from harnessdsl.faults.predictions import Predictor

    return Predictor(sweep_with_progress(vehicle))


def say_failures(predictor: Predictor) -> None:
    """Tell what could not be computed: it was weighed as if nothing changed."""
    bench = predictor.bench
    lines = [f"no answer for '{bench.faults[fault].words}' in "
             f"{bench.conditions[number].name}: {why}"
             for fault, number, why in predictor.sweep.failures]
    lines += [f"no answer for '{' and '.join(bench.faults[i].words for i in candidate)}' in "
              f"{state.condition}: {why}" for (candidate, state), why in predictor.failures.items()]
    for line in lines[:MOST_FAILURES]:
        click.echo(line, err=True)
    if len(lines) > MOST_FAILURES:
        click.echo(f"and {len(lines) - MOST_FAILURES} more", err=True)
