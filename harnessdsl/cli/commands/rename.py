"""`rename`: another name for a part, a wire or a place, in all files."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument
from harnessdsl.pipeline import Result


@click.command()
@vehicle_argument
@click.argument("old")
@click.argument("new")
@click.option("--group", type=click.Choice(("part", "place", "wire")),
              help="Which OLD, when a part and a place share the name.")
@click.option("--dry", is_flag=True, help="Say what would change; change nothing.")
def command(file: Path, old: str, new: str, group: str | None, dry: bool) -> None:
    """Call the part, wire or place OLD by the name NEW, everywhere in FILE and what it uses.

    Where FILE is a variant, also in the files that it builds on; and in every overlay beside them
    that builds on the file in which OLD first stands.
    """
    from harnessdsl.cli.loading import selection, write_text
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.pipeline import load
    from harnessdsl.plans.rename import is_plain_name, is_taken, what_is_called

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
    files = _family(file, old, group)
    before = {path: load(path, selection()) for path in files}
    texts, counts = _edited(before, group, old, new)
    _prove(before, texts, group, old, new)
    if not dry:
        for path, text in texts.items():
            write_text(Path(path), text)
    for path in texts:
        count = counts[path]
        click.echo(f"{path}: {count} {'place' if count == 1 else 'places'}"
                   + (" would change" if dry else " changed"))


def _family(file: Path, old: str, group: str) -> list[Path]:
    """Return the file in which a name first stands, and every overlay that builds on it."""
    from harnessdsl.cli.loading import selection
    from harnessdsl.pipeline import build_stack
    from harnessdsl.plans.families import built_on
    from harnessdsl.plans.rename import what_is_called
    from harnessdsl.plans.stack import read_stack

    stack = read_stack(file)
    first = file
    for number, layer in enumerate(stack.layers, 1):
        if group in what_is_called(build_stack(stack, selection(), number).vehicle, old):
            first = Path(layer.path)
            break
    return [first, *built_on(first)]


def _edited(before: dict[Path, Result], group: str, old: str, new: str
            ) -> tuple[dict[str, str], dict[str, int]]:
    """Return the new text of each file that changes, and how often the name stands in it."""
    from harnessdsl.language.loader import load_facts
    from harnessdsl.plans.rename import apply_edits, rename_edits
    from harnessdsl.plans.stack import read_stack
    from harnessdsl.text import SourceFile

    edits = {}
    sources: dict[str, SourceFile] = {}
    for path, result in before.items():
        loaded = load_facts(path)
        sources |= loaded.sources
        below = [fact for layer in read_stack(path).layers[:-1] for fact in layer.facts]
        for edit in rename_edits(loaded.facts, result.vehicle, group, old, new, below):
            edits[edit.path, edit.line, edit.column] = edit
    ordered = [edits[key] for key in sorted(edits)]
    counts: dict[str, int] = {}
    for edit in ordered:
        counts[edit.path] = counts.get(edit.path, 0) + 1
    return apply_edits(sources, ordered), counts


def _prove(before: dict[Path, Result], texts: dict[str, str], group: str, old: str, new: str
           ) -> None:
    """Read the new texts in another folder: nothing but the name may have changed."""
    import os
    import shutil
    import tempfile

    from harnessdsl.cli.loading import selection
    from harnessdsl.pipeline import load
    from harnessdsl.plans.compare import compare

    root = next(iter(before)).parent
    with tempfile.TemporaryDirectory() as folder:
        for path in sorted(root.rglob("*.harness")):
            target = Path(folder) / path.relative_to(root)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target)
        for shown, text in texts.items():
            (Path(folder) / os.path.relpath(shown, root)).write_text(text, encoding="utf-8")
        for path, result in before.items():
            if result.broken:
                continue  # its own mistakes are told when it is checked
            after = load(Path(folder) / path.relative_to(root), selection())
            others = [d for d in compare(result.vehicle, after.vehicle).differences
                      if not (d.sort == "renamed" or (
                          group == "wire" and [c.field for c in d.changes] == ["name"]))]
            if after.broken or others:
                raise click.ClickException(
                    f"'{old}' can't be called '{new}': {path} would change by more than the name; "
                    "nothing was written")
