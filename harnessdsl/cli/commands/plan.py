"""`plan`: what a rewiring plan changes, needs and risks, and the order of work."""

from __future__ import annotations

from pathlib import Path

import click

from harnessdsl.cli.loading import selection_options


@click.command()
@click.argument("file", type=click.Path(path_type=Path), metavar="PLAN.harness")
@selection_options
@click.option("--on", "base", type=click.Path(path_type=Path), metavar="FILE",
              help="Put the plan on this vehicle or variant instead of the one that it names.")
@click.option("--allowance", type=click.FloatRange(0, 1), default=0.10, show_default=True,
              metavar="SHARE", help="What is added to the length of each wire to be cut.")
@click.option("--show", "parts", multiple=True,
              type=click.Choice(("changes", "behaviour", "cut", "parts", "work")),
              help="Only this part of the report; may be given several times.")
@click.option("--json", "as_json", is_flag=True, help="Print the report for other programs.")
@click.option("--draw", "folder", type=click.Path(path_type=Path, file_okay=False),
              metavar="FOLDER", help="Draw what is added, removed and changed.")
@click.option("--fail-on", type=click.Choice(("note", "warning", "error")), default="warning",
              show_default=True, help="End with status 1 when the plan brings a finding at least "
              "this bad.")
def command(file: Path, base: Path | None, allowance: float, parts: tuple[str, ...],
            as_json: bool, folder: Path | None, fail_on: str) -> None:
    """Judge PLAN, a file that begins with: plan "what" of "base.harness".

    Says what the plan changes, which findings come and go, what works differently; lists the wires
    to cut and the parts to buy; and gives the order of work with cautions and checks. Ends with
    status 0 when the plan brings no new finding, 1 when it does, 2 for a call that makes no sense.
    """
    from harnessdsl.cli import comparing
    from harnessdsl.diagnostics import Severity

    pair = comparing.read_plan(file, base)
    found = comparing.compare_pair(pair, remarks=False, behaviour=True, overlaid=True)
    shown = parts or ("changes", "behaviour", "cut", "parts", "work")
    report = comparing.plan_report(found, allowance, shown)
    if as_json:
        import json

        click.echo(json.dumps(report.data(), indent=1, ensure_ascii=False))
    else:
        click.echo("\n".join(report.lines()))
    if folder is not None:
        comparing.draw(found, file, folder)
    findings = found.behaviour.new_findings if found.behaviour is not None else ()
    if any(f.severity >= Severity[fail_on.upper()] and f.accepted is None for f in findings):
        raise SystemExit(1)
