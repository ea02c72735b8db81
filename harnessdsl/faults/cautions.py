"""What can hurt someone at a step, in words. The maker's data and local rules come first."""

from __future__ import annotations

from collections.abc import Sequence

from harnessdsl.faults.case import BATTERY_OFF, Observation
from harnessdsl.faults.effort import part_of_node, places_of_node
from harnessdsl.faults.nearby import by_name, nearby
from harnessdsl.model.location import access
from harnessdsl.model.vehicle import Vehicle

TEXTS = {
    "airbag": "AIRBAG CIRCUIT: do not measure here. Battery off, wait as long as the maker says; "
              "work on it is for the licensed trade.",
    "high-voltage": "High voltage from the ignition can kill: engine off and key out before you "
                    "touch leads, coil or plugs.",
    "fuel": "Fuel: no spark, no naked lamp; let the pressure off before a line is opened; connect "
            "the instrument before the current is switched on.",
    "fan": "The fan may start by itself, even with the key out: hands, sleeves and leads clear.",
    "battery": "Battery: a tool across it burns and its gas explodes. Earth lead off first, on "
               "last.",
}
TURNING = "The engine runs: belts, fan and hot parts; out of gear, handbrake on, good air."
CRANKING = "The engine turns over: out of gear, handbrake on, leads clear of belts and fan."
FUSE = "Fit a fuse of the same rating, never a larger one or a piece of wire."
FUSE_AGAIN = ("A fuse that blows at once has done its work: switch off, do not put in one after "
              "the other.")
LAMP = "Never probe a control module's pins with a test lamp: use a meter of 10 megohm."
OHMS = ("An ohmmeter only with the battery's earth lead off; never through an airbag; a control "
        "module's plug comes off first.")
AMPS = ("A meter set to amperes is a short circuit between its leads: never across a supply; best "
        "is a clamp.")
DRIVING = "On the road: a second person drives, nobody reads a meter at the wheel."
PIERCE = "Probe from the back of the plug; do not pierce insulation."


def hazards_of(vehicle: Vehicle, node: str) -> list[str]:
    """Return the hazard words that hold where one works at a node: those that the file gives to
    its places, kinds and circuits, and what parts there are by their names."""
    found: dict[str, None] = {}
    near = nearby(vehicle)
    for place in places_of_node(vehicle, node):
        if place in vehicle.places:
            found.update(dict.fromkeys(access(vehicle, place).cautions))
        found.update(near.by_place.get(place, {}))
    part = part_of_node(vehicle, node)
    if part is not None:
        if part.kind.safety:
            found[part.kind.safety] = None
        for circuit in vehicle.circuits.values():
            if circuit.safety and circuit.safety != "airbag" and part.name in circuit.parts:
                found[circuit.safety] = None
        if part.family in ("battery", "alternator", "starter"):
            found["battery"] = None
        if part.family == "ignition":
            found["high-voltage"] = None
        found.update(dict.fromkeys(by_name(part)))
        if part.name in near.airbags:
            found["airbag"] = None
    if node in near.airbag_nodes or near.airbag_nodes.intersection(near.cavities(node)):
        found["airbag"] = None
    return list(found)


def forbidden(vehicle: Vehicle, node: str) -> bool:
    """Return whether nothing may be measured there: airbags."""
    near = nearby(vehicle)
    part = part_of_node(vehicle, node)
    return node in near.airbag_nodes or (part is not None and part.name in near.airbags) or any(
        "airbag" in access(vehicle, place).cautions for place in places_of_node(vehicle, node)
        if place in vehicle.places)


def may_be_done(vehicle: Vehicle, seen: Observation) -> bool:
    """Return whether a step keeps its hands off airbags."""
    near = nearby(vehicle)
    nodes = [node for node in (seen.subject, seen.against) if "." in node]
    for name in (seen.subject, *seen.unplugged):
        nodes += near.cavities(name)
        if name in near.airbags and seen.kind != "load":
            return False
    return not any(forbidden(vehicle, node) for node in nodes)


def cautions(vehicle: Vehicle, seen: Observation) -> Sequence[str]:
    """Return every caution for one step, the gravest first."""
    near = nearby(vehicle)
    nodes = [n for n in (seen.subject, seen.against, *seen.unplugged, *seen.pulled) if n]
    words = list(dict.fromkeys(w for node in nodes for w in hazards_of(vehicle, node)))
    found = [TEXTS[w] for w in TEXTS if w in words] + [w for w in words if w not in TEXTS]
    condition = vehicle.conditions.get(seen.condition)
    if condition is not None and condition.engine_running:
        found.append(TURNING)
    elif condition is not None and any(p == "start" for p in condition.positions.values()):
        found.append(CRANKING)
    if condition is not None and condition.moving:
        found.append(DRIVING)
    if seen.condition == BATTERY_OFF and not seen.alone:
        found += [] if TEXTS["battery"] in found else [TEXTS["battery"]]
        found.append(OHMS)
    if seen.kind == "fuse":
        found.append(FUSE)
        if seen.condition:
            found.append(FUSE_AGAIN)
    elif any(p in vehicle.parts and vehicle.parts[p].family in ("fuse", "link")
             for p in seen.pulled):
        found.append(FUSE)
    if seen.kind == "amps":
        found.append(AMPS)
    if seen.kind in ("volts", "lamp", "ohms"):
        found.append(PIERCE)
        if near.module_nodes.intersection(nodes):
            found.append(LAMP)
    return tuple(dict.fromkeys(found))
