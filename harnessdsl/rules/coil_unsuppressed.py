"""A relay coil with nothing to take its spark.

What
    Neither a diode nor a resistor nor a capacitor lies across a relay's coil, in the relay or
    outside.

Why
    When a coil is switched off it drives several hundred volts. That pits the switch's contacts,
    crackles in the radio and kills the output of a control module.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Horn"  15 A
    push-switch S1 "Horn push"
    relay K1 "Horn relay"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> K1.30  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> K1.86  1 mm2 BU
    wire K1.85 -> E1  1 mm2 BN
    wire K1.87 -> H1.+  1.5 mm2 BK
    wire H1.- -> E1  1.5 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Horn"  15 A
    push-switch S1 "Horn push"
    relay-resistor K1 "Horn relay"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> K1.30  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> K1.86  1 mm2 BU
    wire K1.85 -> E1  1 mm2 BN
    wire K1.87 -> H1.+  1.5 mm2 BK
    wire H1.- -> E1  1.5 mm2 BN

Source
    Relay catalogues: 560 to 680 ohm across a 12 V coil, 1.2 to 2.7 kohm across a 24 V coil, or a
    diode with its cathode at 86 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Severity
from harnessdsl.rules.analysis.coils import coils
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("coil-unsuppressed", Severity.WARNING)
def coil_unsuppressed(context: RuleContext) -> Iterator[Diagnostic]:
    for coil in context.once(coils):
        part = coil.part
        if part.family != "relay" or coil.suppressors or coil.a == coil.b:
            continue
        if coil.node_a not in context.wired or coil.node_b not in context.wired:
            continue
        ohms = "1.2 to 2.7 kohm" if context.vehicle.nominal_v >= 24 else "560 to 680 ohm"
        yield Diagnostic(
            Severity.WARNING, "coil-unsuppressed",
            f"nothing takes the spark of the coil of {part_words(part)} ({coil.node_a} to "
            f"{coil.node_b})",
            part.name_span, f"use a relay with diode or resistor (relay-diode, relay-resistor), or "
            f"put a resistor of {ohms} across the coil", subject=part.name)
