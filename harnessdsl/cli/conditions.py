"""The options by which a command is told in which state of the vehicle to look at it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import click

from harnessdsl.diagnostics import did_you_mean

if TYPE_CHECKING:
    from harnessdsl.electric.operating_point import OperatingPoint
    from harnessdsl.model.vehicle import Condition, Vehicle


def setting_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that set switches, temperatures and the engine."""
    for option in (
        click.option("--ambient", type=float, metavar="C", help="Temperature of wires and air."),
        click.option("--running/--stopped", "running", default=None,
                     help="The engine runs, or stands still."),
        click.option("--set", "settings", multiple=True, metavar="WHAT=STATE",
                     help="Set a switch or a temperature: S1=run, S5.turn=left, engine=95C; may be "
                     "given several times."),
    ):
        function = option(function)
    return function


def chosen_conditions(vehicle: Vehicle, names: Sequence[str], settings: Sequence[str],
                      running: bool | None) -> list[Condition]:
    """Return the named conditions, the settings on top of the last one; without names the settings
    from rest; an empty list when nothing was said. Ends the command on words that mean nothing."""
    from harnessdsl.model.given_condition import given_condition

    for name in names:
        if name not in vehicle.conditions:
            hint = did_you_mean(name, vehicle.conditions)
            known = ", ".join(vehicle.conditions)
            raise click.UsageError(
                f"there is no condition '{name}'; "
                + (hint or (f"there are: {known}" if known else "the file declares none: use "
                                                                "--set")))
    found = [vehicle.conditions[name] for name in names]
    if not settings and running is None:
        return found
    condition, wrong = given_condition(vehicle, settings, base=found[-1] if found else None,
                                       engine_running=running)
    if wrong:
        raise click.UsageError("; ".join(
            d.message + (f" ({d.hint})" if d.hint else "") for d in wrong[:5]))
    return [*found[:-1], condition]


def solved(vehicle: Vehicle, conditions: Sequence[Condition], ambient_c: float | None
           ) -> list[OperatingPoint]:
    """Return the operating points one after the other; ends the command without an answer."""
    from harnessdsl.electric import solve_sequence

    points = solve_sequence(vehicle, conditions, ambient_c=ambient_c)
    for condition, point in zip(conditions, points, strict=True):
        if point.failure:
            raise click.ClickException(f"no answer for '{condition.name}': {point.failure}")
    return points
