"""`suppose`: what if this broke."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument

_DEEDS = {
    "open": "Break a wire, lamp, coil, earth: --open W31.",
    "short": "Short a point or a wire to metal: --short F7.2.",
    "pull": "Pull a plug or a fuse: --pull X5.",
    "corrode": "Corrode a joint, plug cavity or earth: --corrode X5.2.",
    "weld": "Weld a contact: --weld K2.",
    "blow": "Blow a fuse: --blow F7.",
    "seize": "Seize a motor: --seize M3.",
    "stick": "Hold a switch: --stick S1=run.",
    "flatten": "Run a battery down: --flatten G1.",
}


def _deeds(function):  # type: ignore[no-untyped-def]
    for deed in reversed(_DEEDS):
        function = click.option(f"--{deed}", multiple=True, metavar="NAME", help=_DEEDS[deed])(
            function)
    return function


@click.command()
@vehicle_argument
@click.argument("fault", nargs=-1)
@_deeds
@click.option("--in", "only", multiple=True, metavar="CONDITION", help="Look in this one only.")
@click.option("--list", "word", metavar="WORD", help="List the faults whose words hold WORD.")
def command(file: Path, fault: tuple[str, ...], only: tuple[str, ...], word: str | None,
            **deeds: tuple[str, ...]) -> None:
    """Say what dies, glows, stays on and blows when things break; several may break at once.

    \b
    harnessdsl suppose car.harness --open W31
    harnessdsl suppose car.harness --short F7.2 --in hot-idle
    harnessdsl suppose car.harness --list fan
    """
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.faults.suppose import Unknown, by_deed, by_id, effect_lines, effects_of
    from harnessdsl.faults.sweep import Bench

    vehicle = read_vehicle(file).vehicle
    for name in only:
        if name not in vehicle.conditions:
            raise click.ClickException(f"there is no condition '{name}'; " + (
                did_you_mean(name, vehicle.conditions) or
                "the file has: " + ", ".join(vehicle.conditions)))
    bench = Bench.of(vehicle, [vehicle.conditions[n] for n in only] if only else None)
    if word is not None:
        wanted = word.casefold()
        for each in bench.faults:
            if wanted in each.words.casefold() or wanted in each.id.casefold():
                click.echo(f"{each.id:<44} {each.words}")
        return
    chosen = []
    try:
        chosen += [by_id(bench, name) for name in fault]
        for deed, names in deeds.items():
            for name in names:
                chosen += by_deed(bench, deed, name)
    except Unknown as error:
        raise click.ClickException(str(error)) from error
    if not chosen:
        raise click.UsageError("Say what breaks: a fault's id, or --open, --short, --pull, ...")
    for each in chosen:
        click.echo(f"suppose: {each.words}")
    for line in effect_lines(bench, effects_of(bench, chosen)):
        click.echo(line)
