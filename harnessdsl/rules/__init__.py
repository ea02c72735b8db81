"""Checks of a vehicle: every module of this folder that registers a rule is found by itself."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from functools import cache
from typing import Any

from harnessdsl.diagnostics import Diagnostic, sorted_unique
from harnessdsl.model.topology import Topology
from harnessdsl.model.vehicle import Vehicle
from harnessdsl.rules.acceptance_unused import apply_acceptances
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import ELECTRIC, Rule, registered


@cache
def all_rules() -> dict[str, Rule]:
    """Return every rule by its code; its modules are imported when first asked for."""
    for found in pkgutil.iter_modules(__path__):
        if not found.ispkg:
            importlib.import_module(f"{__name__}.{found.name}")
    return registered()


def check_vehicle(vehicle: Vehicle, *, electric: Callable[[Vehicle], Any] | None = None,
                  topology: Topology | None = None) -> list[Diagnostic]:
    """Return the findings of all rules in reading order, accepted ones marked.

    `electric` makes the computed circuit for rules that need it; without one they are left out.
    """
    context = RuleContext(vehicle, topology, electric)
    findings: list[Diagnostic] = []
    for rule in all_rules().values():
        if rule.function is not None and (rule.needs != ELECTRIC or context.has_electric):
            findings += rule.function(context)
    return sorted_unique(apply_acceptances(vehicle, findings, all_rules()))
