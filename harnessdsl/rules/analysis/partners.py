"""Loads in series: current that comes or goes through another load, and is meant to.

Three cases are meant: the tell-tale that earths itself through the lamps it watches, two windings
in a row inside one part, and two equal loads in a row that share the voltage.
"""

from __future__ import annotations

from collections.abc import Callable

from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.loads import Load, power_w
from harnessdsl.rules.context import RuleContext

POWER_RATIO = 4.0
"""A load of this many times the power takes so little of the voltage that the smaller one works
through it (common practice, no source; a 2 W tell-tale and 21 W lamps)."""


def _through(context: RuleContext, load: Load, net: int, good: Callable[[int], bool],
             bad: Callable[[int], bool], at: dict[int, list[Load]]) -> bool:
    """Say whether the load's end on `net` gets to a good net through a partner. Loads that have
    merely lost the earth they share meet each other's supply there, which is `bad`."""
    own_w = power_w(load.primitive, context.vehicle.nominal_v) if load.primitive else None
    if _in_a_row(context, load, net, good, at):
        return True
    for other in at.get(net, ()):
        if other is load or other.a == other.b:
            continue
        far = other.b if other.a == net else other.a
        if not good(far) or bad(far):
            continue
        if other.part.name == load.part.name or other.primitive is None:
            continue
        other_w = power_w(other.primitive, context.vehicle.nominal_v)
        if own_w is not None and other_w is not None and other_w >= POWER_RATIO * own_w:
            return True
        if _twins(context, load, other, net, at):
            return True
    return False


def _in_a_row(context: RuleContext, load: Load, net: int, good: Callable[[int], bool],
              at: dict[int, list[Load]]) -> bool:
    """Say whether a load of the same part, head to tail with this one, leads on to a good net: the
    windings of a starter. A contact inside the part may lie between the two."""
    if load.primitive is None:
        return False
    inside = [net]
    for here in inside:
        for link in context.nets.at[here]:
            if link.edge.part == load.part.name and link.edge.type == "contact":
                far = link.other(here)
                if far not in inside:
                    inside.append(far)
    for here in inside:
        for other in at.get(here, ()):
            if other.part.name != load.part.name or other.primitive is None or other is load:
                continue
            if net == load.b and here == other.a and good(other.b):
                return here != net or load.node_b == other.node_a
            if net == load.a and here == other.b and good(other.a):
                return here != net or load.node_a == other.node_b
    return False


def _twins(context: RuleContext, load: Load, other: Load, net: int,
           at: dict[int, list[Load]]) -> bool:
    """Say whether the two are alike and alone at their middle: a pair in series."""
    if load.primitive is None or other.primitive is None or load.part.name == other.part.name:
        return False
    return (load.primitive.type == other.primitive.type
            and _figures(load.part) == _figures(other.part)
            and len(at[net]) == 2 and not context.supply.live_ways[net]
            and not context.supply.earth_ways[net])


def _figures(part: Part) -> list[tuple[tuple[str, str], float]]:
    return sorted((key, quantity.value) for primitive in part.kind.primitives
                  for key, quantity in primitive.figures.items())


def returns_through_partner(context: RuleContext, load: Load, net: int) -> bool:
    """Say whether a load's end on `net` gets to earth through another load that is meant for it."""
    return _through(context, load, net, context.supply.returned, context.supply.fed,
                    context.loads_at)


def fed_through_partner(context: RuleContext, load: Load, net: int) -> bool:
    """Say whether a load's end on `net` is fed through another load that is meant for it."""
    return _through(context, load, net, context.supply.fed, context.supply.returned,
                    context.loads_at)
