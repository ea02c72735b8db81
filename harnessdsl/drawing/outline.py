"""The outline of a component: which row and column each element has, and the size of it all.

Splitting needs no more. A component far too large for any page is outlined without being laid
out, by barycentres alone, because a layout that is thrown away costs more the larger it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from harnessdsl.drawing.component import LaidOut, port_ranks
from harnessdsl.drawing.layering import build_layers, rows_of
from harnessdsl.drawing.ordering import Order
from harnessdsl.drawing.sheet_graph import SheetGraph

_AROUND_MM = 6.0
"""What stands between two elements of a row, about."""
_CHANNEL_MM = 24.0


@dataclass(frozen=True, slots=True)
class Outline:
    """Where the elements of a component are, roughly."""

    members: tuple[int, ...]
    rows: Mapping[int, int]
    x: Mapping[int, float]
    width_mm: float
    height_mm: float


def outline_of(laid: LaidOut) -> Outline:
    """Return the outline of a component that has been laid out."""
    x = {index: at[0] for index, at in laid.routed.element_at.items()}
    return Outline(laid.members, laid.rows, x, laid.routed.width_mm, laid.routed.height_mm)


def area_mm2(graph: SheetGraph, members: Sequence[int]) -> float:
    """Return the least paper that the elements take, their wires and marks included, about."""
    elements = [graph.elements[index] for index in members]
    return sum(
        (e.left_mm + e.right_mm + _AROUND_MM) * (e.top_mm + e.bottom_mm + _CHANNEL_MM)
        for e in elements
    )


def rough_outline(graph: SheetGraph, members: Sequence[int]) -> Outline:
    """Return the outline that a component would have, without laying it out."""
    rows = rows_of(graph, members)
    layers = build_layers(graph, members, rows, frozenset())
    order = Order(layers, port_ranks(graph, members))
    for _ in range(4):
        order.barycentres(True)
        order.barycentres(False)
    x: dict[int, float] = {}
    widest = 0.0
    height = _CHANNEL_MM
    for row in layers.rows:
        at = 0.0
        highest = 0.0
        for item in row:
            index = layers.items[item].element
            if index < 0:
                at += 5.0
                continue
            element = graph.elements[index]
            x[index] = at
            at += element.left_mm + element.right_mm + _AROUND_MM
            highest = max(highest, element.top_mm + element.bottom_mm)
        for item in row:
            index = layers.items[item].element
            if index >= 0 and at > 0:
                x[index] /= at  # rows are of different length: compare by share
        widest = max(widest, at)
        height += highest + _CHANNEL_MM
    return Outline(tuple(members), rows, x, widest, height)
