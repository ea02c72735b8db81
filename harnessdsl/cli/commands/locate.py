"""`locate`: maps of where everything is, boxes, plugs, runs; as drawings or on the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument

if TYPE_CHECKING:
    from harnessdsl.model.layout import Layout
    from harnessdsl.model.vehicle import Vehicle


@click.command()
@vehicle_argument
@click.argument("name", required=False)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False),
              help="Draw into this folder; without it the answer is printed.")
@click.option("--runs", is_flag=True, help="The harness runs: branches, lengths, wires.")
@click.option("--damaged", metavar="PLACE-OR-RUN",
              help="What is in the harness at a damaged spot.")
@click.option("--metres", type=float, help="With --damaged RUN: how far from its first place.")
@click.option("--paper", type=click.Choice(("A4", "A3", "A4-portrait", "A3-portrait")),
              default="A4", show_default=True)
@click.option("--photos", type=click.Choice(("embed", "link")), default="embed",
              show_default=True, help="Put photos into the drawing, or point to their files.")
@click.option("--date", default="", metavar="DATE", help="The date for the title block.")
@click.option("--drawn-by", default="", metavar="NAME", help="The name for the title block.")
def command(file: Path, name: str | None, out: Path | None, runs: bool, damaged: str | None,
            metres: float | None, paper: str, photos: str, date: str, drawn_by: str) -> None:
    """Show where things in FILE are: everything, or NAME.

    NAME is a part, a place, a box, a plug or a circuit. A box is shown slot by slot, a plug face
    by face. With --out, drawings are made; without a NAME, all of them.
    """
    from harnessdsl.cli.loading import print_diagnostics
    from harnessdsl.model.layout_shelf import load_layout
    from harnessdsl.model.location import zone_messages

    result = read_vehicle(file, keep_going=out is None)
    vehicle = result.vehicle
    _check_names(vehicle, name, damaged)
    found = load_layout(vehicle.body, file.parent, vehicle.span)
    if found.diagnostics:
        print_diagnostics(found.diagnostics, found.sources)
    layout = found.layout
    if layout is not None:
        print_diagnostics(zone_messages(vehicle, layout), result.sources)
    if out is None:
        click.echo("\n".join(_text(vehicle, layout, name, runs, damaged, metres)))
        return
    if layout is None:
        from harnessdsl.model.location import plain_layout
        from harnessdsl.model.wire_builder import place_position

        positions = {place: position for place in vehicle.places
                     if (position := place_position(vehicle.places, place)) is not None}
        layout = plain_layout(positions)
    _draw(vehicle, layout, file, out, name, runs, damaged, metres,
          {"page_size": paper, "date": date, "drawn_by": drawn_by}, photos == "embed")


def _check_names(vehicle: Vehicle, name: str | None, damaged: str | None) -> None:
    from harnessdsl.diagnostics import did_you_mean

    groups = {"part, place or circuit": (name, [*vehicle.parts, *vehicle.places,
                                                *vehicle.circuits]),
              "place or run": (damaged, [*vehicle.places, *vehicle.runs])}
    for what, (wanted, known) in groups.items():
        if wanted is not None and wanted not in known:
            hint = did_you_mean(wanted, known)
            raise click.UsageError(f"there is no {what} '{wanted}'" + (f"; {hint}" if hint else ""))


def _text(vehicle: Vehicle, layout: Layout | None, name: str | None, runs: bool,
          damaged: str | None, metres: float | None) -> list[str]:
    from harnessdsl.drawing import maps
    from harnessdsl.model.bundles import damaged_at

    if damaged is not None:
        try:
            return maps.damage_text(vehicle, damaged_at(vehicle, damaged, metres))
        except ValueError as error:
            raise click.UsageError(str(error)) from None
    if runs:
        return maps.runs_text(vehicle) or ["the file names no harness runs"]
    if name is None:
        return maps.map_text(vehicle, layout)
    lines = maps.locate_text(vehicle, name, layout)
    if name in vehicle.places and vehicle.places[name].slots:
        lines += maps.box_text(vehicle, name)
    if name in vehicle.parts and vehicle.parts[name].connector is not None:
        lines += maps.connector_text(vehicle, name)
    return lines


def _draw(vehicle: Vehicle, layout: Layout, file: Path, out: Path, name: str | None, runs: bool,
          damaged: str | None, metres: float | None, style: dict[str, Any], embed: bool) -> None:
    from harnessdsl.cli.loading import print_diagnostics, write_text
    from harnessdsl.drawing import maps
    from harnessdsl.drawing.svg import render_svg
    from harnessdsl.model.bundles import damaged_at
    from harnessdsl.pipeline import load

    pictures = maps.Pictures(embed=embed, output_folder=out)
    pages = []
    if damaged is not None:
        try:
            pages = maps.draw_damage(vehicle, layout, damaged_at(vehicle, damaged, metres),
                                     **style)
        except ValueError as error:
            raise click.UsageError(str(error)) from None
    elif name is not None:
        if name in vehicle.parts and vehicle.parts[name].connector is not None:
            pages += maps.draw_connector(vehicle, name, **style)
        if name in vehicle.places:
            pages += maps.draw_place(vehicle, layout, name, pictures=pictures, **style)
            if vehicle.places[name].slots:
                pages += maps.draw_box(vehicle, name, **style)
        else:
            pages += maps.draw_maps(vehicle, layout, highlight=name, pictures=pictures, **style)
    else:
        if not runs:
            pages += maps.draw_maps(vehicle, layout, pictures=pictures, **style)
            for box in maps.boxes(vehicle):
                pages += maps.draw_box(vehicle, box, **style)
            for part in vehicle.parts.values():
                if part.connector is not None:
                    pages += maps.draw_connector(vehicle, part.name, **style)
            for place in vehicle.places.values():
                if place.photo is not None:
                    pages += maps.draw_place(vehicle, layout, place.name, pictures=pictures,
                                             **style)
        pages += maps.draw_runs(vehicle, layout, **style)
    if pictures.diagnostics:
        print_diagnostics(pictures.diagnostics, load(file).sources)
    for page in pages:
        write_text(out / f"{page.name}.svg", render_svg(page))
    click.echo(f"{out}: {len(pages)} {'sheet' if len(pages) == 1 else 'sheets'}")
