"""`compare`: two vehicles, variants, or before and after a plan."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import selection_options


@click.command()
@click.argument("before", type=click.Path(path_type=Path), metavar="BEFORE.harness")
@click.argument("after", type=click.Path(path_type=Path), metavar="AFTER.harness", required=False)
@selection_options
@click.option("--behaviour/--no-behaviour", default=True, show_default=True,
              help="Also compare findings, loads, fuses, drops and drain.")
@click.option("--remarks", is_flag=True, help="Also compare evidence, notes and photos.")
@click.option("--json", "as_json", is_flag=True, help="Print the comparison for other programs.")
@click.option("--write-overlay", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Write an overlay that turns BEFORE into AFTER; put it beside BEFORE.")
@click.option("--draw", "folder", type=click.Path(path_type=Path, file_okay=False),
              metavar="FOLDER", help="Draw what is added, removed and changed, on the sheets "
              "concerned and on a map.")
def command(before: Path, after: Path | None, behaviour: bool, remarks: bool, as_json: bool,
            write_overlay: Path | None, folder: Path | None) -> None:
    """Compare BEFORE with AFTER by meaning: the order of lines and other names do not matter.

    With BEFORE alone, which must be a variant or a plan, it is compared with what it builds on.
    Ends with status 0 when nothing differs, 1 with differences, 2 for a call that makes no sense.
    """
    from harnessdsl.cli import comparing

    pair = comparing.read_pair(before, after)
    found = comparing.compare_pair(pair, remarks, behaviour, overlaid=after is None)
    if as_json:
        import json

        click.echo(json.dumps(found.data(), indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(found.lines()))
    if write_overlay is not None:
        comparing.write_overlay(found, before, after is None, write_overlay)
    if folder is not None:
        comparing.draw(found, before, folder)
    if found.differs:
        raise SystemExit(1)
