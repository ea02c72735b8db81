"""At which of a link's two ends its label and plugs are strung."""

from __future__ import annotations

from harnessdsl.drawing.sheet_graph import Pin, SheetGraph


def choose_bead_ends(graph: SheetGraph) -> None:
    """String every thread's beads in front of one of its pins: a stub's on its only one, a
    link's where fewer wires stand side by side, so that the texts have room."""
    for thread in graph.threads:
        first, second = thread.pins
        strung = tuple(bead for bead in thread.beads if bead.kind != "name")
        first.beads, chosen = (), first
        first.far_beads = tuple(bead for bead in thread.beads if bead.kind == "name")
        first.weight = 1 if thread.strand is None else 2 if second is None else 3
        if second is not None:
            second.beads = ()
            second.weight = 3
            if _crowd(graph, second) < _crowd(graph, first):
                chosen = second
        chosen.beads = strung if chosen is first else strung[::-1]
        for pin in thread.pins:
            if pin is not None and pin.value is not None:
                pin.beads = (pin.value, *pin.beads)
        if thread.mark is not None:
            first.mark_mm = (thread.mark.left_mm, thread.mark.right_mm)


def _crowd(graph: SheetGraph, pin: Pin) -> tuple[float, int]:
    """Return how little room there is in front of a pin: how many stand side by side, a
    junction's before a part's, the lower end before the upper one."""
    element = graph.elements[pin.element]
    ports = element.side_ports(pin.side)
    pins = len(element.side_pins(pin.side))
    wide = max((port.x for port in ports), default=0) - min((port.x for port in ports), default=0)
    crowd = float(pins) if pins == 1 else pins - min(wide / 8, 0.9)
    if element.block is None:
        crowd += 0.5
    return crowd, 0 if pin.side == "bottom" else 1
