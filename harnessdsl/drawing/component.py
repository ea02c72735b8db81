"""Lays out one component of a sheet: what hangs together by its links."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from harnessdsl.drawing.layering import build_layers, rows_of
from harnessdsl.drawing.ordering import Order
from harnessdsl.drawing.placement import (
    arrange_all_pins,
    item_extent,
    place_items,
)
from harnessdsl.drawing.routing import Routed, route
from harnessdsl.drawing.sheet_graph import MarkKind, SheetGraph


@dataclass(slots=True)
class LaidOut:
    """A component with its places, and the crossings that its order cannot avoid."""

    members: tuple[int, ...]
    routed: Routed
    crossings: int
    rows: dict[int, int]
    """Element -> row."""


def port_ranks(graph: SheetGraph, members: Sequence[int]) -> dict[tuple[int, int], int]:
    """Return for (element, port) its place among the ports of its side."""
    ranks: dict[tuple[int, int], int] = {}
    for index in members:
        counts = {"top": 0, "bottom": 0}
        for number, port in enumerate(graph.elements[index].ports):
            ranks[(index, number)] = counts[port.side]
            counts[port.side] += 1
    return ranks


def lay_out(graph: SheetGraph, members: Sequence[int]) -> LaidOut:
    """Return the layout of the elements `members` and all their threads."""
    row = rows_of(graph, members)
    port_rank = port_ranks(graph, members)
    local: frozenset[int] = frozenset()
    while True:
        layers = build_layers(graph, members, row, local)
        order = Order(layers, port_rank)
        crossings = order.search()
        if not crossings:
            break
        # a supply line that can be had only by crossing wires is named beside the part instead
        crossed = order.crossed()
        cut = frozenset(
            thread.index
            for thread in graph.threads
            if thread.index in crossed
            and thread.index in layers.chains
            and thread.mark is not None
            and thread.mark.kind is MarkKind.RAIL
        )
        if not cut:
            break
        local |= cut
    arrange_all_pins(graph, layers, order.position, None)
    places = place_items(graph, layers)
    arrange_all_pins(graph, layers, order.position, places)
    places = place_items(graph, layers)
    extents = [item_extent(graph, item) for item in layers.items]
    routed = route(graph, layers, places, extents)
    return LaidOut(tuple(members), routed, crossings, row)
