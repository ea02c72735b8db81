"""Answers about one thing, as plain lines for a terminal: what, where, wires, feeds, earth."""

from __future__ import annotations

from collections.abc import Iterator

from harnessdsl.model.colour import colour_name
from harnessdsl.model.feeds import PERMANENT, Feeds, Route
from harnessdsl.model.topology import Edge, terminal_node
from harnessdsl.model.vehicle import Part, Place, Vehicle, Wire
from harnessdsl.model.wire_builder import distance_m

NEAR_M = 0.6
"""How far from a place a wire's end may be to count as near it."""


def named(vehicle: Vehicle, part_name: str) -> str:
    """Return `K2 Radiator fan relay`."""
    part = vehicle.parts.get(part_name)
    if part is None:
        return part_name
    return f"{part_name} {part.label}".rstrip()


def figures_text(part: Part) -> str:
    """Return the figures that the file writes on the part itself."""
    return ", ".join(" ".join([key[0], quantity.text]).strip()
                     for key, quantity in part.figures.items())


def wire_text(vehicle: Vehicle, wire: Wire, seen_from: str = "") -> str:
    """Return a wire in one line, beginning at the end `seen_from` where given."""
    a, b = (wire.b, wire.a) if seen_from and wire.b.node == seen_from else (wire.a, wire.b)
    look = " ".join(word for word in (
        wire.area_text or "? mm2", wire.colour or "colour unknown",
        f"{wire.length_m:.2f} m" if wire.length_m is not None else "") if word)
    sure = wire.evidence.trust.word + (f" {wire.evidence.date}" if wire.evidence.date else "")
    end = f"{b.part}.{b.half}.{b.terminal}" if b.half else str(b)
    start = "" if seen_from else f"{a} "
    label = vehicle.parts[b.part].label if b.part in vehicle.parts else ""
    return f"{start}-> {end} {label}".rstrip() + f"   {look}   ({sure})"


def chain_of_places(vehicle: Vehicle, name: str) -> list[Place]:
    """Return the place and the places around it, outermost first."""
    chain: list[Place] = []
    while name in vehicle.places and vehicle.places[name] not in chain:
        chain.append(vehicle.places[name])
        name = vehicle.places[name].inside
    return chain[::-1]


def where_lines(vehicle: Vehicle, part: Part) -> Iterator[str]:
    """Yield where a part is and how to reach it, outermost place first."""
    if not part.place and not part.zone:
        yield "nobody has written down where it is"
        return
    if part.zone and not part.place:
        yield f"somewhere in the zone {part.zone} (no exact place known)"
        return
    chain = chain_of_places(vehicle, part.place)
    slot = f", slot {part.slot}" if part.slot else ""
    yield f"{chain[-1].label or part.place} ({part.place}){slot}"
    for outer in reversed(chain[:-1]):
        yield f"  in {outer.label or outer.name} ({outer.name})"
    minutes = sum(step.minutes for place in chain for step in place.reach)
    number = 0
    for place in chain:
        for step in place.reach:
            number += 1
            took = f" ({step.minutes:g} min)" if step.minutes else ""
            yield f"  {number}. {step.text}{took}"
    if number and minutes:
        yield f"  {minutes:g} {'minute' if minutes == 1 else 'minutes'} in all"
    for place in chain:
        for exposure in place.exposure:
            yield f"  it is {exposure} there"
        for caution in place.cautions:
            yield f"  caution: {caution}"


def _device(vehicle: Vehicle, edge: Edge, node: str) -> str | None:
    """Return what a route passes, when it is something that one would want to know of."""
    part = vehicle.parts.get(edge.part)
    if part is None:
        return None
    far = edge.other(node)
    pins = f"{node.rpartition('.')[2]} to {far.rpartition('.')[2]}"
    if edge.type in ("fuse", "breaker", "link"):
        rating = part.rating_a()
        slot = f", slot {part.slot} of {part.place}" if part.slot else ""
        return f"{part.kind.label.split(',')[0]} {named(vehicle, part.name)}" + (
            f", {rating:g} A" if rating else "") + slot
    if edge.type == "contact":
        when = " and ".join(
            ("" if clause.actuator in ("main", "coil", "heat", "pressure", "motion", "trip")
             else f"{clause.actuator} ") + " or ".join(clause.positions)
            for clause in (edge.primitive.clauses if edge.primitive else ()))
        return f"{named(vehicle, part.name)}, contact {pins}" + (f", closed when {when}"
                                                                  if when else "")
    return None


def route_lines(vehicle: Vehicle, route: Route) -> Iterator[str]:
    """Yield what a route passes, from the supply on."""
    node = route.start
    for edge in route.edges:
        text = _device(vehicle, edge, node)
        if text:
            yield text
        elif edge.type == "plug":
            yield f"plug {named(vehicle, edge.part)}, cavity {node.rpartition('.')[2]}"
        node = edge.other(node)


def _coil_lines(vehicle: Vehicle, feeds: Feeds, relay: str) -> Iterator[str]:
    part = vehicle.parts[relay]
    for primitive in part.kind.primitives:
        if primitive.type != "coil":
            continue
        for terminal in (primitive.a, primitive.b):
            node = terminal_node(relay, terminal)
            if node in feeds.earthed:
                route, word = feeds.earth(node), "to earth"
            elif (route := feeds.feed(node)) is not None:
                word = "fed"
            else:
                route, word = feeds.earth(node), "to earth"
            if route is None:
                yield f"coil {terminal}: leads to neither supply nor earth"
                continue
            passed = [edge.part for edge in route.edges if edge.type not in PERMANENT]
            through = ", ".join(dict.fromkeys(named(vehicle, name) for name in passed if name))
            yield f"coil {terminal}: {word}" + (f" through {through}" if through else " directly")


def part_lines(vehicle: Vehicle, name: str, feeds: Feeds | None = None) -> list[str]:
    """Return everything that the file knows of one part, as lines."""
    feeds = feeds or Feeds(vehicle)
    part = vehicle.parts[name]
    lines = [f"{named(vehicle, name)}: {part.kind.label or part.kind.name}"
             + (f" ({figures_text(part)})" if part.figures else "")]
    if part.note:
        lines.append(f"  note: {part.note}")
    circuits = [f"{c.name} {c.label}".rstrip() for c in vehicle.circuits.values()
                if name in c.parts]
    if circuits:
        lines.append("  circuit: " + "; ".join(circuits))
    trust = part.evidence
    if trust.stated:
        lines.append(f"  known by: {trust.trust.word} {trust.date} {trust.note}".rstrip())
    if part.kind.safety:
        lines.append(f"  CAUTION: belongs to the {part.kind.safety} system; leave it to the "
                     "maker's instructions and licensed hands")
    lines += ["where:", *(f"  {line}" for line in where_lines(vehicle, part))]
    lines += ["wires:", *(f"  {line}" for line in _pin_lines(vehicle, feeds, part))]
    lines += _feed_lines(vehicle, feeds, part)
    return lines


def _pin_lines(vehicle: Vehicle, feeds: Feeds, part: Part) -> Iterator[str]:
    any_wire = False
    for node in feeds.nodes_of(part.name):
        pin = node[len(part.name) + 1 :] or "-"
        wires = [edge.wire for edge in feeds.topology.edges_at.get(node, ()) if edge.wire]
        terminal = part.kind.terminals.get(pin)
        role = " ".join(word for word in ((terminal.role, terminal.label) if terminal else ())
                        if word)
        for wire in wires:
            any_wire = True
            yield f"{pin:<6} {wire_text(vehicle, wire, node)}" + (f"   {role}" if role else "")
        case = [edge for edge in feeds.topology.edges_at.get(node, ()) if edge.type == "bond"]
        if case:
            any_wire = True
            yield f"{pin:<6} on the metal of the {case[0].other(node).lstrip('@')}"
        if not wires and not case and (part.connector is None):
            yield f"{pin:<6} nothing"
    if not any_wire:
        yield "nothing is connected to it"


def _feed_lines(vehicle: Vehicle, feeds: Feeds, part: Part) -> Iterator[str]:
    relays: list[str] = []
    for node in feeds.nodes_of(part.name):
        if node in feeds.earthed:
            continue
        route = feeds.feed(node)
        if route is None or not any(edge.part != part.name for edge in route.edges):
            continue
        own = [edge for edge in route.edges if edge.part == part.name]
        if own or (node in feeds.live_side and not route.edges):
            continue  # fed through itself: the terminal where it enters is listed already
        terminal, source = node[len(part.name) + 1 :] or "it", feeds.live[route.start]
        yield f"fed at {terminal} from {named(vehicle, source)} over:"
        passed = list(route_lines(vehicle, route))
        yield from (f"  {line}" for line in passed or ["the wire alone: no fuse, no switch"])
        relays += [edge.part for edge in route.edges
                   if edge.type == "contact" and vehicle.parts[edge.part].family == "relay"]
    for relay in dict.fromkeys(relays):
        yield f"{named(vehicle, relay)} is worked by:"
        yield from (f"  {line}" for line in _coil_lines(vehicle, feeds, relay))
    yield from _share_lines(vehicle, feeds, part)


def _share_lines(vehicle: Vehicle, feeds: Feeds, part: Part) -> Iterator[str]:
    if any(edge.part == part.name and edge.type in ("fuse", "breaker", "link")
           for edge in feeds.topology.edges):
        yield "feeds:"
        yield from (f"  {named(vehicle, other)}" for other in feeds.fed_by(part.name))
    for fuse in feeds.fuses_of(part.name):
        others = [other for other in feeds.fed_by(fuse) if other != part.name]
        if others:
            yield f"on the same fuse {named(vehicle, fuse)}:"
            yield from (f"  {named(vehicle, other)}" for other in others)
    points = feeds.earth_points_of(part.name)
    if part.family == "earth":
        points = [part.name]
    for point in points:
        metal = point.startswith("@")
        label = f"the metal of the {point[1:]} (its case)" if metal else (
            f"{named(vehicle, point)}, on the {vehicle.parts[point].conductor}")
        if part.family != "earth":
            yield f"earthed at: {label}"
        if metal:
            continue
        others = [other for other in vehicle.parts
                  if other != part.name and feeds.consumers_at(feeds.nodes_of(other))
                  and point in feeds.earth_points_of(other)]
        if others:
            yield f"at the same earth {point}:"
            yield from (f"  {named(vehicle, other)}" for other in others)


def place_lines(vehicle: Vehicle, name: str) -> list[str]:
    """Return what is at a place, and how to reach it."""
    place = vehicle.places[name]
    stand_in = Part(name, place.label, next(iter(vehicle.parts.values())).kind, place=name)
    lines = [f"{name} {place.label}".rstrip(), *(f"  {line}" for line in
                                                where_lines(vehicle, stand_in))]
    for part in vehicle.parts.values():
        if name in [p.name for p in chain_of_places(vehicle, part.place)]:
            slot = f"  slot {part.slot}" if part.slot else ""
            lines.append(f"  {part.name:<6} {part.label}{slot}")
    return lines


def wire_lines(vehicle: Vehicle, wire: Wire) -> list[str]:
    """Return everything known of one wire."""
    lines = [f"wire {wire.name}: {wire_text(vehicle, wire)}", f"  {colour_name(wire.colour)}"]
    for end in (wire.a, wire.b):
        part = vehicle.parts.get(end.part)
        if part is not None:
            lines.append(f"  {end.node}: {named(vehicle, end.part)}, "
                         + (next(iter(where_lines(vehicle, part)))))
    if wire.note:
        lines.append(f"  note: {wire.note}")
    if wire.evidence.note:
        lines.append(f"  {wire.evidence.trust.word}: {wire.evidence.note}")
    runs = [run.name for run in vehicle.runs.values() if wire.name in run.wires]
    if runs:
        lines.append("  runs in: " + ", ".join(runs))
    return lines


def wires_like(vehicle: Vehicle, colour: str = "", area_mm2: float | None = None,
               near: str = "") -> list[Wire]:
    """Return the wires that look like the one that was seen.

    A colour without tracer matches wires of that base colour with any tracer or none; an area
    matches within a tenth, since a gauge and a metric size rarely agree; `near` is a place, and
    an end (or a run) within 0.6 m of it counts.
    """
    found = []
    for wire in vehicle.wires.values():
        if colour and wire.colour != colour and (
                "/" in colour or wire.colour.split("/")[0] != colour):
            continue
        if area_mm2 is not None and (
                wire.area_mm2 is None or abs(wire.area_mm2 - area_mm2) > 0.1 * area_mm2):
            continue
        if near and not _passes(vehicle, wire, near):
            continue
        found.append(wire)
    return found


def _passes(vehicle: Vehicle, wire: Wire, near: str) -> bool:
    places = [vehicle.parts[end.part].place for end in (wire.a, wire.b)
              if end.part in vehicle.parts]
    for run in vehicle.runs.values():
        if wire.name in run.wires:
            places += [*run.places, *run.grommets]
    for place in places:
        if near in [p.name for p in chain_of_places(vehicle, place)]:
            return True
        gap_m = distance_m(vehicle.places, place, near)
        if gap_m is not None and gap_m <= NEAR_M:
            return True
    return False
