"""A vehicle without a battery.

What
    The file has loads and wires, but no battery and no generator.

Why
    Then nothing can be said about fuses, feeds and earths: those checks are silent.

Wrong
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    lamp E5 "Work lamp"
    wire F1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("no-supply", Severity.WARNING)
def no_supply(context: RuleContext) -> Iterator[Diagnostic]:
    if context.has_battery:
        return
    load = next((load for load in context.loads if load.part.name in context.wired_parts
                 and "spare" not in load.part.flags), None)
    if load is not None:
        yield Diagnostic(
            Severity.WARNING, "no-supply",
            "there is no battery, so fuses, feeds and earths can't be checked",
            load.part.name_span, 'write: battery G1 "Battery" in PLACE 60 Ah; and its wires',
            subject=context.vehicle.name)
