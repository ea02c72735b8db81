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
from harnessdsl.rules.analysis.loads import Load
from harnessdsl.rules.analysis.wording import part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("reversed-polarity", Severity.ERROR)
def reversed_polarity(context: RuleContext) -> Iterator[Diagnostic]:
    yield from _sources(context)
    done: set[str] = set()
    for load in context.loads:
        if load.part.name not in done and _is_reversed(context, load):
            done.add(load.part.name)
            yield _finding(context, load)


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
