"""A supposed fault as additions to the schematic: where it is, and what is then not as in the sound
car. Only the sheets that show some of it are drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from harnessdsl.book.live_annotations import annotations_of
from harnessdsl.drawing.scene import Group, Page, Shape
from harnessdsl.drawing.schematic import (
    Annotation,
    Annotations,
    SchematicOptions,
    draw_schematics,
)
from harnessdsl.faults.bench import Bench
from harnessdsl.faults.fault import Fault
from harnessdsl.faults.suppose import Outcome, load_words

STATE_NAMES = {"fault": "the fault, and what it blew", "marked": "not as in the sound car"}
SHORT_WORDS: Mapping[str, str] = {
    "wire-open": "broken", "wire-corroded": "corroded", "wire-short": "chafed to metal",
    "wires-touch": "touching", "wires-chafed": "touching", "plug-open": "pin pushed back",
    "plug-corroded": "corroded", "plug-pulled": "apart", "earth-lifted": "loose",
    "earth-corroded": "corroded", "fuse-blown": "blown", "fuse-contact": "poor contact",
    "link-open": "burnt through", "contact-open": "does not close", "contact-welded": "welded",
    "contact-burnt": "burnt contact", "coil-open": "coil open", "coil-short": "shorted turns",
    "wrong-relay": "wrong relay", "switch-stuck": "stuck", "thermal-stuck-open": "does not close",
    "thermal-stuck-closed": "stuck closed", "thermal-shifted": "shifted", "motor-worn": "worn out",
    "motor-weak": "worn", "motor-seized": "seized", "battery-low": "flat",
    "alternator-dead": "dead", "filament-open": "burnt out",
}
"""What stands beside the faulty thing on the sheet."""


def fault_annotations(bench: Bench, faults: Sequence[Fault], outcome: Outcome) -> Annotations:
    """Return the state of every wire and part with the faults in the vehicle."""
    vehicle = bench.vehicle
    live = annotations_of(vehicle, outcome.point)
    wires, parts = dict(live.wires), dict(live.parts)
    volts: dict[str, float] = {}
    for load in outcome.point.loads:
        volts[load.part] = max(volts.get(load.part, 0.0), abs(load.voltage_v))
    words: dict[str, dict[str, None]] = {}
    for part, _, word in load_words(bench, outcome.effect):
        words.setdefault(part, {})[word] = None
    for part, found in words.items():
        text = ", ".join(found)
        if set(found) != {"dead"} and volts.get(part, 0.0) >= 0.05:
            text += f" {volts[part]:.1f} V"
        parts[part] = Annotation(text, "marked")
    elements = bench.assembled.circuit.elements
    for number, on in outcome.effect.moved.items():
        name = elements[bench.ports.coils[number]].part
        parts[name] = Annotation("pulled in" if on else "not pulled in", "marked")
    index = bench.assembled.circuit.element_index
    for name in (*outcome.effect.opened, *outcome.blown):
        parts[elements[index[name]].part] = Annotation("blown", "fault")
    for fault in faults:
        mark = Annotation(SHORT_WORDS.get(fault.mode, "dead inside"), "fault")
        if fault.wire:
            wires[fault.wire] = mark
        if fault.part:
            parts[fault.part] = mark
        for place, name in enumerate(touched_wires(bench, fault)):
            before = wires.get(name, Annotation())
            pieces = [before.text, "" if place or before.state == "fault" else mark.text]
            wires[name] = Annotation(" ".join(filter(None, pieces)), "fault")
    return Annotations(wires, parts, live.nodes, STATE_NAMES)


def touched_wires(bench: Bench, fault: Fault) -> list[str]:
    """Return the wires at a connector's cavities that a fault is about, or those that touch."""
    nodes: set[str] = set()
    for element in fault.added:
        nodes |= {element.a, element.b}
    circuit = bench.assembled.circuit
    part = bench.vehicle.parts.get(fault.part)
    if part is not None and part.connector is not None:
        for name in fault.laws:
            element = circuit.elements[circuit.element_index[name]]
            nodes |= {element.a, element.b}
    nodes.discard(circuit.reference)
    found = [w.name for w in bench.vehicle.wires.values()
             if w.a.node in nodes or w.b.node in nodes]
    if fault.mode == "wires-chafed":
        pair = set(fault.id.partition(":")[2].split("+"))
        return [name for name in found if name in pair]
    return found


def fault_pages(bench: Bench, faults: Sequence[Fault], outcome: Outcome,
                options: SchematicOptions) -> list[Page]:
    """Return the sheets on which the faults, or what they change in this condition, are drawn."""
    here = fault_annotations(bench, faults, outcome)
    condition = bench.conditions[outcome.number]
    words = "; ".join(f.words for f in faults)
    note = f"Computed: {condition.label or condition.name}. Suppose: {words}."
    shown = {name for group in (here.wires, here.parts) for name, mark in group.items()
             if mark.state in ("fault", "marked")}
    for fault in faults:
        shown.add(fault.subject)
    pages = [page for page in draw_schematics(bench.vehicle, replace(options, notes=note), here)
             if shown & set(_names(page.shapes))]
    return [replace(page, name=f"{condition.name}-{page.name}") for page in pages]


def _names(shapes: Sequence[Shape]) -> Iterator[str]:
    """Yield the parts and wires that shapes are drawings of."""
    for shape in shapes:
        if isinstance(shape, Group):
            for key in ("part", "wire"):
                if key in shape.data:
                    yield shape.data[key]
            yield from _names(shape.shapes)
