"""`symptoms`: for everything that can be seen to go wrong, what may be behind it."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.fault_vehicle import day, faultable
from harnessdsl.cli.loading import read_vehicle, vehicle_argument, write_text
from harnessdsl.cli.searching import sweep_with_progress


@click.command()
@vehicle_argument
@click.argument("part", required=False, default="")
@click.option("--most", default=12, show_default=True, type=click.IntRange(1),
              help="Causes listed for each symptom.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="Write the table to this file.")
@click.option("--paper", type=click.Path(path_type=Path, file_okay=False),
              help="Draw it as pages to print (A4), into this folder.")
@click.option("--date", default="", metavar="DATE", help="The date for the pages.")
def command(file: Path, part: str, most: int, out: Path | None, paper: Path | None, date: str
            ) -> None:
    """Print the table of symptoms: each with the faults that explain it, likeliest first.

    \b
    harnessdsl symptoms car.harness M2
    harnessdsl symptoms car.harness --out symptoms.txt
    harnessdsl symptoms car.harness --paper book
    """
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.faults.symptoms import find_symptoms, symptom_lines

    date = day(date)
    vehicle = faultable(read_vehicle(file).vehicle)
    if part and part not in vehicle.parts:
        raise click.ClickException(f"there is no part '{part}'"
                                   + (f"; {h}" if (h := did_you_mean(part, vehicle.parts)) else ""))
    sweep = sweep_with_progress(vehicle)
    text = "\n".join(symptom_lines(sweep, part, most))
    if out is not None:
        write_text(out, text + "\n")
        click.echo(f"wrote {out}")
    if paper is not None:
        from harnessdsl.book.symptom_pages import symptom_pages
        from harnessdsl.drawing.svg import render_svg

        found = [s for s in find_symptoms(sweep, most) if part in ("", s.part)]
        pages = symptom_pages(vehicle, found, date)
        for page in pages:
            write_text(paper / f"{page.name}.svg", render_svg(page))
        click.echo(f"{paper}: {len(pages)} {'page' if len(pages) == 1 else 'pages'}")
    if out is None and paper is None:
        click.echo(text or f"nothing that is seen of {part or 'this vehicle'} can go wrong")
    for number, condition, why in sweep.failures:
        click.echo(f"no answer for '{sweep.bench.faults[number].words}' in "
                   f"{sweep.bench.conditions[condition].name}: {why}", err=True)
