"""Plus and minus swapped at a part that minds.

What
    A battery whose pole on the metal is not the one that the vehicle's block says; an LED, a
    control module or other electronics fed at its minus side (errors); a part with marked terminals
    (`+` and `-`, or `31`) connected the other way round, so that a motor runs backwards (a
    warning).

Why
    Electronics die of it in milliseconds, an LED stays dark, a fan blows the wrong way.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Fan"  20 A
    toggle-switch S1 "Fan switch"
    motor M3 "Fan"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1.5 mm2 RD
    wire S1.2 -> M3.-  1.5 mm2 GY
    wire M3.+ -> E1  1.5 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Fan"  20 A
    toggle-switch S1 "Fan switch"
    motor M3 "Fan"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1.5 mm2 RD
    wire S1.2 -> M3.+  1.5 mm2 GY
    wire M3.- -> E1  1.5 mm2 BN

Source
    DIN 72552: 31 is the return, 30 and 15 plus. Common practice.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.kind import SOURCE_TYPES
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.blame import free_of_shorts
from harnessdsl.rules.analysis.loads import Load
from harnessdsl.rules.analysis.supply import Entry
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

_SUPPLY_TERMINALS = ("30", "15", "75", "+", "49", "53a", "56", "58")


@rule("reversed-polarity", Severity.ERROR)
def reversed_polarity(context: RuleContext) -> Iterator[Diagnostic]:
    yield from _sources(context)
    if not context.has_sound_supply:
        return
    context = context.once(free_of_shorts)
    done: set[str] = set()
    for load in context.loads:
        if load.part.name not in done and _is_reversed(context, load):
            done.add(load.part.name)
            yield _finding(context, load)
    for part in context.vehicle.parts.values():
        if part.name not in done and part.family not in ("battery", "alternator", "relay"):
            swapped = _swapped_terminals(context, part)
            if swapped is not None:
                yield _terminals_finding(context, part, *swapped)


def _sources(context: RuleContext) -> Iterator[Diagnostic]:
    vehicle = context.vehicle
    wanted = "positive" if vehicle.positive_earth else "negative"
    for edge in context.topology.edges:
        if edge.type not in SOURCE_TYPES:
            continue
        on_metal = [node for node in (edge.a, edge.b)
                    if context.nets.of[node] in context.supply.metal_nets]
        wrong = edge.b if vehicle.positive_earth else edge.a
        if on_metal == [wrong]:
            part = vehicle.parts[edge.part]
            yield Diagnostic(
                Severity.ERROR, "reversed-polarity",
                f"{wrong} of {part_words(part)} is earthed, but this vehicle has {wanted} earth",
                part.name_span, "swap the battery's wires, or correct 'supply' in the vehicle's "
                "block", tuple(Related("its wire", wire.span)
                               for wire in context.wires_at.get(wrong, ())[:2]), part.name)


def _minds(load: Load) -> bool:
    primitive = load.primitive
    return primitive is not None and (primitive.type == "led" or "electronic" in primitive.flags)


def _live_side(context: RuleContext, load: Load) -> int | None:
    """Return the side that should be live: `a`, `b`, or None when it does not matter."""
    live_is_plus = not context.vehicle.positive_earth
    if _minds(load):
        return load.a if live_is_plus else load.b
    names = {load.node_a.rpartition(".")[2]: load.a, load.node_b.rpartition(".")[2]: load.b}
    if "31" in names and len(names) == 2:
        return load.a if names["31"] == load.b else load.b
    if "+" in names and "-" in names:
        return names["+" if live_is_plus else "-"]
    return None


def _is_reversed(context: RuleContext, load: Load) -> bool:
    right = _live_side(context, load)
    if right is None or load.a == load.b:
        return False
    other = load.b if right == load.a else load.a
    supply = context.supply
    if supply.fed(right) or not supply.fed(other) or not supply.returned(right):
        return False
    return not supply.returned(other)


def _swapped_terminals(context: RuleContext, part: Part) -> tuple[str, str] | None:
    """Return the earth terminal that is fed and the supply terminal that is earthed, both from
    outside the part; None when they are right."""
    if "31" not in part.kind.terminals:
        return None
    supply, net_of = context.supply, context.nets.of
    earth, earth_net = f"{part.name}.31", net_of[f"{part.name}.31"]
    if supply.returned(earth_net) and not _all_inside(part, supply.earth[earth_net]):
        return None
    if not supply.fed(earth_net) or _all_inside(part, supply.live[earth_net]):
        return None
    for name in _SUPPLY_TERMINALS:
        if name in part.kind.terminals:
            node = f"{part.name}.{name}"
            net = net_of[node]
            if node in context.wired and supply.returned(net) and not (
                    _all_inside(part, supply.earth[net])):
                return earth, node
    return None


def _all_inside(part: Part, entries: tuple[Entry, ...]) -> bool:
    return all(any(link.edge.part == part.name for link in entry.links) for entry in entries)


def _terminals_finding(context: RuleContext, part: Part, earth: str, live: str) -> Diagnostic:
    wires = context.wires_at.get(earth, ())
    return Diagnostic(
        Severity.ERROR, "reversed-polarity",
        f"{part_words(part)} is connected the wrong way round: the supply comes to {earth}, and "
        f"{live} leads to earth",
        wires[0].span if wires else part.name_span, f"swap the wires at {live} and {earth}",
        tuple(Related("the other wire", wire.span)
              for wire in context.wires_at.get(live, ())[:1]), part.name)


def _finding(context: RuleContext, load: Load) -> Diagnostic:
    right = _live_side(context, load)
    assert right is not None
    should, fed = load.node(right), load.node(load.b if right == load.a else load.a)
    effect = ("it will not work and may be destroyed" if _minds(load) else
              "it runs backwards" if load.type == "motor" else
              "its current runs the wrong way")
    wires = context.wires_at.get(fed, ())
    return Diagnostic(
        Severity.ERROR if _minds(load) else Severity.WARNING, "reversed-polarity",
        f"{part_words(load.part)} is connected the wrong way round: the supply comes to {fed}, "
        f"and {should} leads to earth; {effect}",
        wires[0].span if wires else load.part.name_span,
        f"swap the wires at {should} and {fed}",
        tuple(Related("the other wire", wire.span)
              for wire in context.wires_at.get(should, ())[:1]), load.part.name)
