"""`check`: what is wrong in a file."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import overlays, selection, vehicle_argument

_LEVELS = ("note", "warning", "error")


@click.command()
@vehicle_argument
@click.option("--fail-on", type=click.Choice(_LEVELS), default="warning", show_default=True,
              help="End with status 1 when a finding is at least this bad.")
@click.option("--show", type=click.Choice(_LEVELS), default="note", show_default=True,
              help="Print findings that are at least this bad.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings for other programs.")
@click.option("--accepted/--no-accepted", default=True,
              help="List the findings that the file accepts.", show_default=True)
@click.option("--every-build", is_flag=True,
              help="Check all combinations of options, choices, numbers and dates that exist.")
@click.option("--figures", is_flag=True,
              help="Compute the circuit in all conditions too: hot wires, shorts that the fuse "
              "does not see, fuses and contacts near their rating, voltage drops, the battery.")
def command(file: Path, fail_on: str, show: str, as_json: bool, accepted: bool,
            every_build: bool, figures: bool) -> None:
    """Find mistakes in FILE: in the writing, and in the wiring.

    Ends with status 0 when clean, 1 with findings at or above --fail-on, 2 for a call that makes
    no sense. 'harnessdsl explain CODE' tells more about a finding.
    """
    from harnessdsl.cli.loading import print_diagnostics
    from harnessdsl.diagnostics import Severity, printable
    from harnessdsl.pipeline import check, check_every_build

    if every_build:
        result, count = check_every_build(file, selection(), overlays(), figures)
        click.echo(f"{count} {'build' if count == 1 else 'builds'} checked", err=True)
    else:
        result = check(file, selection(), overlays(), figures)
    least = Severity[show.upper()]
    shown = [d for d in result.diagnostics
             if d.severity >= least and (accepted or d.accepted is None)]
    open_findings = [d for d in result.diagnostics if d.accepted is None]
    failing = [d for d in open_findings if d.severity >= Severity[fail_on.upper()]]
    if as_json:
        import json

        from harnessdsl.diagnostics import to_json

        click.echo(json.dumps({"file": str(file), "findings": [to_json(d) for d in shown]},
                              indent=1, ensure_ascii=False))
    else:
        print_diagnostics(shown, result.sources, err=False)
        counts = [sum(d.severity is level for d in open_findings)
                  for level in (Severity.ERROR, Severity.WARNING, Severity.NOTE)]
        words = [f"{count} {word}{'' if count == 1 else 's'}"
                 for count, word in zip(counts, ("error", "warning", "note"), strict=True)]
        tail = len(result.diagnostics) - len(open_findings)
        vehicle = result.vehicle
        click.echo(
            f"{printable(vehicle.name or str(file))}: {len(vehicle.parts)} parts, "
            f"{len(vehicle.wires)} wires: "
            + ", ".join(words) + (f", {tail} accepted" if tail else "")
            + ("" if figures or result.broken else
               " (what is connected only; currents and voltages: --figures)"))
    if not result.sources or (not vehicle_read(result.sources, file)):
        raise SystemExit(2)
    if failing:
        raise SystemExit(1)


def vehicle_read(sources: dict[str, object] | object, file: Path) -> bool:
    """Say whether the file itself could be read at all."""
    assert isinstance(sources, dict)
    return str(file) in sources
