"""What can hurt someone at a step, in words. The maker's data and local rules come first."""

from __future__ import annotations

from collections.abc import Sequence

from harnessdsl.faults.case import BATTERY_OFF, Observation
from harnessdsl.faults.effort import part_of_node, places_of_node
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
FUSE_AGAIN = ("A fuse that blows at once has done its work: switch off, do not put in one after the "
              "other.")
LAMP = "Never probe a control module's pins with a test lamp: use a meter of 10 megohm."
OHMS = ("An ohmmeter only with the battery's earth lead off; never through an airbag or a control "
        "module's plug.")
PIERCE = "Probe from the back of the plug; do not pierce insulation."


def hazards_of(vehicle: Vehicle, node: str) -> list[str]:
    """Return the hazard words that hold where one works at a node."""
    found: dict[str, None] = {}
    for place in places_of_node(vehicle, node):
        if place in vehicle.places:
            found.update(dict.fromkeys(access(vehicle, place).cautions))
    part = part_of_node(vehicle, node)
    if part is not None:
        if part.kind.safety:
            found[part.kind.safety] = None
        for circuit in vehicle.circuits.values():
            if circuit.safety and part.name in circuit.parts:
                found[circuit.safety] = None
        if part.family in ("battery", "alternator", "starter"):
            found["battery"] = None
        if part.family == "ignition":
            found["high-voltage"] = None
    return list(found)


def forbidden(vehicle: Vehicle, node: str) -> bool:
    """Return whether nothing may be measured there: airbags."""
    return "airbag" in hazards_of(vehicle, node)


def cautions(vehicle: Vehicle, seen: Observation) -> Sequence[str]:
    """Return every caution for one step, the gravest first."""
    nodes = [n for n in (seen.subject, seen.against, *seen.unplugged, *seen.pulled) if n]
    words = list(dict.fromkeys(w for node in nodes for w in hazards_of(vehicle, node)))
    found = [TEXTS[w] for w in TEXTS if w in words] + [w for w in words if w not in TEXTS]
    condition = vehicle.conditions.get(seen.condition)
    if condition is not None and condition.engine_running:
        found.append(TURNING)
    elif condition is not None and any(p == "start" for p in condition.positions.values()):
        found.append(CRANKING)
    if seen.condition == BATTERY_OFF:
        found += [] if TEXTS["battery"] in found else [TEXTS["battery"]]
        found.append(OHMS)
    if seen.kind == "fuse":
        found.append(FUSE)
        if seen.condition:
            found.append(FUSE_AGAIN)
    if seen.kind == "volts":
        part = part_of_node(vehicle, seen.subject)
        found.append(PIERCE)
        if part is not None and part.family == "module":
            found.append(LAMP)
    return tuple(dict.fromkeys(found))
