"""The conductor: the only module that knows the order of the stages."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, Severity, sorted_unique
from harnessdsl.language.loader import Loaded, load_facts, load_text
from harnessdsl.model.builder import build_vehicle
from harnessdsl.model.kind_shelf import shipped_kinds
from harnessdsl.model.vehicle import Vehicle
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


def _build(loaded: Loaded) -> Result:
    shelf = shipped_kinds()
    vehicle, messages = build_vehicle(loaded.facts, shelf)
    return Result(vehicle, {**shelf.sources, **loaded.sources},
                  sorted_unique([*loaded.diagnostics, *messages]))


def load(path: Path) -> Result:
    """Return the vehicle in a file and the files that it uses."""
    return _build(load_facts(path))


def load_string(text: str, name: str = "text.harness") -> Result:
    """Return the vehicle in a text that is in no file."""
    return _build(load_text(text, name))


def check_result(result: Result) -> Result:
    """Return `result` with the findings of all checks added.

    A file that could not be understood is not judged: its gaps would look like faults.
    """
    if result.broken:
        return result
    from harnessdsl.rules import check_vehicle

    findings = check_vehicle(result.vehicle)
    return Result(result.vehicle, result.sources,
                  sorted_unique([*result.diagnostics, *findings]))


def check(path: Path) -> Result:
    """Return the vehicle in a file with every message and finding."""
    return check_result(load(path))
