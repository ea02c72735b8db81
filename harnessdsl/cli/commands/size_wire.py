"""`size-wire`: which wire and fuse a new circuit needs."""

from __future__ import annotations

import re

import click

_UNIT_PATTERN = r"\s*(\d+(?:\.\d+)?)\s*({units})?\s*"


@click.command()
@click.argument("load", metavar="LOAD")
@click.argument("length", metavar="LENGTH")
@click.option("--kind", default="other", show_default=True, type=click.Choice(
    ("lamp", "small-lamp", "headlamp", "heater", "motor", "control", "other")),
    help="What the load is: sets the allowed drop and the rush of current.")
@click.option("--return", "back", metavar="LENGTH", help="Wire from the load to its earth point; "
              "else as long as the way out.")
@click.option("--supply", default="12 V", show_default=True, help="6, 12, 24 or 48 V.")
@click.option("--drop", metavar="VOLTS", help="Allowed drop in the whole circuit: 0.5 V or 3 %; "
              "else the handbook's limit.")
@click.option("--ambient", type=float, default=30.0, show_default=True,
              help="Temperature around the wire in C; 50 and more in an engine bay.")
@click.option("--bundle", type=click.IntRange(1, 200), default=1, show_default=True,
              help="Loaded wires side by side, this one included.")
@click.option("--class", "class_c", type=float, metavar="C",
              help="Temperature class of the insulation; else PVC, 70 C.")
@click.option("--json", "as_json", is_flag=True, help="Print figures for other programs.")
def command(load: str, length: str, kind: str, back: str | None, supply: str, drop: str | None,
            ambient: float, bundle: int, class_c: float | None, as_json: bool) -> None:
    """Say which wire, which fuse and whether a relay a new circuit needs, and why.

    LOAD is its current or power, LENGTH the way from the supply to it.

    \b
    harnessdsl size-wire 55W 3m --kind headlamp
    harnessdsl size-wire 13A "5.5 m" --kind heater --return "1 m" --ambient 50 --bundle 5
    """
    from harnessdsl.electric.sizing import SizingError, Task, advise, with_power

    nominal_v = _amount(supply, ("V",), "12 V")[0]
    amount, unit = _amount(load, ("A", "W"), "8 A or 55 W")
    task = Task(
        amount, _amount(length, ("m",), "3.5 m")[0],
        _amount(back, ("m",), "1 m")[0] if back is not None else None, kind, nominal_v,
        _drop_v(drop, nominal_v), ambient, bundle, class_c)
    if unit == "W":
        task = with_power(task, amount)
    try:
        advice = advise(task)
    except SizingError as error:
        raise click.ClickException(str(error)) from error
    if as_json:
        import dataclasses
        import json

        click.echo(json.dumps(dataclasses.asdict(advice), indent=1, ensure_ascii=False))
        return
    lines = [
        f"wire   {advice.area_mm2:g} mm2",
        f"fuse   {advice.fuse_a:g} A",
        f"relay  {'yes' if advice.relay else 'no'}",
        f"drop   {advice.drop_v:.2f} V of {advice.allowed_v:.2f} V allowed",
        "", "because", *(f"  {text}" for text in advice.reasons),
        "", "it may carry this if", *(f"  {text}" for text in advice.assumptions),
        "", *(f"! {text}" for text in advice.cautions)]
    click.echo("\n".join(lines))


def _amount(text: str, units: tuple[str, ...], example: str) -> tuple[float, str]:
    match = re.fullmatch(_UNIT_PATTERN.format(units="|".join(units)), text)
    if match is None or not float(match[1]) >= 0:
        raise click.UsageError(f"'{text}' is no such figure; write {example}")
    if match[2] is None and len(units) > 1:
        raise click.UsageError(f"'{text}': amperes or watts? Write {example}")
    return float(match[1]), match[2] or units[0]


def _drop_v(text: str | None, nominal_v: float) -> float | None:
    if text is None:
        return None
    share = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*%\s*", text)
    if share is not None:
        return float(share[1]) / 100 * nominal_v
    return _amount(text, ("V",), "0.5 V or 3 %")[0]
