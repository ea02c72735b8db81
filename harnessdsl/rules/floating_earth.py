"""A load whose current finds no way to earth, whatever the switches do.

What
    A load, coil, module or socket is fed on one side, and from the other side no way leads to an
    earth point, to metal or to the battery's other pole, even with every contact closed. The same
    for every earth pin of a control module. Things behind the same gap are named together.

Why
    It never works, or it seeks a way through its neighbours: lamps glow dimly, relays pull in by
    themselves, gauges read wrong.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> S1.1  1 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY

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
    A circuit is a closed loop; common practice.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.kind import Side
from harnessdsl.model.topology import terminal_node
from harnessdsl.rules.analysis.blame import free_of_shorts
from harnessdsl.rules.analysis.islands import Island, island_of, open_terminal
from harnessdsl.rules.analysis.service import Trouble, services
from harnessdsl.rules.analysis.wording import listed, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("floating-earth", Severity.ERROR)
def floating_earth(context: RuleContext) -> Iterator[Diagnostic]:
    if not context.has_sound_supply:
        return
    context = context.once(free_of_shorts)
    groups: dict[int, tuple[Island, list[tuple[str, str]]]] = {}

    def add(net: int, part: str, node: str, gap: str = "") -> None:
        island = Island((net,)) if gap else island_of(context, net)
        members = groups.setdefault(island.key, (island, []))[1]
        if all(name != part for name, _ in members):
            members.append((part, node))

    for service in context.once(services):
        load = service.load
        if service.trouble is Trouble.FLOATING and load.part.name in context.wired_parts and (
                "spare" not in load.part.flags):
            add(service.net, load.part.name, service.gap or load.node(service.net), service.gap)
    for part in context.vehicle.parts.values():
        for terminal in part.kind.terminals.values():
            node = terminal_node(part.name, terminal.name)
            if terminal.role == "earth" and node in context.wired and not (
                    context.supply.returned(context.nets.of[node])):
                add(context.nets.of[node], part.name, node)
    for island, members in groups.values():
        yield _finding(context, island, members)


def _finding(context: RuleContext, island: Island, members: list[tuple[str, str]]) -> Diagnostic:
    parts = context.vehicle.parts
    names = [name for name, _ in members]
    gap = open_terminal(context, island, Side.LOWER)
    about = (part_words(parts[names[0]]) if len(names) == 1
             else f"{len(names)} parts ({listed(names)})")
    verb = "has" if len(names) == 1 else "have"
    message = f"{about} {verb} no way to earth in any position of the switches"
    terminals = {node for _, node in members}
    if gap is None and len(terminals) == 1 and len(island.nets) == 1 and (
            context.topology.part_of[members[0][1]] not in names):
        node = members[0][1]
        gap = parts[context.topology.part_of[node]], node
    if gap is not None:
        part, node = gap
        message += (f"; {node} leads nowhere" if node in context.wired
                    else f"; nothing is connected to {node}")
        related = names
    else:
        part, node = parts[names[0]], members[0][1]
        meeting = _meeting_point(context, island) if len(names) > 1 else None
        if meeting is not None:
            part, node = parts[meeting], meeting
            message += f"; they meet at {meeting}, which leads nowhere"
            related = names
        else:
            if node:
                message += f": {node} leads nowhere"
            related = names[1:]
    return Diagnostic(
        Severity.ERROR, "floating-earth", message, part.name_span,
        f"write the wire from {node} to an earth point", tuple(
            Related("without earth", parts[name].name_span) for name in related[:6]), part.name)


def _meeting_point(context: RuleContext, island: Island) -> str | None:
    """Return the splice on the island, if there is one only."""
    splices = {context.topology.part_of[node] for net in island.nets
               for node in context.nets.members[net]}
    found = [name for name in sorted(splices)
             if name in context.vehicle.parts and context.vehicle.parts[name].family == "splice"]
    return found[0] if len(found) == 1 else None
