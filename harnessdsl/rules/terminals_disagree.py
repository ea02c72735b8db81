"""Terminals joined that mean opposite things.

What
    A wire, or a line through plugs, splices and fuses, joins two terminals whose designations
    exclude each other: 56a (main beam) and 56b (dipped beam), L and R, 54 (stop lamps) and 58 (side
    lamps), 53 (slow) and 53b (fast wiper), up and down, lock and unlock.

Why
    Everything works, but the wrong way: two wires were swapped. Where the part was fitted the other
    way round on purpose, accept it.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Headlamp"  15 A
    dip-switch S3 "Dip switch"
    toggle-switch S2 "Light switch"
    headlamp-bulb E5 "Headlamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S2.1  1.5 mm2 RD
    wire S2.2 -> S3.56  1.5 mm2 WH/BK
    wire S3.56a -> E5.56b  1.5 mm2 WH
    wire S3.56b -> E5.56a  1.5 mm2 YE
    wire E5.31 -> E1  1.5 mm2 BN

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Headlamp"  15 A
    dip-switch S3 "Dip switch"
    toggle-switch S2 "Light switch"
    headlamp-bulb E5 "Headlamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S2.1  1.5 mm2 RD
    wire S2.2 -> S3.56  1.5 mm2 WH/BK
    wire S3.56a -> E5.56a  1.5 mm2 WH
    wire S3.56b -> E5.56b  1.5 mm2 YE
    wire E5.31 -> E1  1.5 mm2 BN

Source
    DIN 72552 for the numbers (from memory); the words are those of the shipped kinds.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import Wire
from harnessdsl.rules.analysis.blame import free_of_faults
from harnessdsl.rules.analysis.nets import is_solid
from harnessdsl.rules.analysis.supply import is_protection
from harnessdsl.rules.analysis.tracing import walk, wires_of
from harnessdsl.rules.analysis.wording import wire_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule

OPPOSITES = (("56a", "56b"), ("L", "R"), ("54", "58"), ("53", "53b"), ("up", "down"),
             ("lock", "unlock"))


@rule("terminals-disagree", Severity.WARNING)
def terminals_disagree(context: RuleContext) -> Iterator[Diagnostic]:
    context = context.once(free_of_faults)
    named: set[frozenset[str]] = set()
    for nodes in _lines(context):
        for pair in OPPOSITES:
            first = [node for node in nodes if _means(context, node, pair) == pair[0]]
            second = [node for node in nodes if _means(context, node, pair) == pair[1]]
            if not first or not second:
                continue
            key = frozenset((*first, *second))
            if key not in named:
                named.add(key)
                yield _finding(context, pair, first, second)


def _lines(context: RuleContext) -> Iterator[list[str]]:
    """Yield the nodes of each line that has wires on it: nets joined through fuses. Earth and the
    line of the battery itself are left out."""
    done: set[int] = set()
    avoid = context.supply.earth_nets | context.supply.live_nets
    for start in range(len(context.nets.members)):
        if start in done or start in avoid:
            continue
        done.add(start)
        nets = [start]
        for net in nets:
            for link in context.nets.at[net]:
                far = link.other(net)
                if is_protection(link.edge) and far not in done and far not in avoid:
                    done.add(far)
                    nets.append(far)
        yield [node for net in nets for node in context.nets.members[net]
               if node in context.wired]


def _means(context: RuleContext, node: str, pair: tuple[str, str]) -> str | None:
    """Return which of a pair a terminal stands for, by its name or its other names."""
    part = context.vehicle.parts.get(context.topology.part_of[node])
    if part is None or part.connector is not None:
        return None
    terminal = part.kind.terminal(node.partition(".")[2])
    if terminal is None:
        return None
    names = {terminal.name, *terminal.aliases}
    found = [word for word in pair if word in names]
    return found[0] if len(found) == 1 else None


def _finding(context: RuleContext, pair: tuple[str, str], first: list[str], second: list[str]
             ) -> Diagnostic:
    # the odd one out is on the side with fewer terminals
    few, many = sorted((first, second), key=len)
    odd, other = few[0], many[0]
    wire = _wire_at(context, odd, other)
    part = context.vehicle.parts[context.topology.part_of[odd]]
    return Diagnostic(
        Severity.WARNING, "terminals-disagree",
        f"{odd} is joined with {other}: {pair[0]} and {pair[1]} exclude each other"
        + (f"; see {wire_words(wire)}" if wire is not None else ""),
        wire.span if wire is not None else part.name_span,
        f"are the wires of {pair[0]} and {pair[1]} swapped?",
        (Related("the part", part.name_span),), wire.name if wire is not None else part.name)


def _wire_at(context: RuleContext, odd: str, other: str) -> Wire | None:
    """Return the wire at the odd terminal on the way to the other one."""
    edges = walk(context, odd, lambda node: node == other,
                 lambda edge: is_solid(edge) or is_protection(edge))
    wires = wires_of(edges or [])
    return wires[0] if wires else None
