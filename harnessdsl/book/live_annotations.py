"""An operating point as additions to the schematic: live, dead and earthed wires, currents, volts.

Read without colour: a wire that carries current has its amperes written on it, one that is live
without current its volts, a dead one is faint.
"""

from __future__ import annotations

from harnessdsl.drawing.schematic import Annotation, Annotations
from harnessdsl.electric.operating_point import OperatingPoint
from harnessdsl.electric.short_circuits import ShortCircuits
from harnessdsl.model.vehicle import Condition, Vehicle

FLOWS_A = 2e-3
"""Below this nothing worth a word flows."""
LIVE_SHARE = 0.08
"""Of the nominal voltage: about a volt on 12 V."""


def state_note(condition: Condition) -> str:
    """Return what the title block says about the state that is drawn."""
    label = condition.label if condition.label != condition.name else ""
    return f"State: {label or condition.name}. Computed, not measured."


def annotations_of(vehicle: Vehicle, point: OperatingPoint) -> Annotations:
    """Return the state of every wire and part of `point` for the schematic."""
    earthed = ShortCircuits(vehicle).earthed
    live_v = LIVE_SHARE * vehicle.nominal_v
    wires: dict[str, Annotation] = {}
    for wire in vehicle.wires.values():
        current_a = point.current_a(wire.name)
        node = wire.a.node
        level_v = point.voltage_v(node)
        flows = abs(current_a) >= FLOWS_A
        if node in earthed and abs(level_v) < live_v:
            wires[wire.name] = Annotation(_amperes(current_a) if flows else "", "earthed")
        elif abs(level_v) >= live_v:
            wires[wire.name] = Annotation(
                _amperes(current_a) if flows else f"{level_v:.1f} V", "live")
        elif flows:
            wires[wire.name] = Annotation(_amperes(current_a), "live")
        else:
            wires[wire.name] = Annotation("", "dead")
    return Annotations(wires, _parts(vehicle, point), _nodes(point))


def _amperes(current_a: float) -> str:
    """Return `4.2 A` or `38 mA`: the size of the current, not its direction."""
    value = abs(current_a)
    if value < 0.0995:
        return f"{value * 1000:.0f} mA"
    return f"{value:.1f} A" if value >= 0.995 else f"{value:.2f} A"


def _parts(vehicle: Vehicle, point: OperatingPoint) -> dict[str, Annotation]:
    """Parts that do something: loads that are on, relays pulled in, fuses open or carrying."""
    found: dict[str, Annotation] = {}
    for fuse in point.fuses:
        if fuse.opened:
            found[fuse.part] = Annotation("open", "fault")
        elif abs(fuse.current_a) >= FLOWS_A:
            found[fuse.part] = Annotation(f"{fuse.share:.0%}" if fuse.rating_a else "", "live")
    for relay in point.relays:
        if relay.id in point.chattering:
            found[relay.part] = Annotation("chatters", "fault")
        elif relay.energised:
            found[relay.part] = Annotation("pulled in", "live")
    for load in point.loads:
        if load.on:
            found[load.part] = Annotation(f"{abs(load.voltage_v):.1f} V", "live")
    for name in vehicle.parts:
        found.setdefault(name, Annotation("", "dead"))
    return found


def _nodes(point: OperatingPoint) -> dict[str, Annotation]:
    """The volts at the live end of every load that is on, measured to earth."""
    found: dict[str, Annotation] = {}
    elements = point.network.circuit.elements
    index = point.network.circuit.element_index
    for load in point.loads:
        if load.on:
            element = elements[index[load.id]]
            node = max((element.a, element.b), key=lambda n: abs(point.voltage_v(n)))
            found[node] = Annotation(f"{point.voltage_v(node):.1f} V")
    return found


