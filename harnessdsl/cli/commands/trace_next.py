"""`trace-next`: the continuity checks that verify most, in an order that follows the places."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import read_vehicle, vehicle_argument


@click.command()
@vehicle_argument
@click.option("--most", default=20, show_default=True, type=click.IntRange(1),
              help="How many checks to list.")
@click.option("--passed", multiple=True, metavar="NUMBER",
              help="Checks of the list that read as expected.")
@click.option("--failed", multiple=True, metavar="NUMBER",
              help="Checks of the list that did not.")
@click.option("--date", "date", metavar="DATE", help="The day of the checks, 2026-04-02.")
@click.option("--by", help="Who made them.")
@click.option("--into", type=click.Path(path_type=Path, dir_okay=False),
              help="The file to add the results to; FILE must use it.")
def command(file: Path, most: int, passed: tuple[str, ...], failed: tuple[str, ...],
            date: str | None, by: str | None, into: Path | None) -> None:
    """List what to trace next in FILE, to be printed and ticked.

    The battery is disconnected for all of them. Results come back with --passed and --failed:
    they are added as lines to the file named by --into.
    """
    from harnessdsl.book.trace_sheet import result_lines, sheet_lines
    from harnessdsl.cli.loading import write_text
    from harnessdsl.plans.trace_order import TracePlanner

    vehicle = read_vehicle(file).vehicle
    planner = TracePlanner(vehicle)
    steps = planner.order()
    if not (passed or failed):
        click.echo("\n".join(sheet_lines(vehicle, planner, steps[:most])))
        return
    if into is None:
        raise click.UsageError("say with --into which file the results go to")
    numbers: dict[int, str] = {}
    for word, texts in (("passed", passed), ("failed", failed)):
        for text in [piece for entry in texts for piece in entry.replace(",", " ").split()]:
            if not text.isdigit() or not 1 <= int(text) <= len(steps):
                raise click.UsageError(
                    f"--{word} {text}: the list has the numbers 1 to {len(steps)}")
            if numbers.get(int(text), word) != word:
                raise click.UsageError(f"check {text} can't have passed and failed")
            numbers[int(text)] = word
    if date is not None:
        import datetime

        try:
            datetime.date.fromisoformat(date)
        except ValueError:
            raise click.UsageError(f"'{date}' is no date; write 2026-04-02") from None
    lines = result_lines(planner, [(steps[number - 1], numbers[number] == "passed")
                                   for number in sorted(numbers)], date or "", by or "")
    before = into.read_text(encoding="utf-8") if into.exists() else (
        "# What was found when tracing: lines are added at the end.\n")
    write_text(into, before.rstrip("\n") + "\n" + "\n".join(lines) + "\n")
    click.echo(f"{into}: {len(lines)} {'line' if len(lines) == 1 else 'lines'} added")
    if str(into.resolve()) not in {str(Path(path).resolve())
                                   for path in read_vehicle(file).sources}:
        click.echo(f'add to {file}: use "{into.name}"')
