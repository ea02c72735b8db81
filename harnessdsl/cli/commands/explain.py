"""`explain`: the page of a check."""

from __future__ import annotations

import click


@click.command()
@click.argument("code", required=False)
def command(code: str | None) -> None:
    """Tell what a check looks for and why, with a wrong and a right example; or list all checks."""
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.rules import all_rules

    rules = all_rules()
    if code is None:
        for name, rule in sorted(rules.items()):
            summary = rule.docstring.strip().splitlines()[0]
            click.echo(f"{name:<24} {rule.severity.word:<8} {summary}")
        return
    if code not in rules:
        hint = did_you_mean(code, rules, "'harnessdsl explain' lists the checks")
        raise click.UsageError(f"there is no check '{code}'; {hint}")
    rule = rules[code]
    click.echo(f"{code} ({rule.severity.word})\n\n{rule.docstring.strip()}")
