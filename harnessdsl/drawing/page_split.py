"""Breaks a circuit that is too large for one page at sensible places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from harnessdsl.drawing.component import LaidOut
from harnessdsl.drawing.composition import COMPONENT_GAP_MM
from harnessdsl.drawing.furniture import RAIL_NAME_MM
from harnessdsl.drawing.sheet_graph import SheetGraph
from harnessdsl.drawing.sheet_plan import PageSpec, SheetPlan
from harnessdsl.drawing.text_metrics import Box


def split_page(
    spec: PageSpec,
    sheet: SheetPlan,
    graph: SheetGraph,
    laid: Sequence[LaidOut],
    area: Box,
) -> list[PageSpec]:
    """Return the pages that a page is broken into, in order; the page alone when it cannot be
    broken any further.

    First between components; then within one, between the columns where the fewest wires are
    cut, or between rows when it is too high; last, a part of its own between its terminals.
    """
    width = area[2] - area[0] - RAIL_NAME_MM - 2 * COMPONENT_GAP_MM
    height = area[3] - area[1]
    groups: list[list[int]]
    if len(laid) > 1:
        groups = _by_components(laid, width)
    else:
        groups = _within(graph, laid[0], width, height) if laid else []
    parts = [_parts(graph, sheet, group) for group in groups]
    taken: set[str] = set()
    lists: list[list[str]] = []
    for names in parts:
        own = [name for name in names if name not in taken]
        taken.update(own)
        lists.append(own)
    lists = [names for names in lists if names]
    if len(lists) < 2:
        return _by_terminals(spec, graph)
    rest = [name for name in spec.parts if name not in taken]
    lists[-1].extend(rest)
    order = {name: index for index, name in enumerate(spec.parts)}
    pages: list[PageSpec] = []
    for number, names in enumerate(lists):
        names.sort(key=lambda name: order.get(name, len(order)))
        pages.append(
            replace(
                spec,
                key=(*spec.key, number),
                parts=tuple(names),
                terminals={k: v for k, v in spec.terminals.items() if k in names},
            )
        )
    return pages


def _parts(graph: SheetGraph, sheet: SheetPlan, group: Sequence[int]) -> list[str]:
    names: dict[str, None] = {}
    for index in group:
        element = graph.elements[index]
        if element.block is not None:
            names[element.block.part] = None
        else:
            names[element.node.split(".")[0]] = None
    drawn = {use.part for use in sheet.parts} | set(sheet.idle)
    junctions = {node.split(".")[0] for node in sheet.junctions}
    return [name for name in names if name in drawn or name in junctions]


def _by_components(laid: Sequence[LaidOut], width: float) -> list[list[int]]:
    """Fill pages one after the other, each about equally."""
    total = sum(c.routed.width_mm + COMPONENT_GAP_MM for c in laid)
    pages = max(2, -int(-total // width))
    share = total / pages
    groups: list[list[int]] = [[]]
    used = 0.0
    for component in laid:
        need = component.routed.width_mm + COMPONENT_GAP_MM
        if groups[-1] and (used + need > width or used + need / 2 > share):
            groups.append([])
            used = 0.0
        groups[-1].extend(component.members)
        used += need
    if len(groups) == 1 and len(laid) > 1:  # too high, not too wide
        tallest = max(laid, key=lambda c: c.routed.height_mm)
        return [
            [i for c in laid if c is not tallest for i in c.members],
            list(tallest.members),
        ]
    return groups


def _within(graph: SheetGraph, component: LaidOut, width: float, height: float) -> list[list[int]]:
    if len(component.members) < 2:
        return [list(component.members)]
    tall = component.routed.height_mm / height > component.routed.width_mm / width
    if tall and len(set(component.rows.values())) > 1:
        keys = {index: float(component.rows[index]) for index in component.members}
    else:
        keys = {index: component.routed.element_at[index][0] for index in component.members}
    order = sorted(component.members, key=lambda index: (keys[index], index))
    best, best_cost = len(order) // 2, float("inf")
    for cut in range(1, len(order)):
        if keys[order[cut]] == keys[order[cut - 1]]:
            continue
        left = set(order[:cut])
        links = sum((p.element in left) != (q.element in left) for _, p, q in graph.links())
        uneven = abs(cut - len(order) / 2) / len(order)
        cost = links * (1 + 2 * uneven) + 8 * uneven
        if cost < best_cost:
            best, best_cost = cut, cost
    return [order[:best], order[best:]]


def _by_terminals(spec: PageSpec, graph: SheetGraph) -> list[PageSpec]:
    """Show half of a part's terminals on each of two pages."""
    blocks = [e for e in graph.elements if e.block is not None and len(e.ports) > 1]
    if len(blocks) != 1:
        return [spec]
    block = blocks[0].block
    assert block is not None
    names = [port.terminal for port in blocks[0].ports]
    half = len(names) // 2
    pages: list[PageSpec] = []
    for number, some in enumerate((names[:half], names[half:])):
        terminals = {**spec.terminals, block.part: frozenset(some)}
        parts = spec.parts if number == 0 else (block.part,)
        pages.append(replace(spec, key=(*spec.key, number), parts=parts, terminals=terminals))
    return pages
