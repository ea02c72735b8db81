"""`list-in`: a table of wires or fuses becomes lines of the language."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("table", type=click.Path(path_type=Path), metavar="TABLE.csv")
@click.argument("what", type=click.Choice(("wires", "fuses")))
@click.option("--column", "columns", multiple=True, metavar="OURS=YOURS",
              help="What a column is called in your table: --column from=Start")
@click.option("--vehicle", "vehicle_file", type=click.Path(path_type=Path),
              help="Check the ends, boxes and slots against this vehicle.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False),
              help="Write to this file; it must not exist yet.")
def command(table: Path, what: str, columns: tuple[str, ...], vehicle_file: Path | None,
            out: Path | None) -> None:
    """Turn TABLE (CSV or .xlsx) into lines for a harness file.

    Nothing is written unless every row is understood; each row that is not is named with its
    line.
    """
    from harnessdsl.cli.loading import print_diagnostics, read_vehicle, write_text
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.exchange import fuse_chart, wire_list

    module = wire_list if what == "wires" else fuse_chart
    names: dict[str, str] = {}
    for pair in columns:
        ours, equals, yours = pair.partition("=")
        if not equals or ours not in module.COLUMNS:
            hint = did_you_mean(ours, module.COLUMNS, "ours are: " + ", ".join(module.COLUMNS))
            raise click.UsageError(f"--column {pair}: write OURS=YOURS; {hint}")
        names[ours] = yours
    vehicle = read_vehicle(vehicle_file, keep_going=True).vehicle if vehicle_file else None
    reader = wire_list.import_wires if what == "wires" else fuse_chart.import_fuses
    lines, source, problems = reader(table, names, vehicle)
    if problems:
        print_diagnostics(problems, {source.path: source} if source else {})
        click.echo(f"{len(problems)} {'row' if len(problems) == 1 else 'rows'} refused; nothing "
                   "was written.", err=True)
        raise SystemExit(2 if source is None and not table.is_file() else 1)
    text = "\n".join(lines) + "\n"
    if out is None:
        click.echo(text, nl=False)
        return
    if out.exists():
        raise click.UsageError(f"'{out}' exists already; choose another name")
    write_text(out, text)
    click.echo(f"{out}: {len(lines)} lines; add to your file: use \"{out.name}\"")
