"""An `accept` line that meets no finding.

What
    An `accept` line names a check and a thing, and no finding of that check is about that thing
    (any more); or the check's name is wrong.

Why
    A line that accepts nothing hides a spelling mistake, or is left over from a fault that has been
    put right. Then the next fault there would be accepted unseen.

Wrong
    accept unfused-load M1 "as built"
    battery G1 "Battery"
    earth E1 "Engine block"
    starter M1 "Starter" on body  unfused "no starter has a fuse"
    push-switch S1 "Starter button"
    blade-fuse F1 "Starter control"  20 A
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> M1.30  25 mm2 RD
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> S1.1  2.5 mm2 RD
    wire S1.2 -> M1.50  2.5 mm2 RD

Right
    accept unfused-load M1 "as built: no starter has a fuse"
    battery G1 "Battery"
    earth E1 "Engine block"
    starter M1 "Starter" on body
    push-switch S1 "Starter button"
    blade-fuse F1 "Starter control"  20 A
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> M1.30  25 mm2 RD
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> S1.1  2.5 mm2 RD
    wire S1.2 -> M1.50  2.5 mm2 RD

Source
    Common practice: a waiver is kept as long as what it waives.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from harnessdsl.diagnostics import Diagnostic, Severity, did_you_mean
from harnessdsl.model.vehicle import Acceptance, Vehicle
from harnessdsl.rules.registry import page

page("acceptance-unused", Severity.WARNING, __name__)


def _matches(acceptance: Acceptance, finding: Diagnostic, chains: Mapping[str, str]) -> bool:
    if acceptance.code != finding.code:
        return False
    return not acceptance.subject or acceptance.subject in (
        finding.subject, chains.get(finding.subject))


def apply_acceptances(vehicle: Vehicle, findings: Sequence[Diagnostic], codes: Sequence[str],
                      left_out: Sequence[str] = ()) -> list[Diagnostic]:
    """Return the findings with those marked that the file accepts, and a warning for each `accept`
    line that meets none. A chain's name accepts for all of its pieces. `codes` are the checks that
    ran, `left_out` those that exist and did not."""
    chains = {wire.name: wire.chain for wire in vehicle.wires.values() if wire.chain}
    used: set[int] = set()
    judged: list[Diagnostic] = []
    for finding in findings:
        for index, acceptance in enumerate(vehicle.acceptances):
            if _matches(acceptance, finding, chains):
                used.add(index)
                finding = finding.accept(acceptance.reason)
                break
        judged.append(finding)
    for index, acceptance in enumerate(vehicle.acceptances):
        if index not in used and acceptance.code not in left_out:
            judged.append(_unused(acceptance, findings, (*codes, *left_out)))
    return judged


def _unused(acceptance: Acceptance, findings: Sequence[Diagnostic], codes: Sequence[str]
            ) -> Diagnostic:
    code, subject = acceptance.code, acceptance.subject
    if code not in codes:
        message = f"there is no check called '{code}', so nothing is accepted"
        hint = did_you_mean(code, codes, "the checks are listed in docs/checks.md")
    else:
        about = sorted({f.subject for f in findings if f.code == code and f.subject})
        message = f"'{code}' finds nothing about '{subject}', so there is nothing to accept"
        hint = did_you_mean(subject, about, "remove the line" if not about else
                            f"'{code}' is about: {', '.join(about[:8])}")
    return Diagnostic(Severity.WARNING, "acceptance-unused", message, acceptance.span, hint,
                      subject=subject)
