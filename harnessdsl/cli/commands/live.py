"""`live`: what is on, at what voltage and current."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.conditions import chosen_conditions, setting_options, solved
from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.argument("conditions", nargs=-1, metavar="[CONDITION]...")
@setting_options
@click.option("--circuit", metavar="NAME", default="", help="Only the parts of this circuit.")
@click.option("--all", "everything", is_flag=True, help="List what is off too.")
@click.option("--json", "as_json", is_flag=True, help="Print figures for other programs.")
def command(file: Path, conditions: tuple[str, ...], settings: tuple[str, ...],
            running: bool | None, ambient: float | None, circuit: str, everything: bool,
            as_json: bool) -> None:
    """Say which loads are on, at what voltage and current, and what every fuse carries.

    \b
    harnessdsl live car.harness                        all conditions side by side
    harnessdsl live car.harness night-dipped           one condition
    harnessdsl live car.harness parked radio           one after the other: relays keep their state
    harnessdsl live car.harness --set S1=run --set engine=95C --running
    """
    from harnessdsl.book import live_report
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.electric import matrix
    from harnessdsl.electric.study import Study

    vehicle = read_vehicle(file).vehicle
    if circuit and circuit not in vehicle.circuits:
        hint = did_you_mean(circuit, vehicle.circuits)
        raise click.UsageError(f"there is no circuit '{circuit}'" + (f"; {hint}" if hint else ""))
    chosen = chosen_conditions(vehicle, conditions, settings, running)
    if chosen:
        points = solved(vehicle, chosen, ambient)
        pairs = list(zip(chosen, points, strict=True))
    else:
        study = Study(vehicle)
        found = matrix(vehicle, study.conditions.values(), ambient_c=ambient)
        pairs = [(study.conditions[name], point) for name, point in found.items()]
    if as_json:
        import json

        data = [live_report.point_data(vehicle, c, p) for c, p in pairs]
        click.echo(json.dumps({"file": str(file), "conditions": data}, indent=1,
                              ensure_ascii=False))
        return
    if chosen:
        for number, (condition, point) in enumerate(pairs):
            lines = live_report.live_lines(vehicle, condition, point, everything, circuit)
            click.echo(("\n" if number else "") + "\n".join(lines))
    else:
        click.echo("\n".join(live_report.matrix_lines(
            vehicle, {c.name: p for c, p in pairs if not p.failure}, circuit)))
    click.echo(f"\n{live_report.CAUTION}")
