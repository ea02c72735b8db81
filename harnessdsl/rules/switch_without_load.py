"""A switch that switches nothing.

What
    What a switch or sender contact opens and closes leads to no load, no module and no supply, on
    none of its terminals. Switches on one such line are named together.

Why
    The wire from the line to the load or the module is missing.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Interior lamp"  5 A
    interior-lamp E20 "Interior lamp"
    door-switch S11 "Left door switch" on body
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> E20.30  0.75 mm2 RD
    wire E20.31 -> E1  0.75 mm2 BN
    splice J1 "Door switches"
    door-switch S12 "Right door switch" on body
    wire S11.1 -> J1  0.75 mm2 BN/WH
    wire S12.1 -> J1  0.75 mm2 BN/WH

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Interior lamp"  5 A
    interior-lamp E20 "Interior lamp"
    door-switch S11 "Left door switch" on body
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire F1.2 -> E20.30  0.75 mm2 RD
    wire E20.31 -> E1  0.75 mm2 BN
    splice J1 "Door switches"
    door-switch S12 "Right door switch" on body
    wire S11.1 -> J1  0.75 mm2 BN/WH
    wire S12.1 -> J1  0.75 mm2 BN/WH
    wire E20.31b -> J1  0.75 mm2 BN/WH

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.rules.analysis.blame import free_of_shorts
from harnessdsl.rules.analysis.islands import Island, island_of
from harnessdsl.rules.analysis.wording import listed, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("switch-without-load", Severity.WARNING)
def switch_without_load(context: RuleContext) -> Iterator[Diagnostic]:
    if not context.has_sound_supply:
        return
    context = context.once(free_of_shorts)
    groups: dict[int, tuple[Island, list[str]]] = {}
    useful: set[str] = set()
    for link in context.nets.links:
        edge = link.edge
        part = context.vehicle.parts.get(edge.part)
        if edge.type != "contact" or part is None or link.a == link.b:
            continue
        if part.family not in ("switch", "thermo-switch", "sender") or "spare" in part.flags:
            continue
        for net in (link.a, link.b):
            if net in context.supply.earth_nets or not _is_wired(context, net):
                continue
            island = island_of(context, net)
            if _has_purpose(context, island):
                useful.add(part.name)
            else:
                names = groups.setdefault(island.key, (island, []))[1]
                if part.name not in names:
                    names.append(part.name)
    for _, names in groups.values():
        idle = [name for name in names if name not in useful]
        if idle:
            parts = context.vehicle.parts
            about = (part_words(parts[idle[0]]) if len(idle) == 1
                     else f"{len(idle)} switches ({listed(idle)})")
            yield Diagnostic(
                Severity.WARNING, "switch-without-load",
                f"{about} {'switches' if len(idle) == 1 else 'switch'} nothing: the line leads to "
                "no load, no module and no supply",
                parts[idle[0]].name_span, "write the wire from there to what it switches",
                tuple(Related("on the same line", parts[name].name_span)
                      for name in idle[1:6]), idle[0])


def _is_wired(context: RuleContext, net: int) -> bool:
    return any(node in context.wired for node in context.nets.members[net])


def _has_purpose(context: RuleContext, island: Island) -> bool:
    """Say whether the supply, a load, a module or something of unknown inside is on the island."""
    for net in island.nets:
        if context.supply.fed(net) or context.loads_at.get(net):
            return True
        if any(link.edge.type != "contact" for link in context.nets.at[net]):
            return True
        for node in context.nets.members[net]:
            part = context.vehicle.parts.get(context.topology.part_of[node])
            if part is not None and (part.kind.any_terminals or (
                    not part.kind.primitives and part.connector is None
                    and part.family not in ("splice", "earth"))):
                return True
    return False
