"""Locator maps: where every place, box and part of a vehicle is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from harnessdsl.drawing.cautions import standard_cautions
from harnessdsl.drawing.maps.pictures import Pictures
from harnessdsl.drawing.maps.sheet import (
    KEY_WIDTH_MM,
    LINE_MM,
    Line,
    Sheet,
    SheetStyle,
    columns_of,
    drawing_area,
    finish,
    flow,
    height_of,
    numbered,
    on_keys,
    set_lines,
    split_area,
    wrapped,
)
from harnessdsl.drawing.maps.views import (
    INK,
    Pointer,
    call_out_capacity,
    draw_views,
    fit_views,
    legend_shapes,
)
from harnessdsl.drawing.scene import Group, Image, Page, Shape, Text
from harnessdsl.drawing.text_metrics import SMALL_MM, Box, shorten, text_width
from harnessdsl.model.layout import Layout, Point3, View
from harnessdsl.model.location import Spot, access, find_spots
from harnessdsl.model.topology import build_topology
from harnessdsl.model.vehicle import Vehicle

_FAR_OUT_MM = 2500.0
"""A place this far off the body is a slip of the pen, or a trailer's: it is listed, not drawn."""


def draw_maps(
    vehicle: Vehicle,
    layout: Layout,
    *,
    highlight: str = "",
    page_size: str = "A4",
    date: str = "",
    drawn_by: str = "",
    pictures: Pictures | None = None,
) -> list[Page]:
    """Return the locator maps of a vehicle: plan and side view with numbered call-outs, and
    the list of what is where and how to reach it.

    With `highlight`, the name of a part, place or circuit, there is one map on which only the
    places that belong to it are called out, with how to reach each. `pictures` shows the
    layout's background pictures and collects what is wrong with them. Raises KeyError when
    nothing has the name `highlight`.
    """
    style = SheetStyle(page_size, date, drawn_by)
    spots = find_spots(vehicle, layout)
    if highlight:
        wanted, title = highlighted_parts(vehicle, highlight)
        chosen = [spot for spot in spots if wanted & set(spot.parts) or spot.name == highlight]
        sheets = _highlight_sheets(vehicle, layout, spots, chosen, wanted, title, style, pictures)
        return finish(vehicle, style, numbered(sheets, f"map-{file_name(highlight)}",
                                               f"Where it is: {title}"))
    maps = numbered(_map_sheets(vehicle, layout, spots, style, pictures), "map",
                    "Where everything is")
    index = numbered(_index_sheets(vehicle, spots, style), "map-index",
                     "What is where, and how to reach it")
    return finish(vehicle, style, [*maps, *index])


def highlighted_parts(vehicle: Vehicle, name: str) -> tuple[frozenset[str], str]:
    """Return the parts that a part's, circuit's or place's name stands for, and a title."""
    if name in vehicle.parts:
        return frozenset([name]), f"{name} {vehicle.parts[name].label}".rstrip()
    if name in vehicle.circuits:
        return circuit_members(vehicle, name), vehicle.circuits[name].label or name
    if name in vehicle.places:
        return frozenset(), vehicle.places[name].label or name
    raise KeyError(name)


_JOINING = ("connector", "splice", "earth")


def circuit_members(vehicle: Vehicle, name: str) -> frozenset[str]:
    """Return the parts of a circuit with the plugs, splices and earth points that its wires lead
    to. A way goes on behind a plug; at a splice or earth point it ends, unless the circuit names
    that splice: other circuits hang there too."""
    topology = build_topology(vehicle)
    members = set(vehicle.circuits[name].parts)
    queue = [node for node, part in topology.part_of.items()
             if part in members and vehicle.parts[part].family not in ("connector", "earth")]
    reached = set(queue)
    for node in queue:
        for edge in topology.edges_at[node]:
            far = edge.other(node)
            part = vehicle.parts.get(topology.part_of.get(far, ""))
            if edge.type not in ("wire", "plug") or part is None or far in reached:
                continue
            if part.connector is not None or part.family in _JOINING:
                reached.add(far)
                members.add(part.name)
            if part.connector is not None:
                queue.append(far)
    return frozenset(members)


def file_name(text: str) -> str:
    """Return a name as a piece of a file name: letters, digits, - and _ only."""
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in text) or "-"


# --- the map with everything


def _map_sheets(
    vehicle: Vehicle,
    layout: Layout,
    spots: Sequence[Spot],
    style: SheetStyle,
    pictures: Pictures | None,
) -> list[Sheet]:
    cautions = standard_cautions(frozenset())
    area = drawing_area(vehicle, style, "Where everything is (1 of 1)", (), cautions)
    left, keys = split_area(area)
    last = keys[-1]
    drawn = [spot for spot in spots if drawable(spot, layout)]
    rest = [spot for spot in spots if not drawable(spot, layout)]
    legend, legend_height = legend_shapes(last[0], 0.0)
    below = legend_height + 3.0 + ((len(rest) + 2) * LINE_MM if rest else 0.0)
    lines = len(keys) * int((last[3] - last[1] - below) / LINE_MM)
    widest = "8" * len(str(len(spots)))
    # no more than the key can name in full, so that a sheet stays readable
    most = max(1, min(call_out_capacity(left[2] - left[0], widest), max(lines, 4)))
    pages = max(1, -(-len(drawn) // most))
    share = -(-len(drawn) // pages) if drawn else 1
    positions = [spot.position_mm for spot in drawn if spot.position_mm is not None]
    frames = fit_views(layout, left, positions)
    backdrops = _backdrops(layout, left, positions, pictures)
    sheets: list[Sheet] = []
    for page in range(pages):
        members = drawn[page * share : (page + 1) * share]
        others = [spot for spot in drawn if spot not in members]
        views = draw_views(
            layout, left, [pointer(spot) for spot in members],
            faint=[pointer(spot) for spot in others], backdrops=backdrops, frames=frames)
        shapes = [*views.shapes, *_key(members, keys, lines)]
        bottom = last[3] - legend_height
        shapes.append(replace(legend, shift=(0.0, bottom)))
        if rest and page == 0:
            shapes += _unplaced(rest, last, bottom - 3.0)
        sheets.append(Sheet("", "", tuple(shapes), (), cautions))
    return sheets


def drawable(spot: Spot, layout: Layout) -> bool:
    """Say whether a spot has a position that can be on the drawing."""
    if spot.position_mm is None:
        return False
    x, y, z = spot.position_mm
    for view in layout.views:
        x0, low, x1, high = layout.bounds_mm(view)
        other = y if view is View.PLAN else z
        if not (x0 - _FAR_OUT_MM <= x <= x1 + _FAR_OUT_MM
                and low - _FAR_OUT_MM <= other <= high + _FAR_OUT_MM):
            return False
    return True


def pointer(spot: Spot, strong: bool = False) -> Pointer:
    """Return what points a spot out on a map."""
    assert spot.position_mm is not None
    square = spot.place is not None and bool(spot.place.slots)
    return Pointer(spot.name, str(spot.number), spot.position_mm, "place", spot.approximate, strong,
                   square, f"{spot.number} {spot.label}")


def _backdrops(
    layout: Layout, area: Box, points: Sequence[Point3], pictures: Pictures | None
) -> dict[View, Image]:
    if pictures is None or not layout.backdrops:
        return {}
    frames = fit_views(layout, area, points)
    found: dict[View, Image] = {}
    for backdrop in layout.backdrops:
        picture = pictures.read(backdrop.path, layout.path, backdrop.span)
        if picture is None or backdrop.view not in frames:
            continue
        x0, y0 = frames[backdrop.view].flat(backdrop.top_left_mm)
        x1, y1 = frames[backdrop.view].flat(backdrop.bottom_right_mm)
        found[backdrop.view] = Image(x0, y0, x1 - x0, y1 - y0, picture.href)
    return found


def _key(spots: Sequence[Spot], boxes: Sequence[Box], lines: int) -> list[Shape]:
    """The list beside the views: number, name and label, in two lines each where there is room."""
    shapes: list[Shape] = []
    tall = 2 if len(spots) * 2.2 <= lines else 1
    share = -(-len(spots) // len(boxes))
    for column, (x0, y0, x1, _) in enumerate(boxes):
        y = y0
        for spot in spots[column * share : (column + 1) * share]:
            shapes.append(Text(x0 + 5.0, y + SMALL_MM, str(spot.number), SMALL_MM, "end",
                               bold=True))
            shapes += _name_and_label(spot, x0 + 6.4, y + SMALL_MM, x1, tall == 2)
            y += tall * LINE_MM + (0.6 if tall == 2 else 0.0)
    return [Group(tuple(shapes), css="key")]


def shown_name(spot: Spot) -> str:
    """Return a spot's name for people, with a sign when its position is only roughly known."""
    return f"≈ {spot.name}" if spot.approximate else spot.name


def _name_and_label(spot: Spot, x: float, y: float, x1: float, two_lines: bool) -> list[Text]:
    name = shorten(shown_name(spot), SMALL_MM, x1 - x, True)
    found = [Text(x, y, name, SMALL_MM, bold=True, colour=INK)]
    label = spot.label if spot.label != spot.name else ""
    after = x + text_width(name, SMALL_MM, True) + 1.4
    if two_lines:
        after, y = x, y + LINE_MM
    if label and x1 - after > 8.0:
        found.append(Text(after, y, shorten(label, SMALL_MM, x1 - after), SMALL_MM,
                          colour="#4a4f55"))
    return found


def _unplaced(spots: Sequence[Spot], box: Box, bottom: float) -> list[Shape]:
    x0, _, x1, _ = box
    lines = [Line("Not on the drawing, position not known:", italic=True, colour="#4a4f55")]
    for spot in spots:
        words = f"{spot.number}  {spot.name or spot.label}"
        if not spot.name or spot.parts:
            words += f": {', '.join(spot.parts)}"
        lines.append(Line(shorten(words, SMALL_MM, x1 - x0 - 3.0), 3.0))
    return [Group(tuple(set_lines(lines, x0, bottom - height_of(lines))), css="unplaced")]


# --- one thing, or a circuit


def _highlight_sheets(
    vehicle: Vehicle,
    layout: Layout,
    spots: Sequence[Spot],
    chosen: Sequence[Spot],
    wanted: frozenset[str],
    title: str,
    style: SheetStyle,
    pictures: Pictures | None,
) -> list[Sheet]:
    cautions = standard_cautions(
        frozenset(vehicle.parts[name].family for name in wanted),
        frozenset(word for spot in chosen for word in access(vehicle, spot.name).cautions))
    area = drawing_area(vehicle, style, f"Where it is: {title} (1 of 1)", (), cautions)
    left, keys = split_area(area)
    last = keys[-1]
    width = last[2] - last[0]
    drawn = [spot for spot in spots if drawable(spot, layout)]
    blocks = [_spot_lines(vehicle, spot, wanted, width) for spot in chosen]
    if not chosen:
        blocks = [wrapped("Nobody has written down where it is.", width, italic=True)]
    legend, legend_height = legend_shapes(last[0], 0.0)
    columns = flow(blocks, last[3] - last[1] - legend_height - 3.0)
    positions = [spot.position_mm for spot in drawn if spot.position_mm is not None]
    backdrops = _backdrops(layout, left, positions, pictures)
    named = [spot for spot in chosen if drawable(spot, layout)]
    most = call_out_capacity(left[2] - left[0], "8" * len(str(len(spots))))
    groups = [named[first : first + most] for first in range(0, max(1, len(named)), most)]
    texts = on_keys(columns, keys)
    sheets: list[Sheet] = []
    for page in range(max(len(groups), len(texts))):
        # a list longer than one sheet goes on beside the same map
        here = groups[min(page, len(groups) - 1)]
        views = draw_views(
            layout, left, [pointer(spot, strong=True) for spot in here],
            faint=[pointer(spot) for spot in drawn if spot not in here],
            backdrops=backdrops, frames=fit_views(layout, left, positions))
        words = (texts[page],) if page < len(texts) else ()
        sheets.append(Sheet("", "", (*views.shapes, *words,
                                     replace(legend, shift=(0.0, last[3] - legend_height))),
                            (), cautions))
    return sheets


def _spot_lines(
    vehicle: Vehicle, spot: Spot, wanted: frozenset[str], width: float
) -> list[Line]:
    """What there is to say of one spot, beginning with what was asked for."""
    name = f"  ({spot.name})" if spot.name and spot.name != spot.label else ""
    head = wrapped(f"{spot.number}  {spot.label}{name}", width, bold=True)
    lines = [replace(head[0], space_before_mm=1.6), *head[1:]]
    if spot.approximate:
        lines += wrapped("only its zone is known: somewhere there", width, 4.0, italic=True)
    elif spot.position_mm is None and spot.name:
        lines += wrapped("position not known", width, 4.0, italic=True)
    if spot.place is not None and spot.place.inside:
        lines += wrapped(f"in {spot.place.inside}", width, 4.0, colour="#5a5f66")
    for name in spot.parts:
        if wanted and name not in wanted:
            continue
        part = vehicle.parts[name]
        slot = f", slot {part.slot}" if part.slot and part.place == spot.name else ""
        lines += wrapped(f"{name}  {part.label}{slot}", width, 4.0)
    lines += access_lines(vehicle, spot.name, width, 4.0)
    return lines


def access_lines(vehicle: Vehicle, place: str, width: float, indent: float) -> list[Line]:
    """Return how to get at a place as lines: steps in order, the minutes, the cautions."""
    way = access(vehicle, place)
    lines: list[Line] = []
    for number, (_, text, minutes) in enumerate(way.steps, 1):
        took = f" ({minutes:g} min)" if minutes else ""
        lines += wrapped(f"{number}. {text}{took}", width, indent, colour="#4a4f55")
    if len(way.steps) > 1 and way.minutes:
        lines += wrapped(f"{way.minutes:g} minutes in all", width, indent, colour="#4a4f55")
    for caution in way.cautions:
        lines += wrapped(f"Caution: {caution}", width, indent, bold=True, colour="#b3261e")
    return lines


# --- the list


def _index_sheets(vehicle: Vehicle, spots: Sequence[Spot], style: SheetStyle) -> list[Sheet]:
    """Every spot with its parts and how to reach it, in columns."""
    words = frozenset(word for spot in spots for word in access(vehicle, spot.name).cautions)
    cautions = standard_cautions(frozenset(), words)
    x0, y0, x1, y1 = drawing_area(vehicle, style, "What is where, and how to reach it (1 of 1)",
                                  (), cautions)
    boxes = columns_of((x0, y0, x1, y1), KEY_WIDTH_MM - 6.0)
    count, width = len(boxes), boxes[0][2] - boxes[0][0]
    blocks = [_spot_lines(vehicle, spot, frozenset(), width) for spot in spots]
    columns: list[list[tuple[str, list[Line]]]] = []
    for spot, block in zip(spots, blocks, strict=True):
        for index, piece in enumerate(flow([block], y1 - y0)):
            used = sum(height_of(lines) for _, lines in columns[-1]) if columns else 0.0
            if not columns or index or used + height_of(piece) > y1 - y0:
                columns.append([])
            columns[-1].append((spot.name, piece))
    sheets: list[Sheet] = []
    for first in range(0, len(columns), count):
        shapes: list[Shape] = []
        for index, column in enumerate(columns[first : first + count]):
            x, y = boxes[index][0], y0
            for name, lines in column:
                shapes.append(Group(tuple(set_lines(lines, x, y)), css="row",
                                    data={"place": name}))
                y += height_of(lines)
        sheets.append(Sheet("", "", tuple(shapes), (), cautions))
    return sheets
