"""What `compare` and `plan` share: reading two vehicles, comparing and drawing them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from harnessdsl.cli.loading import overlays, print_diagnostics, selection, write_text
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.pipeline import Result, build_facts, check_result
from harnessdsl.plans.compare import Comparison, compare
from harnessdsl.plans.stack import Facts, arrange, read_stack

if TYPE_CHECKING:
    from harnessdsl.plans.behaviour import Behaviour


@dataclass(frozen=True, slots=True)
class Side:
    """One vehicle, and the facts that it was built from."""

    result: Result
    facts: Facts

    @property
    def vehicle(self) -> Vehicle:
        return self.result.vehicle

    @property
    def title(self) -> str:
        return ", ".join(filter(None, (self.vehicle.name, self.vehicle.build, self.vehicle.year)))


def _side(file: Path, upto: int | None, on_top: tuple[Path, ...]) -> Side:
    facts = arrange(read_stack(file, on_top), selection(), upto)
    return Side(build_facts(facts), facts)


def read_pair(before: Path, after: Path | None) -> tuple[Side, Side]:
    """Return both vehicles, or print what is wrong with them and end with status 1 or 2."""
    if after is not None:
        pair = _side(before, None, overlays()), _side(after, None, overlays())
    else:
        stack = read_stack(before, overlays())
        if stack.readable and len(stack.layers) < 2:
            raise click.UsageError(f"'{before}' builds on no other file: name a second one to "
                                   "compare it with")
        # the head's problems are in both: they are told once
        pair = _side(before, max(1, len(stack.layers) - 1), overlays()), _side(before, None,
                                                                              overlays())
    broken = False
    told: set[Any] = set()
    for side in pair:
        print_diagnostics([d for d in side.result.diagnostics if d not in told],
                          side.result.sources)
        told.update(side.result.diagnostics)
        broken = broken or side.result.broken
    if broken:
        click.echo("nothing was compared or written.", err=True)
        raise SystemExit(2 if not all(side.result.sources.get(str(f)) for side, f in zip(
            pair, (before, after or before), strict=True)) else 1)
    return pair


@dataclass(frozen=True, slots=True)
class Compared:
    """Everything that was found about two vehicles."""

    before: Side
    after: Side
    comparison: Comparison
    behaviour: Behaviour | None = None

    @property
    def differs(self) -> bool:
        return bool(self.comparison) or bool(self.behaviour)

    def lines(self) -> list[str]:
        from harnessdsl.plans.behaviour import behaviour_text
        from harnessdsl.plans.compare_text import comparison_text

        lines = [f"before: {self.before.title}", f"after:  {self.after.title}", ""]
        lines += comparison_text(self.comparison, self.before.vehicle, self.after.vehicle)
        if self.behaviour is not None:
            lines += ["", *behaviour_text(self.behaviour)]
        return lines

    def data(self) -> dict[str, Any]:
        from harnessdsl.plans.compare_text import comparison_data

        data = comparison_data(self.comparison, self.before.vehicle, self.after.vehicle)
        if self.behaviour is not None:
            from harnessdsl.plans.behaviour import behaviour_data

            data["behaviour"] = behaviour_data(self.behaviour)
        return data


def compare_pair(pair: tuple[Side, Side], remarks: bool, behaviour: bool) -> Compared:
    before, after = pair
    comparison = compare(before.vehicle, after.vehicle, remarks)
    if not behaviour or not comparison:
        return Compared(before, after, comparison)
    from harnessdsl.plans.behaviour import compare_behaviour

    findings = [check_result(side.result).diagnostics for side in pair]
    return Compared(before, after, comparison, compare_behaviour(
        before.vehicle, after.vehicle, comparison, *findings))


def write_overlay(pair: tuple[Side, Side], found: Compared, base: Path, target: Path) -> None:
    """Write the overlay that turns the first vehicle into the second."""
    from harnessdsl.plans.overlay_writer import OverlayWriter, Written

    before, after = pair
    writer = OverlayWriter(Written(before.vehicle, before.facts.facts),
                           Written(after.vehicle, after.facts.facts), found.comparison)
    write_text(target, writer.write(after.vehicle.build or after.title or "what differs",
                                    base.name))
    click.echo(f"{target}: written", err=True)


def draw(pair: tuple[Side, Side], found: Compared, base: Path, folder: Path) -> None:
    raise click.ClickException("no drawing yet")
