"""Metal with earth points on it, and no way from there back to the battery.

What
    The body, the engine or other metal that carries current back is not joined to the battery's
    return pole by any wire or strap, not even through a switch; or the return side of a second
    battery or of a generator is not.

Why
    Everything earthed there floats. A missing engine strap sends the starter's current through the
    accelerator cable or the gearbox linkage, which melt.

Wrong
    battery G1 "Battery"
    earth E1 "Body stud"
    starter M1 "Starter" on engine  unfused "no starter has a fuse"
    push-switch S1 "Starter button"
    blade-fuse F1 "Starter control"  20 A
    wire G1.- -> E1  25 mm2 BK
    wire G1.+ -> M1.30  25 mm2 RD
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> S1.1  2.5 mm2 RD
    wire S1.2 -> M1.50  2.5 mm2 RD

Right
    battery G1 "Battery"
    earth E1 "Body stud"
    earth E2 "Engine block" on engine
    starter M1 "Starter" on engine  unfused "no starter has a fuse"
    push-switch S1 "Starter button"
    blade-fuse F1 "Starter control"  20 A
    wire G1.- -> E1  25 mm2 BK
    wire E1 -> E2  25 mm2 BK
    wire G1.+ -> M1.30  25 mm2 RD
    wire G1.+ -> F1.1  4 mm2 RD
    wire F1.2 -> S1.1  2.5 mm2 RD
    wire S1.2 -> M1.50  2.5 mm2 RD

Source
    Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.diagnostics import Diagnostic, Related, Severity
from harnessdsl.model.vehicle import Part
from harnessdsl.rules.analysis.wording import listed, part_words
from harnessdsl.rules.context import RuleContext
from harnessdsl.rules.registry import rule


def nets_joined_for_return(context: RuleContext, starts: list[int]) -> set[int]:
    """Return the nets that are joined with `starts` through anything a return current may pass."""
    supply = context.supply
    found = set(starts)
    queue = list(starts)
    for net in queue:
        if net in supply.live_nets and net not in starts:
            continue
        for way in (*supply.earth_ways[net], *supply.live_ways[net]):
            if way.far not in found and way.link.edge.type != "winding":
                found.add(way.far)
                queue.append(way.far)
    return found


@rule("earth-path-missing", Severity.ERROR)
def earth_path_missing(context: RuleContext) -> Iterator[Diagnostic]:
    parts = context.vehicle.parts
    supply = context.supply
    batteries = [pole for pole in supply.return_poles
                 if parts[pole.part].family != "alternator"]
    if not batteries:
        return
    home = nets_joined_for_return(context, [pole.net for pole in batteries])
    named_batteries: set[str] = set()
    for net in sorted(supply.metal_nets - home):
        finding = _metal(context, net)
        if finding is not None:
            yield finding
    for pole in batteries[1:]:
        own = nets_joined_for_return(context, [pole.net])
        if pole.net in supply.live_nets or own & supply.metal_nets & home:
            continue
        others = {other.net for other in batteries if other is not pole}
        if not own & others and pole.part not in named_batteries:
            named_batteries.add(pole.part)
            yield _source(parts[pole.part], pole.node)
    for pole in supply.return_poles:
        if parts[pole.part].family == "alternator" and pole.net not in home and (
                pole.part in context.wired_parts) and pole.net not in supply.metal_nets:
            yield _source(parts[pole.part], pole.node)


def _source(part: Part, node: str) -> Diagnostic:
    return Diagnostic(
        Severity.ERROR, "earth-path-missing",
        f"the return side {node} of {part_words(part)} has no way to the other battery or to earth",
        part.name_span, f"write the wire from {node} to an earth point, or the metal it sits on: "
        "on engine", subject=part.name)


def _metal(context: RuleContext, net: int) -> Diagnostic | None:
    vehicle = context.vehicle
    nodes = context.nets.members[net]
    used = [name for name in dict.fromkeys(context.topology.part_of[node] for node in nodes)
            if name]
    if not context.nets.at[net] and not any(node in context.wired for node in nodes):
        return None  # nothing is earthed there
    metals = [node[1:] for node in nodes if node.startswith("@")]
    points = [vehicle.parts[name] for name in used if vehicle.parts[name].family == "earth"]
    first = points[0] if points else vehicle.parts[used[0]] if used else None
    what = "the " + " and the ".join(metals) if metals else (
        f"earth point '{used[0]}'" if used else "an earth point")
    message = f"{what} has no way back to the battery"
    if used:
        message += f": {listed(used)} {'is' if len(used) == 1 else 'are'} earthed there"
    good = next((part.name for part in vehicle.parts.values() if part.family == "earth"
                 and part.name not in used), None)
    strap = f"write the strap: wire {first.name if first else 'E2'} -> {good or 'G1.-'}  16 mm2"
    conductor = vehicle.conductors.get(metals[0]) if metals else None
    span = first.name_span if first is not None else (
        conductor.span if conductor is not None else vehicle.span)
    return Diagnostic(
        Severity.ERROR, "earth-path-missing", message, span, strap,
        tuple(Related("earthed there", vehicle.parts[name].name_span)
              for name in used[:6] if first is None or name != first.name),
        metals[0] if metals else used[0] if used else "")
