"""`rename`: another name for a part, a wire or a place, in all files."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.argument("old")
@click.argument("new")
@click.option("--group", type=click.Choice(("part", "place", "wire")),
              help="Which OLD, when a part and a place share the name.")
@click.option("--dry", is_flag=True, help="Say what would change; change nothing.")
def command(file: Path, old: str, new: str, group: str | None, dry: bool) -> None:
    """Call the part, wire or place OLD by the name NEW, everywhere in FILE and what it uses."""
    from harnessdsl.cli.loading import write_text
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.language.loader import load_facts
    from harnessdsl.plans.rename import (
        apply_edits,
        is_plain_name,
        is_taken,
        rename_edits,
        what_is_called,
    )

    vehicle = read_vehicle(file).vehicle
    groups = what_is_called(vehicle, old)
    if not groups:
        hint = did_you_mean(old, [*vehicle.parts, *vehicle.places, *vehicle.wires])
        raise click.UsageError(f"nothing is called '{old}'" + (f"; {hint}" if hint else ""))
    if group is None and len(groups) > 1:
        raise click.UsageError(f"'{old}' is a {' and a '.join(groups)}: say which with --group")
    group = group or groups[0]
    if group not in groups:
        raise click.UsageError(f"no {group} is called '{old}'")
    if not is_plain_name(new):
        raise click.UsageError(f"'{new}' can't be a name: letters, digits, - and _")
    if is_taken(vehicle, group, new):
        raise click.UsageError(f"there is already a {group} called '{new}'")
    loaded = load_facts(file)
    edits = rename_edits(loaded.facts, vehicle, group, old, new)
    foreign = [edit for edit in edits if edit.path not in loaded.sources]
    assert not foreign, foreign
    texts = apply_edits(loaded.sources, edits)
    if not dry:
        for path, text in texts.items():
            write_text(Path(path), text)
    for path in texts:
        count = sum(edit.path == path for edit in edits)
        click.echo(f"{path}: {count} {'place' if count == 1 else 'places'}"
                   + (" would change" if dry else " changed"))
