"""Checks of a vehicle: every module of this folder that registers a rule is found by itself."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from harnessdsl.diagnostics import Diagnostic, sorted_unique
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.rules.acceptance_unused import apply_acceptances
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.discovery import found_modules, import_modules
from harnessdsl.rules.registry import ELECTRIC, Rule, registered


@cache
def all_rules() -> dict[str, Rule]:
    """Return every rule by its code. This imports all of their modules, numeric libraries too."""
    import_modules(found_modules())
    return registered()


@cache
def structure_rules() -> dict[str, Rule]:
    """Return the rules that look at what is connected only, by their codes."""
    import_modules(found for found in found_modules() if not found.electric_codes)
    return {code: rule for code, rule in registered().items() if rule.needs != ELECTRIC}


def check_vehicle(vehicle: Vehicle, *, electric: Callable[[Vehicle], Any] | None = None
                  ) -> list[Diagnostic]:
    """Return the findings of all rules in reading order, accepted ones marked.

    `electric` makes the computed circuit for rules that need it; without one they are left out,
    and what the file accepts of them is left alone.
    """
    context = RuleContext(vehicle, electric)
    rules = structure_rules() if electric is None else all_rules()
    findings: list[Diagnostic] = []
    for rule in rules.values():
        if rule.function is not None:
            findings += rule.function(context)
    left_out = () if electric is not None else tuple(
        code for found in found_modules() for code in found.electric_codes)
    return sorted_unique(apply_acceptances(vehicle, findings, tuple(rules), left_out))
