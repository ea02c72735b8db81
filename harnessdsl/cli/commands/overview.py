"""`overview`: the whole vehicle in one picture."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), required=True,
              help="The file: name.dot for the text alone, name.svg for the picture.")
def command(file: Path, out: Path) -> None:
    """Draw all parts and wires of FILE in one picture, to see what hangs together.

    It is no drawing to work by: that is what 'draw' makes. A picture needs the package
    pygraphviz or a 'dot' command; the DOT text needs neither.
    """
    from harnessdsl.cli.loading import write_text
    from harnessdsl.drawing.overview import NoEngine, dot_text, lay_out

    if out.suffix not in (".dot", ".svg"):
        raise click.UsageError(f"'{out}' must end in .dot or .svg")
    text = dot_text(read_vehicle(file).vehicle)
    if out.suffix == ".svg":
        try:
            text = lay_out(text)
        except NoEngine:
            raise click.ClickException(
                "no dot engine is here to lay the picture out: 'pip install pygraphviz', or "
                "write the text with --out name.dot") from None
    write_text(out, text)
    click.echo(str(out))
