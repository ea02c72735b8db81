"""The locator drawings as plain lines for a terminal: the same facts, no colour, no width."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from harnessdsl.drawing.cautions import standard_cautions
from harnessdsl.drawing.maps.box_view import (
    FedParts,
    SlotContent,
    grid_of,
    rating_text,
    slot_contents,
    slot_words,
)
from harnessdsl.drawing.maps.connector_face import (
    CavityUse,
    Seen,
    face,
    face_size,
    half_words,
    halves_of,
    is_mirrored,
    seen_words,
    wire_words,
)
from harnessdsl.drawing.maps.map_pages import highlighted_parts, shown_name
from harnessdsl.drawing.maps.place_card import where_words
from harnessdsl.model.bundles import Bundles, Damage
from harnessdsl.model.layout import Layout
from harnessdsl.model.location import Spot, access, enclosing, find_spots
from harnessdsl.model.vehicle import Vehicle


def _name(vehicle: Vehicle, name: str) -> str:
    label = vehicle.parts[name].label if name in vehicle.parts else ""
    return f"{name} {label}".rstrip()


def map_text(vehicle: Vehicle, layout: Layout | None) -> list[str]:
    """Return every place with its number on the map, what is there and where that is."""
    lines: list[str] = []
    for spot in find_spots(vehicle, layout):
        name = f"{shown_name(spot)}  " if spot.name and spot.name != spot.label else ""
        lines.append(f"{spot.number:>3}  {name}{spot.label}")
        if spot.name:
            lines.append(f"     {where_words(spot)}")
        if spot.parts:
            lines.append(f"     {', '.join(_name(vehicle, part) for part in spot.parts)}")
    return lines


def locate_text(vehicle: Vehicle, name: str, layout: Layout | None = None) -> list[str]:
    """Return where a part, place or the parts of a circuit are, and how to reach each place.

    Raises KeyError when nothing has that name.
    """
    wanted, title = highlighted_parts(vehicle, name)
    lines = [title]
    spots = find_spots(vehicle, layout)
    for spot in spots:
        if wanted & set(spot.parts) or spot.name == name:
            lines += [f"  {line}" for line in _spot_text(vehicle, spot, wanted)]
    if len(lines) == 1:
        lines.append("  nobody has written down where it is")
    return lines


def _spot_text(vehicle: Vehicle, spot: Spot, wanted: frozenset[str]) -> Iterator[str]:
    name = f"  ({spot.name})" if spot.name and spot.name != spot.label else ""
    yield f"{spot.number}  {spot.label}{name}"
    for outer in reversed(enclosing(vehicle, spot.name)[:-1]):
        yield f"   in {outer.label or outer.name}"
    if spot.name:
        yield f"   {where_words(spot)}"
    for part_name in spot.parts:
        if not wanted or part_name in wanted:
            part = vehicle.parts[part_name]
            slot = f", slot {part.slot}" if part.slot and part.place == spot.name else ""
            yield f"   {_name(vehicle, part_name)}{slot}"
    yield from (f"   {line}" for line in access_text(vehicle, spot.name))
    if spot.place is not None and spot.place.photo is not None:
        photo = spot.place.photo
        mark = "" if photo.mark is None else (
            f", marked {photo.mark[0]:.0%} from the left and {photo.mark[1]:.0%} from the top")
        yield f"   photo: {photo.path}{mark}"


def access_text(vehicle: Vehicle, place: str) -> list[str]:
    """Return how to get at a place: cautions first, then the steps in order and the minutes."""
    way = access(vehicle, place)
    lines = [f"caution: {standard_cautions(frozenset(), frozenset([word]))[0]}"
             for word in way.cautions]
    lines += [f"it is {word} there" for word in way.exposure]
    for number, (_, text, minutes) in enumerate(way.steps, 1):
        lines.append(f"{number}. {text}" + (f" ({minutes:g} min)" if minutes else ""))
    if len(way.steps) > 1 and way.minutes:
        lines.append(f"{way.minutes:g} minutes in all")
    return lines


def box_text(vehicle: Vehicle, box: str, feeds_of: FedParts | None = None) -> list[str]:
    """Return a box from the front, row by row, and under it each slot in words. Raises KeyError
    for an unknown place."""
    place = vehicle.places[box]
    contents, loose = slot_contents(vehicle, box, feeds_of)
    lines = [f"{place.label or box} ({box}), seen from the front"]
    lines += [f"  {line}" for line in access_text(vehicle, box)]
    columns, _ = grid_of(place)
    cells = [_cell(content) for content in contents]
    width = max((len(cell) for cell in cells), default=1)
    for first in range(0, len(cells), columns):
        row = cells[first : first + columns]
        lines.append("  " + " ".join(f"[{cell:<{width}}]" for cell in row))
    for content in contents:
        takes, sits, looks = slot_words(content)
        lines.append(f"  slot {content.slot.name} ({takes}): {sits}"
                     + (f", {looks}" if looks else ""))
        if content.feeds:
            lines.append("      feeds " + ", ".join(_name(vehicle, each)
                                                    for each in content.feeds))
    for part in loose:
        where = f"slot {part.slot}, which the box does not have" if part.slot else "no slot"
        lines.append(f"  {where}: {_name(vehicle, part.name)}")
    for name, inner in vehicle.places.items():
        if inner.inside == box and inner.slots:
            lines += ["", *box_text(vehicle, name, feeds_of)]
    return lines


def _cell(content: SlotContent) -> str:
    if content.state == "empty":
        return f"{content.slot.name} -"
    if content.state == "unknown":
        return f"{content.slot.name} ?"
    part = content.parts[0]
    return " ".join(word for word in (content.slot.name, part.name,
                                      rating_text(part).replace(" ", "")) if word)


def connector_text(
    vehicle: Vehicle, name: str, sides: Sequence[Seen] = ("mating", "wire"),
    halves: Sequence[str] = (),
) -> list[str]:
    """Return a connector's faces as rows of cavities, and each cavity's wires in words. Raises
    KeyError for an unknown part, ValueError for one that is no connector."""
    part = vehicle.parts[name]
    lines = [_name(vehicle, name)]
    chosen = [half for half in halves_of(part) if not halves or half in halves]
    for half in chosen:
        for seen in sides:
            uses = face(vehicle, part, half, seen)
            assert part.connector is not None
            lines.append(f"  {half_words(part, half)}, "
                         f"{seen_words(half, seen, part.connector.of)}")
            lines += [f"    {line}" for line in _face_rows(uses, *face_size(part.connector),
                                                           is_mirrored(half, seen))]
        for use in face(vehicle, part, half, "mating"):
            words = "; ".join(wire_words(vehicle, part, half, wire) for wire in use.wires)
            lines.append(f"  {half}.{use.cavity}  {words or 'unused'}")
    return lines


def _face_rows(uses: list[CavityUse], columns: int, rows: int, mirrored: bool) -> Iterator[str]:
    grid = {(use.row, use.column): use for use in uses}
    cells = {at: (use.cavity, "/".join(dict.fromkeys(wire.colour or "?" for wire in use.wires))
                  if len(use.wires) < 2 else f"{len(use.wires)} wires")
             for at, use in grid.items()}
    width = max(max(len(text) for text in cell) for cell in cells.values()) + 2
    rule = "-" * (columns * width)
    # the key stands over the first cavity of half a's mating side
    yield ("+" + rule[:-3] + "KEY+") if mirrored else ("+KEY" + rule[3:] + "+")
    for row in range(rows):
        for line in range(2):
            yield "|" + "".join(f"{cells.get((row, column), ('', ''))[line] or ' -'[line]:^{width}}"
                                for column in range(columns)) + "|"
    yield "+" + rule + "+"


def runs_text(vehicle: Vehicle) -> list[str]:
    """Return every harness run with its branches, lengths, grommets and wires."""
    bundles = Bundles(vehicle)
    lines: list[str] = []
    for run in vehicle.runs.values():
        length = f", {run.length_m:g} m" if run.length_m is not None else ""
        cover = f", {run.cover}" if run.cover else ""
        lines.append(f"{run.name} {run.label}".rstrip() + length + cover)
        for leg in bundles.legs[run.name]:
            wires = bundles.wires_in(leg)
            long = f" {leg.length_m:.2f} m" if leg.length_m is not None else ""
            through = " through a grommet" if leg.end in run.grommets else ""
            lines.append(f"  {leg.start} -> {leg.end}{long}{through}: "
                         + (", ".join(wires) or "no wire that the file knows of"))
    return lines


def damage_text(vehicle: Vehicle, damage: Damage) -> list[str]:
    """Return what a damaged spot takes with it: wires, circuits, and what to switch off first."""
    count = len(damage.wires) + len(damage.possible)
    lines = [f"{damage.where}: {count} wires, {len(damage.circuits)} circuits"]
    if damage.unfused:
        lines.append("  caution: some of these wires are live without any fuse; take the earth "
                     "lead off the battery first: " + ", ".join(damage.unfused))
    if damage.fuses:
        lines.append("  pull before touching it: "
                     + ", ".join(_name(vehicle, name) for name in damage.fuses))
    for name in damage.circuits:
        label = vehicle.circuits[name].label
        lines.append(f"  circuit {name}" + (f": {label}" if label else ""))
    for names, tail in ((damage.wires, ""), (damage.possible, "   (probably: the file does not "
                                             "say it for certain)")):
        for name in names:
            wire = vehicle.wires[name]
            look = " ".join(word for word in (wire.colour or "colour unknown", wire.area_text)
                            if word)
            lines.append(f"  {look:<16} {wire.a} -> {wire.b}{tail}")
    if not count:
        lines.append("  no wire that the file knows of")
    return lines
