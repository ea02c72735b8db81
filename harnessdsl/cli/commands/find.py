"""`find`: what is this thing, where is it, what feeds it."""

from __future__ import annotations

import re
from pathlib import Path

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.argument("name", required=False)
@click.option("--colour", help="A wire seen in the car, by colour: BK/YE.")
@click.option("--area", help="Its size: '4 mm2' or '12 AWG'.")
@click.option("--near", help="A place that it was seen near.")
def command(file: Path, name: str | None, colour: str | None, area: str | None,
            near: str | None) -> None:
    """Say what NAME is: a part, a wire, a place; or which wires look like the one seen.

    \b
    harnessdsl find car.harness K2
    harnessdsl find car.harness --colour BK/YE --area "4 mm2" --near dash-box
    """
    from harnessdsl.book import answer
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.model.colour import read_colour

    vehicle = read_vehicle(file, keep_going=True).vehicle
    if name is not None:
        base = name.partition(".")[0]
        if base in vehicle.parts:
            lines = answer.part_lines(vehicle, base)
        elif name in vehicle.wires:
            lines = answer.wire_lines(vehicle, vehicle.wires[name])
        elif name in vehicle.places:
            lines = answer.place_lines(vehicle, name)
        else:
            wanted = name.casefold()
            hits = [part for part in vehicle.parts.values() if wanted in part.label.casefold()]
            if not hits:
                known = [*vehicle.parts, *vehicle.places, *vehicle.wires]
                raise click.ClickException(
                    f"there is no part, wire or place '{name}'"
                    + (f"; {hint}" if (hint := did_you_mean(name, known)) else ""))
            if len(hits) == 1:
                lines = answer.part_lines(vehicle, hits[0].name)
            else:
                lines = [f"{part.name:<8} {part.label}" for part in hits]
        click.echo("\n".join(lines))
        return
    if not (colour or area or near):
        raise click.UsageError("Say what to find: a NAME, or --colour, --area, --near.")
    code = ""
    if colour:
        code = read_colour(colour, din=True) or read_colour(colour.upper()) or ""
        if not code:
            raise click.UsageError(f"'{colour}' is no colour; codes are BK BN RD OG YE GN BU VT "
                                   "GY WH PK TQ, base first: BK/YE")
    if near and near not in vehicle.places:
        raise click.UsageError(f"there is no place '{near}'"
                               + (f"; {hint}" if (hint := did_you_mean(near, vehicle.places))
                                  else ""))
    wires = answer.wires_like(vehicle, code, _area_mm2(area), near or "")
    for wire in wires:
        click.echo(f"{wire.name:<18} {answer.wire_text(vehicle, wire)}")
    click.echo(f"{len(wires)} {'wire' if len(wires) == 1 else 'wires'}")
    if not wires:
        raise SystemExit(1)


def _area_mm2(area: str | None) -> float | None:
    from harnessdsl.quantity import Quantity

    if area is None:
        return None
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(mm2|mm²|AWG)?\s*", area)
    if match is None or float(match[1]) <= 0:
        raise click.UsageError(f"'{area}' is no size; write '4 mm2' or '12 AWG'")
    return Quantity.of(float(match[1]), match[2] or "mm2").value
