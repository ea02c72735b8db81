"""`draw`: schematics, one sheet a circuit."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.conditions import chosen_conditions, setting_options, solved
from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), default=Path("sheets"),
              show_default=True, help="The folder for the drawings.")
@click.option("--circuit", "circuits", multiple=True, metavar="NAME",
              help="Only the sheets of this circuit; may be given several times.")
@click.option("--paper", type=click.Choice(("A4", "A3", "fit")), default="fit", show_default=True,
              help="The paper; 'fit' takes A4 where a sheet fits on it.")
@click.option("--live", "conditions", multiple=True, metavar="CONDITION",
              help="Show what is live, dead and flowing in this condition; of several, each "
              "follows the one before.")
@setting_options
@click.option("--date", default="", metavar="DATE", help="The date for the title block.")
@click.option("--drawn-by", default="", metavar="NAME", help="The name for the title block.")
def command(file: Path, out: Path, circuits: tuple[str, ...], paper: str,
            conditions: tuple[str, ...], settings: tuple[str, ...], running: bool | None,
            ambient: float | None, date: str, drawn_by: str) -> None:
    """Draw the schematics of FILE as SVG, one sheet a circuit.

    Supply lines are at the top, earth is at the bottom, tracks are numbered through all sheets.
    With --live (or --set) wires that carry current are labelled with it, live ones with their
    volts; dead ones are faint.
    """
    from harnessdsl.cli.loading import write_text
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.drawing.schematic import SchematicOptions, draw_schematics
    from harnessdsl.drawing.svg import render_svg

    vehicle = read_vehicle(file).vehicle
    for name in circuits:
        if name not in vehicle.circuits:
            hint = did_you_mean(name, vehicle.circuits)
            raise click.UsageError(f"there is no circuit '{name}'" + (f"; {hint}" if hint else ""))
    sizes = ("A4", "A3") if paper == "fit" else (paper,)
    options = SchematicOptions(date=date, drawn_by=drawn_by, sizes=sizes)
    chosen = chosen_conditions(vehicle, conditions, settings, running)
    if chosen:
        from dataclasses import replace

        from harnessdsl.book.live_annotations import annotations_of, state_note

        point = solved(vehicle, chosen, ambient)[-1]
        pages = draw_schematics(vehicle, replace(options, notes=state_note(chosen[-1])),
                                annotations_of(vehicle, point))
    else:
        pages = draw_schematics(vehicle, options)
    titles = {vehicle.circuits[name].label or name for name in circuits}
    if circuits:
        pages = [page for page in pages
                 if any(name in page.name for name in circuits) or page.title in titles]
    for page in pages:
        write_text(out / f"{page.name}.svg", render_svg(page))
    click.echo(f"{out}: {len(pages)} {'sheet' if len(pages) == 1 else 'sheets'}")
