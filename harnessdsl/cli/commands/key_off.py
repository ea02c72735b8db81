"""`key-off`: what the parked vehicle draws, and how long the battery lasts."""

from __future__ import annotations

import re
from pathlib import Path

import click

from harnessdsl.cli.conditions import chosen_conditions, setting_options, solved
from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.argument("condition", required=False)
@setting_options
@click.option("--limit", metavar="CURRENT", help="The most that is allowed, such as 50 mA; else "
              "the battery's own 'quiescent' figure, else 50 mA.")
@click.option("--json", "as_json", is_flag=True, help="Print figures for other programs.")
def command(file: Path, condition: str | None, settings: tuple[str, ...], running: bool | None,
            ambient: float | None, limit: str | None, as_json: bool) -> None:
    """Say what draws current with the key out, and after how many days the engine does not start.

    With CONDITION or --set, in that state: a door left open, say. Ends with status 1 when the
    drain is above the limit.
    """
    from harnessdsl.book.drain_report import CAUTION, drain_data, drain_lines
    from harnessdsl.electric.battery_life import drains
    from harnessdsl.electric.study import Study
    from harnessdsl.model.vehicle import Condition

    vehicle = read_vehicle(file).vehicle
    limit_a = _limit_a(limit)
    names = (condition,) if condition else ()
    chosen = chosen_conditions(vehicle, names, settings, running) or [
        Condition("parked", "every switch at rest")]
    point = solved(vehicle, chosen, ambient)[-1]
    study = Study(vehicle)
    found = drains(study, point, limit_a)
    if not found:
        raise click.ClickException("there is no battery in this file")
    if as_json:
        import json

        click.echo(json.dumps({"file": str(file), "condition": chosen[-1].name, "batteries": [
            drain_data(drain) for drain in found]}, indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(drain_lines(vehicle, found)))
        click.echo(f"\n{CAUTION}")
    if any(drain.current_a > drain.limit_a for drain in found):
        raise SystemExit(1)


def _limit_a(text: str | None) -> float | None:
    if text is None:
        return None
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(mA|A)?\s*", text)
    if match is None:
        raise click.UsageError(f"'{text}' is no current; write 50 mA")
    return float(match[1]) * (1.0 if match[2] == "A" else 1e-3)
