"""`kinds`: what kinds of part there are."""

from __future__ import annotations

import click

_UNSAID = ("main", "coil", "heat", "pressure", "motion", "trip")
"""Actuators that go without saying."""


@click.command()
@click.argument("name", required=False)
def command(name: str | None) -> None:
    """List the shipped kinds of part, or show one with its terminals."""
    from harnessdsl.diagnostics import did_you_mean
    from harnessdsl.model.kind_builder import KindLibrary
    from harnessdsl.model.kind_shelf import shipped_kinds
    from harnessdsl.model.reading import Messages

    shelf = shipped_kinds()
    library = KindLibrary(Messages(), shelf.fact, shelf.names)
    if name is None:
        for each in shelf.names():
            kind = library.get(each)
            if kind is not None:
                terminals = " ".join(t for t in kind.terminals if t)
                click.echo(f"{each:<24} {kind.letter:<2} {kind.label:<48} {terminals}")
        return
    kind = library.get(name)
    if kind is None:
        raise click.ClickException(
            f"there is no kind '{name}'; " + (did_you_mean(name, shelf.names()) or
                                              "'harnessdsl kinds' lists them"))
    click.echo(f"{kind.name}: {kind.label}   letter {kind.letter}, family {kind.family}")
    for terminal in kind.terminals.values():
        also = f" (also {', '.join(terminal.aliases)})" if terminal.aliases else ""
        click.echo(f"  {terminal.name:<8} {terminal.side.value:<6} {terminal.role:<10} "
                   f"{terminal.label}{also}".rstrip())
    for primitive in kind.primitives:
        figures = "  ".join(f"{key[0]} {quantity.text}".strip()
                            for key, quantity in primitive.figures.items())
        when = " and ".join(
            f"{'' if c.actuator in _UNSAID else c.actuator + ' = '}"
            f"{' or '.join(c.positions)}{' ' + c.of if c.of else ''}" for c in primitive.clauses)
        click.echo(f"  {primitive.type:<10} {primitive.a} -> {primitive.b}  {figures}"
                   f"{'  closed when ' + when if when else ''}".rstrip())
    for actuator in kind.actuators.values():
        click.echo(f"  {actuator.name}: {' '.join(actuator.positions)}, at rest {actuator.rest}")
    for text in (kind.spec, kind.source_note):
        if text:
            click.echo(f"  {text}")
