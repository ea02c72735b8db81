"""Where rules register themselves: one module a rule, its docstring is its page."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.rules.context import RuleContext

RuleFunction = Callable[[RuleContext], Iterator[Diagnostic]]

STRUCTURE = "structure"
"""Tier of the rules that look at what is connected only: quick, no computation."""
ELECTRIC = "electric"
"""Tier of the rules that need the circuit computed (`context.electric`)."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One kind of finding: its code, how bad it is at worst, what it needs, where it is written."""

    code: str
    severity: Severity
    needs: str
    module: str
    function: RuleFunction | None
    """None where the finding comes from reading the file, and only the page is here."""

    @property
    def docstring(self) -> str:
        return sys.modules[self.module].__doc__ or ""


_RULES: dict[str, Rule] = {}


class RuleError(Exception):
    """A rule is written wrongly; said when its module is imported."""


def _register(rule: Rule) -> None:
    before = _RULES.get(rule.code)
    if before is not None:
        raise RuleError(f"{before.module} and {rule.module} both register '{rule.code}'")
    if not rule.docstring.strip():
        raise RuleError(f"{rule.module} has no docstring, which is the page of '{rule.code}'")
    _RULES[rule.code] = rule


def rule(code: str, severity: Severity, needs: str = STRUCTURE
         ) -> Callable[[RuleFunction], RuleFunction]:
    """Register the function below as the rule `code`. Single findings may be milder than
    `severity`, never worse."""

    def register(function: RuleFunction) -> RuleFunction:
        _register(Rule(code, severity, needs, function.__module__, function))
        return function

    return register


def page(code: str, severity: Severity, module: str) -> None:
    """Register the docstring of `module` as the page of a finding made while the file is read."""
    _register(Rule(code, severity, "reading", module, None))


def registered() -> dict[str, Rule]:
    """Return the rules that have been imported so far, by code."""
    return dict(sorted(_RULES.items()))
