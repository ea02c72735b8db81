"""An order of work in words, with boxes to tick, and as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from harnessdsl.plans.work_order import Step


def work_text(steps: Sequence[Step]) -> list[str]:
    """Return the order of work as lines with boxes to tick."""
    if not steps:
        return ["There is nothing to do on the car."]
    lines = ["Order of work. The maker's data and local rules come first; what needs a licence is "
             "left to the licensed trade."]
    for number, step in enumerate(steps, 1):
        lines += ["", f"{number}. {step.title}"]
        lines += [f"   CAUTION: {text}" for text in step.cautions]
        lines += [f"   reach: {text}" for text in step.reach]
        lines += [f"   [ ] {text}" for text in step.actions]
        lines += [f"   check [ ] {text}" for text in step.checks]
    return lines


def work_data(steps: Sequence[Step]) -> list[dict[str, Any]]:
    """Return the order of work as plain data; the keys are stable."""
    return [{"title": s.title, "cautions": list(s.cautions), "reach": list(s.reach),
             "actions": list(s.actions), "checks": list(s.checks)} for s in steps]


