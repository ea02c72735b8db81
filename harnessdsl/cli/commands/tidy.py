"""`tidy`: even spacing and columns."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path),
                metavar="FILE.harness...")
@click.option("--dry", is_flag=True, help="Change nothing; status 1 when a file would change.")
def command(files: tuple[Path, ...], dry: bool) -> None:
    """Space and align FILES evenly. Comments, order and meaning stay.

    A file is written only when it is proved that its meaning has not changed.
    """
    from harnessdsl.cli.loading import print_diagnostics, write_text
    from harnessdsl.diagnostics import Diagnostic
    from harnessdsl.language.formatter import format_text, same_meaning
    from harnessdsl.language.loader import read_source
    from harnessdsl.language.parser import parse_text
    from harnessdsl.text import Span

    failed = changed = False
    for file in files:
        source = read_source(file, str(file), Span(str(file), 0, 0, 0))
        if isinstance(source, Diagnostic):
            print_diagnostics([source], {})
            failed = True
            continue
        _, mistakes = parse_text(source)
        if mistakes:
            print_diagnostics(mistakes, {source.path: source})
            click.echo(f"{file}: not changed; correct these first", err=True)
            failed = True
            continue
        text = format_text(source.text)
        if text == source.text:
            continue
        if not same_meaning(source.text, text):
            click.echo(f"{file}: not changed, since its meaning would not stay the same; "
                       "please report this file", err=True)
            failed = True
            continue
        changed = True
        if dry:
            click.echo(f"{file}: would change")
        else:
            write_text(file, text)
            click.echo(f"{file}: tidied")
    if failed or (dry and changed):
        raise SystemExit(1)
