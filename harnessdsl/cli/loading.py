"""What every command does first: read the file, and say what could not be understood."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import click

from harnessdsl.diagnostics import Diagnostic, Severity, render
from harnessdsl.files import replace_file
from harnessdsl.pipeline import Result, load
from harnessdsl.plans.builds import Selection
from harnessdsl.text import SourceFile

_CHOSEN = "harnessdsl.chosen"


def _remember(context: click.Context, parameter: click.Parameter, value: object) -> None:
    context.meta.setdefault(_CHOSEN, {})[parameter.name] = value


def selection_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options that choose one car of those that a file describes; see `selection`."""
    for option in (
        click.option("--overlay", type=click.Path(path_type=Path), multiple=True, metavar="FILE",
                     expose_value=False, callback=_remember,
                     help="Put this overlay on top; may be given several times."),
        click.option("--built", metavar="DATE", expose_value=False, callback=_remember,
                     help="Take the car built then, such as 1986-04."),
        click.option("--chassis", metavar="NUMBER", expose_value=False, callback=_remember,
                     help="Take the car with this chassis number."),
        click.option("--without", multiple=True, metavar="OPTION", expose_value=False,
                     callback=_remember, help="Take a car without this option."),
        click.option("--with", multiple=True, metavar="OPTION", expose_value=False,
                     callback=_remember,
                     help="Take a car with this option, or with this value of a choice: "
                          "NAME=VALUE."),
    ):
        function = option(function)
    return function


def selection() -> Selection:
    """Return what the current command's line chooses."""
    context = click.get_current_context(silent=True)
    chosen = context.meta.get(_CHOSEN, {}) if context is not None else {}
    return Selection(tuple(chosen.get("with", ())), tuple(chosen.get("without", ())),
                     chosen.get("chassis") or "", chosen.get("built") or "")


def overlays() -> tuple[Path, ...]:
    """Return the overlays that the current command's line puts on top."""
    context = click.get_current_context(silent=True)
    chosen = context.meta.get(_CHOSEN, {}) if context is not None else {}
    return tuple(chosen.get("overlay", ()))


def vehicle_argument(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the file of a vehicle, and the options that choose one car of it."""
    argument = click.argument("file", type=click.Path(path_type=Path), metavar="FILE.harness")
    return argument(selection_options(function))


MAX_PRINTED = 400


def print_diagnostics(diagnostics: Iterable[Diagnostic], sources: dict[str, SourceFile],
                      err: bool = True) -> None:
    """Print messages one after another; of very many only the first."""
    found = list(diagnostics)
    for diagnostic in found[:MAX_PRINTED]:
        click.echo(render(diagnostic, sources), err=err)
    if len(found) > MAX_PRINTED:
        click.echo(f"... and {len(found) - MAX_PRINTED} more; correct these first.", err=err)


def read_vehicle(file: Path, keep_going: bool = False) -> Result:
    """Return the vehicle, or print what is wrong and end with status 1."""
    result = load(file, selection(), overlays())
    if result.diagnostics:
        print_diagnostics(result.diagnostics, result.sources)
    if result.broken and not keep_going:
        count = sum(d.severity is Severity.ERROR for d in result.diagnostics)
        click.echo(f"{count} {'mistake' if count == 1 else 'mistakes'} in the file; "
                   "nothing was written.", err=True)
        raise SystemExit(2 if not result.vehicle.parts and not file.is_file() else 1)
    return result


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all."""
    replace_file(path, text.encode("utf-8"))
