"""`suppose`: what if this broke."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from harnessdsl.cli.conditions import chosen_conditions, setting_options
from harnessdsl.cli.loading import read_vehicle, vehicle_argument, write_text

_DEEDS = {
    "open": "Break a wire, lamp, coil, earth, pin of a plug: --open W31.",
    "short": "Short a point or a wire to metal: --short F7.2.",
    "touch": "Let two points or wires touch: --touch X5.1=X5.2.",
    "pull": "Pull a plug or a fuse: --pull X5.",
    "corrode": "Corrode a joint, plug cavity or earth: --corrode X5.2.",
    "weld": "Weld a contact: --weld K2.",
    "never-close": "Keep a contact from closing: --never-close K2.",
    "turns": "Short some turns of a coil: --turns K2.",
    "wrong": "Fit the wrong relay: --wrong K2.",
    "stick": "Hold a switch: --stick S1=run.",
    "shift": "Let a thermal switch work too late or too early: --shift S9=early.",
    "blow": "Blow a fuse: --blow F7.",
    "seize": "Seize a motor: --seize M3.",
    "wear": "Wear a motor or a contact: --wear M3.",
    "kill": "Kill a module, one of its pins, a load: --kill A3.",
    "flatten": "Run a battery down: --flatten G1.",
}
_MOST_DRAWN = 12


def _deeds(function: Callable[..., Any]) -> Callable[..., Any]:
    for deed in reversed(_DEEDS):
        function = click.option(f"--{deed}", multiple=True, metavar="NAME", help=_DEEDS[deed])(
            function)
    return function


@click.command()
@vehicle_argument
@click.argument("fault", nargs=-1)
@_deeds
@click.option("--only", "when", type=click.Choice(("hot", "moving")),
              help="The faults are there only when it is hot, or only when the vehicle moves.")
@click.option("--in", "only", multiple=True, metavar="CONDITION", help="Look in this one only.")
@setting_options
@click.option("--draw", "folder", type=click.Path(path_type=Path, file_okay=False),
              help="Also draw the sheets that show it, into this folder.")
@click.option("--list", "word", metavar="WORD", help="List the faults whose words hold WORD.")
def command(file: Path, fault: tuple[str, ...], when: str | None, only: tuple[str, ...],
            settings: tuple[str, ...], running: bool | None, ambient: float | None,
            folder: Path | None, word: str | None, **deeds: tuple[str, ...]) -> None:
    """Say what dies, glows, stays on and blows when things break; several may break at once.

    \b
    harnessdsl suppose car.harness --open W31
    harnessdsl suppose car.harness --short F7.2 --in hot-idle --draw what-if
    harnessdsl suppose car.harness --list fan
    """
    from dataclasses import replace

    from harnessdsl.cli.fault_vehicle import faultable
    from harnessdsl.faults.bench import Bench
    from harnessdsl.faults.suppose import (
        Unknown,
        by_deed,
        by_id,
        only_when,
        outcome_lines,
        outcomes_of,
    )

    vehicle = faultable(read_vehicle(file).vehicle, quiet=bool(settings) or word is not None)
    chosen = chosen_conditions(vehicle, only, settings, running)
    if chosen:
        vehicle = replace(vehicle, conditions={c.name: c for c in chosen})
    if ambient is not None:
        vehicle = replace(vehicle, conditions={
            c.name: replace(c, temperatures_c={**c.temperatures_c, "ambient": ambient})
            for c in vehicle.conditions.values()})
    bench = Bench.of(vehicle)
    if word is not None:
        wanted = word.casefold()
        found = [f for f in bench.faults
                 if wanted in f.words.casefold() or wanted in f.id.casefold()]
        for each in found:
            click.echo(f"{each.id:<44} {each.words}")
        if not found:
            click.echo(f"no fault has '{word}' in its words")
        return
    faults = []
    try:
        faults += [by_id(bench, name) for name in fault]
        for deed, names in deeds.items():
            for name in names:
                faults += by_deed(bench, deed.replace("_", "-"), name)
    except Unknown as error:
        raise click.ClickException(str(error)) from error
    if not faults:
        raise click.UsageError("Say what breaks: a fault's id, or --open, --short, --pull, ...")
    if when is not None:
        faults = only_when(faults, when)
    for each in faults:
        click.echo(f"suppose: {each.words}")
    outcomes = outcomes_of(bench, faults)
    if when is not None and not any(one.there for one in outcomes):
        click.echo({"hot": "No condition here is hot: write one with, say, engine 95 C in it.",
                    "moving": "No condition here is one of driving: write 'moving' in the block of "
                              "one."}[when])
    for line in outcome_lines(bench, faults, outcomes):
        click.echo(line)
    if folder is None:
        return
    from harnessdsl.book.fault_drawing import fault_pages
    from harnessdsl.drawing.schematic import SchematicOptions
    from harnessdsl.drawing.svg import render_svg

    drawn = [one for one in outcomes if one.there and not one.effect.failed and (
        chosen or one.effect.states or one.effect.opened or one.effect.moved)]
    count = 0
    for one in drawn[:_MOST_DRAWN]:
        for page in fault_pages(bench, faults, one, SchematicOptions()):
            write_text(folder / f"{page.name}.svg", render_svg(page))
            count += 1
    click.echo(f"{folder}: {count} {'sheet' if count == 1 else 'sheets'}")
    if len(drawn) > _MOST_DRAWN:
        click.echo(f"(of the first {_MOST_DRAWN} conditions in which it shows; '--in' chooses)")
