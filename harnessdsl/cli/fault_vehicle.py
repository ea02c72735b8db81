"""The vehicle as fault finding takes it: with conditions made up when its file has few."""

from __future__ import annotations

import click

from harnessdsl.model.vehicle import Vehicle


def faultable(vehicle: Vehicle, quiet: bool = False) -> Vehicle:
    """Return the vehicle with conditions, and say so when they are made up."""
    from harnessdsl.faults.made_conditions import with_conditions

    found = with_conditions(vehicle)
    made = [name for name in found.conditions if name not in vehicle.conditions]
    if made and not quiet:
        click.echo(f"The file declares {'few conditions' if vehicle.conditions else 'no condition'}"
                   f"; made up: {', '.join(made)}. Write your own, such as: condition run "
                   '"Key in run" { S1 = run }', err=True)
    return found


def day(text: str) -> str:
    """Return a date as it was given, that of the clock for `today`; ends the command when it is
    none."""
    import datetime

    if text == "today":
        return datetime.date.today().isoformat()
    if text:
        try:
            datetime.date.fromisoformat(text)
        except ValueError:
            raise click.UsageError(f"'{text}' is no date; write 2026-05-03") from None
        if len(text) != 10:
            raise click.UsageError(f"'{text}' is no date; write 2026-05-03")
    return text
