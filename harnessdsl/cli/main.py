"""The command line. Each module in `commands/` is one command, read only when it is called."""

from __future__ import annotations

import gc
import importlib
import os
import pkgutil
import sys
from typing import Any

import click

from harnessdsl import __version__
from harnessdsl.cli import commands
from harnessdsl.threads import use_one_thread


class CommandFolder(click.Group):
    """A group whose commands are the modules of a folder: `name_of_it.py` is `name-of-it`."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        names = [info.name for info in pkgutil.iter_modules(commands.__path__)]
        return sorted(name.replace("_", "-") for name in names)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in self.list_commands(ctx):
            return None
        module = importlib.import_module(f"{commands.__name__}.{name.replace('-', '_')}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from harnessdsl.diagnostics import did_you_mean

            hint = did_you_mean(args[0], self.list_commands(ctx)) if args else None
            if hint is None or getattr(error, "possibilities", None):
                raise
            raise click.UsageError(f"{error.message} {hint[0].upper()}{hint[1:]}", ctx) from None

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit, click.Abort):
            raise
        except BrokenPipeError:
            devnull = os.open(os.devnull, os.O_WRONLY)
            os.dup2(devnull, sys.stdout.fileno())
            ctx.exit(1)
        except OSError as error:
            what = f"{error.filename}: " if error.filename else ""
            raise click.ClickException(f"{what}{error.strerror or error}") from error
        except Exception as error:
            if ctx.params.get("debug") or os.environ.get("HARNESSDSL_DEBUG"):
                raise
            click.echo(
                f"harnessdsl itself failed here ({type(error).__name__}: {error}).\n"
                "That is a mistake of the program, not of your file, and nothing was changed.\n"
                "Run it again as 'harnessdsl --debug ...' and report what it prints.",
                err=True,
            )
            ctx.exit(70)


# A command reads one vehicle and ends: looking for garbage again and again while the model grows
# costs a twentieth of the time and finds none.
gc.set_threshold(100_000, 50, 50)
use_one_thread()


@click.group(cls=CommandFolder, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="%(prog)s %(version)s")
@click.option("--debug", is_flag=True, help="Show where the program itself failed.")
def main(debug: bool) -> None:
    """Write down what is really in an old vehicle's wiring; check it, draw it, find faults.

    \b
    Shell completion (bash):  eval "$(_HARNESSDSL_COMPLETE=bash_source harnessdsl)"
    """
