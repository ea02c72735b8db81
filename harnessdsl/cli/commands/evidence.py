"""`evidence`: how much of the file is verified, and what rests on a guess."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument

if TYPE_CHECKING:
    from harnessdsl.model.vehicle import Wire


@click.command()
@vehicle_argument
@click.option("--circuit", help="Name the unverified facts of this circuit only.")
@click.option("--findings/--no-findings", default=True,
              help="List the findings that rest on unverified facts.")
@click.option("--figures", is_flag=True,
              help="Compute the circuit too: voltage drops, loads of fuses, heating, drain.")
def command(file: Path, circuit: str | None, findings: bool, figures: bool) -> None:
    """Say by circuit how sure FILE is, and what is only believed."""
    from harnessdsl.diagnostics import Severity, did_you_mean
    from harnessdsl.model.evidence import Trust
    from harnessdsl.pipeline import check_result
    from harnessdsl.plans.evidence_report import (
        evidence_by_circuit,
        loads_that_rest_on,
        rests_on,
    )

    result = read_vehicle(file)
    vehicle = result.vehicle
    report = evidence_by_circuit(vehicle)
    if circuit is not None:
        report = [entry for entry in report if entry.name == circuit]
        if not report:
            hint = did_you_mean(circuit, vehicle.circuits)
            raise click.UsageError(f"there is no circuit '{circuit}'"
                                   + (f"; {hint}" if hint else ""))
    click.echo(f"{'circuit':<28} {'facts':>5} {'sure':>5}  measured traced copied guessed")
    for entry in report:
        counts = [entry.counts[trust] for trust in
                  (Trust.MEASURED, Trust.TRACED, Trust.COPIED, Trust.GUESSED)]
        click.echo(f"{(entry.label or entry.name)[:28]:<28} {entry.total:>5} "
                   f"{entry.verified_share:>5.0%}  {counts[0]:>8} {counts[1]:>6} {counts[2]:>6} "
                   f"{counts[3]:>7}")
        if circuit is not None:
            for name in entry.unverified:
                fact = vehicle.wires.get(name) or vehicle.parts.get(name)
                assert fact is not None
                click.echo(f"  {name:<20} {fact.evidence.trust.word} {fact.evidence.note}".rstrip())
    for claim in vehicle.claims:
        thing = vehicle.wires.get(claim.subject) or vehicle.parts.get(claim.subject)
        trust = thing.evidence.trust.word if thing is not None else "believed"
        click.echo(f"{claim.subject}: another source says: {claim.text} "
                   f"({claim.evidence.trust.word} {claim.evidence.note}); the file believes its "
                   f"own line ({trust})")
    if findings:
        checked = check_result(result, figures=figures).diagnostics
        for finding, wires in rests_on(vehicle, [d for d in checked
                                                 if d.severity >= Severity.WARNING]):
            click.echo(f"{finding.code} {finding.subject}: depends on {_wire_words(wires)}")
    if figures:
        members = {name for entry in report for name in vehicle.circuits[entry.name].parts}
        for name, wires in loads_that_rest_on(vehicle):
            if name in members:
                click.echo(f"voltage and current of {name} {vehicle.parts[name].label}: "
                           f"depend on {_wire_words(wires)}")


def _wire_words(wires: list[Wire]) -> str:
    """Return up to six wires with how sure each is."""
    names = ", ".join(f"{wire.name} ({wire.evidence.trust.word})" for wire in wires[:6])
    return names + (f" and {len(wires) - 6} more" if len(wires) > 6 else "")
