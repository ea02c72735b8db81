"""`list-out`: wire list or fuse chart as CSV."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.argument("what", type=click.Choice(("wires", "fuses")))
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="Write to this file, not to the terminal.")
def command(file: Path, what: str, out: Path | None) -> None:
    """Write the wires or the fuses of FILE as a CSV table."""
    from harnessdsl.cli.loading import write_text
    from harnessdsl.exchange.fuse_chart import export_fuses
    from harnessdsl.exchange.wire_list import export_wires

    vehicle = read_vehicle(file).vehicle
    text = export_wires(vehicle) if what == "wires" else export_fuses(vehicle)
    if out is None:
        click.echo(text, nl=False)
    else:
        write_text(out, text)
        click.echo(f"{out}: {text.count(chr(10)) - 1} {what}")
