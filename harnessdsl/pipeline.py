"""The conductor: the only module that knows the order of the stages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from harnessdsl.diagnostics import Diagnostic, Severity, sorted_unique
from harnessdsl.model.builder import build_vehicle
from harnessdsl.model.kind_shelf import shipped_kinds
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.plans.arrange import Facts, arrange, builds_of, facts_of
from harnessdsl.plans.builds import NOTHING_CHOSEN, NamedBuild, Selection
from harnessdsl.plans.stack import Stack, read_stack, read_text_stack
from harnessdsl.text import SourceFile


@dataclass(frozen=True, slots=True)
class Result:
    """A vehicle as read, the files that it came from and every message about them."""

    vehicle: Vehicle
    sources: dict[str, SourceFile]
    diagnostics: list[Diagnostic]

    @property
    def broken(self) -> bool:
        """True when something could not be understood, so that the vehicle has gaps."""
        return any(d.severity is Severity.ERROR for d in self.diagnostics)


def build_facts(facts: Facts) -> Result:
    """Return the vehicle that the facts of one car describe."""
    shelf = shipped_kinds()
    vehicle, messages = build_vehicle(facts.facts, shelf)
    return Result(vehicle, {**shelf.sources, **facts.sources},
                  sorted_unique([*facts.diagnostics, *messages]))


def load(path: Path, selection: Selection = NOTHING_CHOSEN, overlays: Sequence[Path] = ()
         ) -> Result:
    """Return the vehicle in a file and the files that it uses or builds on.

    `selection` chooses one car of those that the files describe; `overlays` are put on top.
    """
    return build_stack(read_stack(path, overlays), selection)


def load_string(text: str, name: str = "text.harness") -> Result:
    """Return the vehicle in a text that is in no file."""
    return build_stack(read_text_stack(text, name))


def build_stack(stack: Stack, selection: Selection = NOTHING_CHOSEN, upto: int | None = None
                ) -> Result:
    """Return the vehicle of a base with its overlays, or with the first layers `upto` alone."""
    return build_facts(arrange(stack, selection, upto))


def every_build(stack: Stack, selection: Selection = NOTHING_CHOSEN
                ) -> tuple[list[tuple[NamedBuild, Result]], list[Diagnostic]]:
    """Return each combination of options, choices and numbers that exists, built, and what is
    wrong with the question itself."""
    if not stack.readable:
        return [], stack.diagnostics
    builds, messages = builds_of(stack, selection)
    return [(each, build_facts(facts_of(stack, each.build))) for each in builds], messages


def check_result(result: Result, figures: bool = False) -> Result:
    """Return `result` with the findings of all checks added; those that need the circuit computed
    (currents, temperatures, voltage drops) with `figures` only.

    A file that could not be understood is not judged: its gaps would look like faults.
    """
    if result.broken:
        return result
    from harnessdsl.rules import check_vehicle

    findings = check_vehicle(result.vehicle, electric=_study if figures else None)
    return Result(result.vehicle, result.sources,
                  sorted_unique([*result.diagnostics, *findings]))


def _study(vehicle: Vehicle) -> Any:
    from harnessdsl.electric.study import Study

    return Study(vehicle, every_switch=True)


def check(path: Path, selection: Selection = NOTHING_CHOSEN, overlays: Sequence[Path] = (),
          figures: bool = False) -> Result:
    """Return the vehicle in a file with every message and finding; see `check_result`."""
    return check_result(load(path, selection, overlays), figures)


def check_every_build(path: Path, selection: Selection = NOTHING_CHOSEN,
                      overlays: Sequence[Path] = (), figures: bool = False
                      ) -> tuple[Result, int]:
    """Return the findings over all combinations that exist, and how many there are.

    A finding that is not in all of them says in which it appears. The vehicle is the first one.
    """
    from harnessdsl.plans.combined_findings import combine

    stack = read_stack(path, overlays)
    builds, messages = every_build(stack, selection)
    if not builds:
        result = build_stack(stack, selection)
        return Result(result.vehicle, result.sources,
                      sorted_unique([*result.diagnostics, *messages])), 0
    checked = [(each, check_result(result, figures)) for each, result in builds]
    findings = combine([(each, result.diagnostics) for each, result in checked])
    first = checked[0][1]
    return Result(first.vehicle, first.sources, sorted_unique([*findings, *messages])), len(builds)
