"""`fuse-chart`: what each fuse feeds, and how much it carries."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.argument("fuse", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print figures for other programs.")
def command(file: Path, fuse: str | None, as_json: bool) -> None:
    """Say what each fuse (or FUSE alone) feeds in every condition: amperes, share of its rating.

    Conditions are those that the file declares; without any, everything on and each switch moved
    from there.
    """
    from harnessdsl.book import fuse_loads
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.electric.study import Study

    vehicle = read_vehicle(file).vehicle
    study = Study(vehicle)
    protection = [p.name for p in vehicle.parts.values() if p.family in ("fuse", "link", "breaker")]
    if fuse is not None and fuse not in protection:
        hint = did_you_mean(fuse, protection)
        raise click.UsageError(f"there is no fuse '{fuse}'" + (f"; {hint}" if hint else ""))
    if as_json:
        import json

        data = [row for row in fuse_loads.chart_data(vehicle, study)
                if fuse is None or row["fuse"] == fuse]
        click.echo(json.dumps({"file": str(file), "fuses": data}, indent=1, ensure_ascii=False))
        return
    click.echo("\n".join(fuse_loads.chart_lines(vehicle, study, fuse or "")))
    click.echo(fuse_loads.CAUTION)
