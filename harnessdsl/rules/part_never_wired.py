"""A part with no wire on it.

What
    A part is written down, and no wire ends on it. Unknown parts, plugs of a part and parts marked
    `spare` may be without wires.

Why
    Its wires are still to be traced, or they were written to another part's name.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    starter-inertia M1 "Starter" on body  unfused "no starter has a fuse"  always-live
    wire G1.+ -> M1.30  25 mm2 RD

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    lamp E5 "Work lamp, not connected any more"  spare
    wire G1.- -> E1  25 mm2 BK
    starter-inertia M1 "Starter" on body  unfused "no starter has a fuse"  always-live
    wire G1.+ -> M1.30  25 mm2 RD

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("part-never-wired", Severity.WARNING)
def part_never_wired(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        if part.name in context.wired_parts or "spare" in part.flags or part.family == "unknown":
            continue
        if part.connector is not None and part.connector.of:
            continue
        terminals = part.kind.terminals.values()
        if part.conductor and terminals and part.family != "earth" and all(
                terminal.case for terminal in terminals):
            continue  # its case is all it has, and that sits on metal
        yield Diagnostic(
            Severity.WARNING, "part-never-wired",
            f"no wire ends on {part_words(part)}", part.name_span,
            "write its wires, or mark it: spare", subject=part.name)
