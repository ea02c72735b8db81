"""A relay whose terminals are used for something else than they are.

What
    - 30 and 87 swapped on a make relay: the feed is on 87 and the load on 30;
    - the load on 87a of a changeover relay whose 87 is unused: it runs while the relay is off;
    - 85 and 86 swapped at a coil with a diode inside, whose 86 is strictly plus (an error);
    - one terminal of the coil joined to one of the contact for good on the wrong side, so that the
      coil hangs behind its own contact.

Why
    A swapped 30 and 87 works until the relay is replaced by one with 87a. A load on 87a does the
    opposite of what the switch says. A swapped coil with a diode shorts its switch. A coil behind
    its own contact never pulls in.

    Relays have 30 as the common contact, 87 as make and 87a as break. The table of DIN 72552
    calls the common contact 87.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Horn"  15 A
    push-switch S1 "Horn push"
    relay-diode K1 "Horn relay"
    horn H1 "Horn"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> K1.30  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> K1.85  1 mm2 BU
    wire K1.86 -> E1  1 mm2 BN
    wire K1.87 -> H1.+  1.5 mm2 BK
    wire H1.- -> E1  1.5 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Horn"  15 A
    push-switch S1 "Horn push"
    relay-diode K1 "Horn relay"
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
    DIN 72552 and ISO 7588-1 (from memory); relays as on sale.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.coils import Coil, coils, plus_side
from harnessdsl.rules.analysis.supply import Entry
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("relay-terminals", Severity.ERROR)
def relay_terminals(context: RuleContext) -> Iterator[Diagnostic]:
    for part in context.vehicle.parts.values():
        if part.family == "relay":
            yield from _contacts(context, part)
    for coil in context.once(coils):
        yield from _coil(context, coil)


def _wired(context: RuleContext, part: Part, terminal: str) -> bool:
    return f"{part.name}.{terminal}" in context.wired


def _related(context: RuleContext, node: str) -> tuple[Related, ...]:
    return tuple(Related(f"the wire at {node}", w.span) for w in context.wires_at.get(node, ())[:1])


def _fed_from_outside(context: RuleContext, part: Part, net: int) -> bool:
    """Say whether the supply gets to a net without passing this relay."""
    def passes(entry: Entry) -> bool:
        return any(link.edge.part == part.name for link in entry.links)

    return context.supply.fed(net) and any(not passes(e) for e in context.supply.live[net])


def _earthed_from_outside(context: RuleContext, part: Part, net: int) -> bool:
    return any(all(link.edge.part != part.name for link in entry.links)
               for entry in context.supply.earth[net])


def _contacts(context: RuleContext, part: Part) -> Iterator[Diagnostic]:
    terminals = part.kind.terminals
    if "30" not in terminals:
        return
    if _wired(context, part, "30") and "87" in terminals and _wired(context, part, "87") and not (
            "87a" in terminals and _wired(context, part, "87a")):
        common, make = (context.nets.of[f"{part.name}.{t}"] for t in ("30", "87"))
        if common != make:
            for source in (_fed_from_outside, _earthed_from_outside):
                if source(context, part, make) and not source(context, part, common) and (
                        not _fed_from_outside(context, part, common)
                        and not _earthed_from_outside(context, part, common)):
                    yield Diagnostic(
                        Severity.WARNING, "relay-terminals",
                        f"30 and 87 of {part_words(part)} are swapped: the feed is on 87, and 30 "
                        "leads to the load",
                        part.name_span, "feed 30 and take the load from 87",
                        (*_related(context, f"{part.name}.30"),
                         *_related(context, f"{part.name}.87")), part.name)
                    break
    if "87a" in terminals and "87" in terminals and _wired(context, part, "87a") and not (
            _wired(context, part, "87")):
        wire = context.wires_at[f"{part.name}.87a"][0]
        yield Diagnostic(
            Severity.WARNING, "relay-terminals",
            f"{part_words(part)} uses its break contact 87a only: what hangs on it runs while the "
            "relay is off",
            wire.span, "take it to 87; where break is meant, use a relay with 87a only "
            "(relay-break)", (Related("the relay", part.name_span),), part.name)


def _coil(context: RuleContext, coil: Coil) -> Iterator[Diagnostic]:
    part = coil.part
    plus = plus_side(context, coil)
    for link in coil.suppressors:
        if link.edge.type == "diode" and link.edge.part == part.name and plus is not None and (
                link.a == plus) and link.edge.b.endswith(".86") and coil.net("86") == link.b:
            yield Diagnostic(
                Severity.ERROR, "relay-terminals",
                f"85 and 86 of {part_words(part)} are swapped: its diode makes 86 strictly plus, "
                f"and plus is on {part.name}.85",
                part.name_span, "plus to 86, earth to 85",
                (*_related(context, f"{part.name}.85"), *_related(context, f"{part.name}.86")),
                part.name)
    supply = context.supply
    for entry_side in (coil.a, coil.b):
        if not supply.fed(entry_side):
            continue
        if all(any(link.edge.part == part.name and link.edge.type == "contact"
                   and _needs_energised(context, link.edge.primitive) for link in entry.links)
               for entry in supply.live[entry_side]):
            yield Diagnostic(
                Severity.ERROR, "relay-terminals",
                f"the coil of {part_words(part)} is fed only through the relay's own make contact, "
                "so it never pulls in",
                part.name_span, "feed the coil from the switch",
                subject=part.name)
            return


def _needs_energised(context: RuleContext, primitive: object) -> bool:
    clauses = getattr(primitive, "clauses", ())
    return any(c.actuator == "coil" and c.positions == ("energised",) for c in clauses)
