"""`ask`: find a fault by question and answer; the case is saved after every answer."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.fault_vehicle import day
from harnessdsl.cli.searching import load_case, predictor_for, say_failures, vehicle_for


@click.command()
@click.argument("case", type=click.Path(path_type=Path), metavar="FILE.case")
@click.option("--vehicle", "file", type=click.Path(path_type=Path), metavar="FILE.harness",
              help="The vehicle, where the case does not name it.")
@click.option("--date", default="", metavar="DATE",
              help="Written with each answer: 2026-05-03, or 'today' for the clock's.")
def command(case: Path, file: Path | None, date: str) -> None:
    """Ask for what was seen, say what to measure next, and so on to the cause.

    The case is saved after every answer: stop at any time and go on later with the same file.

    \b
    harnessdsl ask fan.case --vehicle car.harness
    """
    from harnessdsl.cli.dialogue import Dialogue
    from harnessdsl.cli.fault_vehicle import faultable
    from harnessdsl.faults.case_file import CaseFile
    from harnessdsl.faults.case_text import quoted

    vehicle, path = vehicle_for(case, file)
    vehicle = faultable(vehicle)
    if case.exists():
        load_case(case, vehicle)
        kept = CaseFile(case, case.read_bytes().decode("utf-8-sig"))
    else:
        kept = CaseFile(case, f"vehicle {quoted(_shown(path, case))}\n")
    predictor = predictor_for(vehicle)
    Dialogue(predictor, kept, day(date)).run()
    say_failures(predictor)


def _shown(file: Path, case: Path) -> str:
    """The vehicle's path as the case file writes it: from its own folder where that is possible."""
    try:
        return str(file.resolve().relative_to(case.parent.resolve()))
    except ValueError:
        return str(file.resolve())
