"""A load that no supply reaches, whatever the switches do.

What
    No way leads from a battery or generator to either terminal of a load, coil, module or socket,
    even with every contact closed; or it is fed only in switch positions in which it has no earth;
    or a generator has no way to the battery.
    Loads behind the same gap are named together. A load fed through a bigger one in series, or
    through a module's pin, counts as fed.

Why
    It never works. A wire is missing, ends on the wrong terminal, or was not written down yet.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    blade-fuse F1 "Lamps"  10 A
    toggle-switch S1 "Light switch"
    lamp E5 "Work lamp"
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> F1.1  2.5 mm2 RD
    wire S1.2 -> E5.1  1 mm2 GY
    wire E5.2 -> E1  1 mm2 BN

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
from harnessdsl.rules.analysis.blame import free_of_shorts
from harnessdsl.rules.analysis.islands import Island, island_of, open_terminal
from harnessdsl.rules.analysis.loads import Load
from harnessdsl.rules.analysis.service import Trouble, services
from harnessdsl.rules.analysis.wording import listed, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


@rule("never-fed", Severity.ERROR)
def never_fed(context: RuleContext) -> Iterator[Diagnostic]:
    if not context.has_sound_supply:
        return
    context = context.once(free_of_shorts)
    groups: dict[int, tuple[Island, list[Load]]] = {}
    for service in context.once(services):
        load = service.load
        if load.part.name not in context.wired_parts or "spare" in load.part.flags:
            continue
        if service.trouble is Trouble.CONFLICT:
            yield Diagnostic(
                Severity.ERROR, "never-fed",
                f"{part_words(load.part)} is fed at {load.node_a} or {load.node_b} only in switch "
                "positions in which its other side has no earth",
                load.part.name_span, "compare the wires at the switch with its contacts",
                subject=load.part.name)
        elif service.trouble is Trouble.NEVER_FED:
            island = island_of(context, service.net)
            groups.setdefault(island.key, (island, []))[1].append(load)
    for island, loads in groups.values():
        yield _finding(context, island, loads)
    yield from _generators(context)


def _generators(context: RuleContext) -> Iterator[Diagnostic]:
    """Yield the generators that no way joins with a battery: neither is charged nor starts."""
    parts = context.vehicle.parts
    batteries = [pole.net for pole in context.supply.live_poles
                 if parts[pole.part].family != "alternator"]
    joined = set(batteries)
    queue = list(batteries)
    for net in queue:
        for way in context.supply.live_ways[net]:
            if way.far not in joined and way.far not in context.supply.earth_nets:
                joined.add(way.far)
                queue.append(way.far)
    for pole in context.supply.live_poles:
        if batteries and parts[pole.part].family == "alternator" and pole.net not in joined and (
                pole.node in context.wired):
            names = [load.part.name for load in context.loads
                     if pole.net in (load.a, load.b)]
            yield Diagnostic(
                Severity.ERROR, "never-fed",
                f"no way leads from the battery to {pole.node} of {part_words(parts[pole.part])}"
                + (f", nor to {listed(list(dict.fromkeys(names)))} there" if names else "")
                + ": the battery is not charged, and nothing there works with the engine stopped",
                parts[pole.part].name_span, "write the cable between them",
                tuple(Related("the battery", parts[p.part].name_span)
                      for p in context.supply.live_poles[:1] if p.net in batteries),
                pole.part)


def _finding(context: RuleContext, island: Island, loads: list[Load]) -> Diagnostic:
    names = list(dict.fromkeys(load.part.name for load in loads))
    gap = open_terminal(context, island, Side.UPPER)
    parts = context.vehicle.parts
    about = (part_words(parts[names[0]]) if len(names) == 1
             else f"{len(names)} loads ({listed(names)})")
    verb = "is" if len(names) == 1 else "are"
    message = f"{about} {verb} never fed: no supply gets there in any position of the switches"
    if gap is None:
        part, related = parts[names[0]], names[1:]
        node = loads[0].node(loads[0].a if loads[0].a in island.nets else loads[0].b)
        hint = f"write the wire that feeds {node}"
    else:
        part, node = gap
        related = names
        message += f"; nothing is connected to {node}"
        hint = f"write the wire that brings supply to {node}"
    return Diagnostic(
        Severity.ERROR, "never-fed", message, part.name_span, hint,
        tuple(Related("not fed", parts[name].name_span) for name in related[:6]), part.name)
