"""What every command does first: read the file, and say what could not be understood."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

import click

from harnessdsl.diagnostics import Diagnostic, Severity, render
from harnessdsl.pipeline import Result, load
from harnessdsl.text import SourceFile

vehicle_argument = click.argument(
    "file", type=click.Path(path_type=Path), metavar="FILE.harness")


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
    result = load(file)
    if result.diagnostics:
        print_diagnostics(result.diagnostics, result.sources)
    if result.broken and not keep_going:
        count = sum(d.severity is Severity.ERROR for d in result.diagnostics)
        click.echo(f"{count} {'mistake' if count == 1 else 'mistakes'} in the file; "
                   "nothing was written.", err=True)
        raise SystemExit(2 if not result.vehicle.parts and not file.is_file() else 1)
    return result


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all: to a temporary file beside it, then renamed."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
