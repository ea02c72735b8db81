"""Breaks a circuit that is too large for one page at sensible places."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from harnessdsl.drawing.composition import COMPONENT_GAP_MM
from harnessdsl.drawing.furniture import RAIL_NAME_MM
from harnessdsl.drawing.outline import Outline
from harnessdsl.drawing.sheet_graph import SheetGraph
from harnessdsl.drawing.sheet_plan import PageSpec, SheetPlan
from harnessdsl.drawing.text_metrics import Box

_OTHER_MM = 70.0
"""What lines, names and track numbers take of a page's height, about."""


def split_page(
    spec: PageSpec,
    sheet: SheetPlan,
    graph: SheetGraph,
    outlines: Sequence[Outline],
    areas: Sequence[Box],
) -> list[PageSpec]:
    """Return the pages that a page is broken into, in order; the page alone when it cannot be
    broken any further. `areas` are the free rectangles of the pages that may be used.

    First between components; then within the largest one, between rows or between columns where
    the fewest wires are cut; then by the order of the circuit; last, one part between its
    terminals.
    """
    for groups in _ways(graph, outlines, areas):
        lists = _part_lists(spec, sheet, graph, groups)
        if len(lists) > 1:
            return [
                replace(
                    spec,
                    key=(*spec.key, number),
                    parts=tuple(names),
                    terminals={k: v for k, v in spec.terminals.items() if k in names},
                )
                for number, names in enumerate(lists)
            ]
    drawn = [use.part for use in sheet.parts]
    if len(drawn) > 1:
        half = len(drawn) // 2
        first = tuple(drawn[:half])
        rest = tuple(name for name in spec.parts if name not in first)
        return [
            replace(spec, key=(*spec.key, number), parts=names)
            for number, names in enumerate((first, rest))
        ]
    return _by_terminals(spec, graph)


def _ways(
    graph: SheetGraph, outlines: Sequence[Outline], areas: Sequence[Box]
) -> Iterator[list[list[int]]]:
    """Yield groups of elements, the most sensible way first."""
    if not outlines:
        return
    width = max(x1 - x0 for x0, _, x1, _ in areas) - RAIL_NAME_MM - 2 * COMPONENT_GAP_MM
    height = max(y1 - y0 for _, y0, _, y1 in areas) - _OTHER_MM
    if len(outlines) > 1:
        yield _by_components(outlines, width)
    largest = max(outlines, key=lambda c: c.width_mm * c.height_mm)
    rest = [i for c in outlines if c is not largest for i in c.members]
    tall = largest.height_mm / height > largest.width_mm / width
    for by_rows in (tall, not tall):
        first, second = _cut(graph, largest, by_rows)
        yield [first, second + rest]


def _part_lists(
    spec: PageSpec, sheet: SheetPlan, graph: SheetGraph, groups: Sequence[Sequence[int]]
) -> list[list[str]]:
    """Return the parts of each group, each part once, in the order of the circuit; points that
    stand on none of the groups go to the last."""
    drawn = {use.part for use in sheet.parts} | set(sheet.idle)
    taken: set[str] = set()
    lists: list[list[str]] = []
    for group in groups:
        names: dict[str, None] = {}
        for index in group:
            element = graph.elements[index]
            name = element.block.part if element.block else element.node.split(".")[0]
            if name not in taken and (name in drawn or name in spec.parts):
                names[name] = None
        if any(name in drawn for name in names):
            lists.append(list(names))
            taken.update(names)
    if lists:
        lists[-1].extend(name for name in spec.parts if name not in taken)
    order = {name: index for index, name in enumerate(spec.parts)}
    for names_ in lists:
        names_.sort(key=lambda name: order.get(name, len(order)))
    return lists


def _by_components(outlines: Sequence[Outline], width: float) -> list[list[int]]:
    """Fill pages one after the other, each about equally."""
    total = sum(c.width_mm + COMPONENT_GAP_MM for c in outlines)
    share = total / max(2, -int(-total // width))
    groups: list[list[int]] = [[]]
    used = 0.0
    for component in outlines:
        need = component.width_mm + COMPONENT_GAP_MM
        if groups[-1] and (used + need > width or used + need / 2 > share):
            groups.append([])
            used = 0.0
        groups[-1].extend(component.members)
        used += need
    return groups


def _cut(graph: SheetGraph, component: Outline, by_rows: bool) -> tuple[list[int], list[int]]:
    """Return a component's elements in two groups, cut between rows or between columns near the
    middle, where the fewest nodes have to be referred to: wires of one terminal count once."""
    crowd = {
        (element.index, number): len(port.pins)
        for element in graph.elements
        for number, port in enumerate(element.ports)
    }
    if by_rows:
        keys = {index: float(component.rows[index]) for index in component.members}
    else:
        keys = {index: component.x[index] for index in component.members}
    order = sorted(component.members, key=lambda index: (keys[index], index))
    best, best_cost = len(order), float("inf")
    for cut in range(1, len(order)):
        if keys[order[cut]] == keys[order[cut - 1]]:
            continue
        first = set(order[:cut])
        nets = {
            max((p, q), key=lambda pin: (crowd[pin.element, pin.port], pin.element, pin.port))
            for _, p, q in graph.links()
            if (p.element in first) != (q.element in first)
        }
        references = len({(pin.element, pin.port) for pin in nets})
        uneven = abs(cut - len(order) / 2) / len(order)
        cost = references * (1 + 2 * uneven) + 16 * uneven
        if cost < best_cost:
            best, best_cost = cut, cost
    return order[:best], order[best:]


def _by_terminals(spec: PageSpec, graph: SheetGraph) -> list[PageSpec]:
    """Show half of a part's terminals on each of two pages."""
    blocks = [e for e in graph.elements if e.block is not None and len(e.ports) > 1]
    if not blocks:
        return [spec]
    widest = max(blocks, key=lambda element: len(element.ports))
    assert widest.block is not None
    name = widest.block.part
    terminals = [port.terminal for port in widest.ports]
    half = len(terminals) // 2
    pages: list[PageSpec] = []
    for number, some in enumerate((terminals[:half], terminals[half:])):
        shown = {**spec.terminals, name: frozenset(some)}
        parts = spec.parts if number == 0 else (name,)
        pages.append(replace(spec, key=(*spec.key, number), parts=parts, terminals=shown))
    return pages
