"""`meter`: what a meter or a test lamp shows at a point."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.conditions import chosen_conditions, setting_options, solved
from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.argument("red", metavar="POINT")
@click.argument("black", required=False, metavar="[POINT]")
@click.option("--condition", "names", multiple=True, metavar="NAME",
              help="A condition of the file; of several, each follows the one before.")
@setting_options
@click.option("--json", "as_json", is_flag=True, help="Print figures for other programs.")
def command(file: Path, red: str, black: str | None, names: tuple[str, ...],
            settings: tuple[str, ...], running: bool | None, ambient: float | None,
            as_json: bool) -> None:
    """Say what a 10-megohm meter and a 5 W test lamp show from POINT to earth, or to a second
    POINT.

    The first point is where the red lead goes. Without a condition all that the file declares are
    gone through. A corroded joint reads full voltage on the meter and leaves the lamp dark.

    \b
    harnessdsl meter car.harness K2.87 --condition cruising
    harnessdsl meter car.harness G1.- E2 --set S1=start
    """
    from harnessdsl.book import meter_report
    from harnessdsl.electric.conditions import circuit_of
    from harnessdsl.electric.study import Study
    from harnessdsl.model.node_names import UnknownPoint, node_named

    vehicle = read_vehicle(file).vehicle
    topology = circuit_of(vehicle).topology
    try:
        node_red = node_named(topology, red)
        node_black = node_named(topology, black) if black is not None else None
    except UnknownPoint as error:
        raise click.UsageError(str(error)) from error
    chosen = chosen_conditions(vehicle, names, settings, running)
    if chosen:
        pairs = [(chosen[-1], solved(vehicle, chosen, ambient)[-1])]
    else:
        study = Study(vehicle)
        every = list(study.conditions.values())
        pairs = [(c, solved(vehicle, [c], ambient)[0]) for c in every]
    rows = [(c, p, *meter_report.readings(p, node_red, node_black)) for c, p in pairs]
    against = black or "earth"
    if as_json:
        import json

        click.echo(json.dumps({"file": str(file), "readings": [
            meter_report.reading_data(c.name, red, against, m, lamp)
            for c, _, m, lamp in rows]}, indent=1, ensure_ascii=False))
        return
    click.echo(f"red on {red}, black on {against}")
    width = max(len(c.name) for c, *_ in rows)
    for condition, point, meter, lamp in rows:
        click.echo(f"{condition.name:<{width}}  {meter_report.reading_line(point, meter, lamp)}")
    click.echo(f"\n{meter_report.CAUTION}")
