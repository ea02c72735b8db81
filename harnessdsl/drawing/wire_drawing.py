"""Turns a thread's course on a page into shapes: wires in their colours with hops, plugs, labels,
marks, and the terminals that the wires end on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from harnessdsl.drawing.beads import Annotation, plug_of
from harnessdsl.drawing.colours import wire_shapes, wire_width
from harnessdsl.drawing.marks import PLUG_HEIGHT_MM, upright_text
from harnessdsl.drawing.routing import PlacedBead
from harnessdsl.drawing.scene import Circle, Group, Path, Point, Polyline, Shape, Style, Text
from harnessdsl.drawing.states import DEAD_OPACITY, halo_style
from harnessdsl.drawing.strands import Strand
from harnessdsl.drawing.text_metrics import ASCENT, DESCENT, SMALL_MM, text_width
from harnessdsl.model.vehicle import Vehicle, Wire

HOP_MM = 1.2
_INVISIBLE = Style("none")
LEAD_STYLE = Style("#000000", 0.25)
VALUE_RGB = "#1b4fa3"
"""Of what a state of the vehicle adds."""


@dataclass(slots=True)
class DrawnThread:
    """A thread on its page: page coordinates, all corners, from its first node to its last."""

    strand: Strand
    points: list[Point]
    beads: list[PlacedBead]


def terminal_group(node: str, at: Point) -> Group:
    """Return the invisible mark of a connection point."""
    return Group((Circle(at[0], at[1], 0.3, _INVISIBLE),), css="terminal", data={"node": node})


def simplified(points: Iterable[Point]) -> list[Point]:
    """Return the corners alone: without repeated points and without points on a straight."""
    found: list[Point] = []
    for point in points:
        if found and abs(found[-1][0] - point[0]) < 1e-6 and abs(found[-1][1] - point[1]) < 1e-6:
            continue
        if len(found) > 1:
            (ax, ay), (bx, by) = found[-2], found[-1]
            same_x = abs(ax - bx) < 1e-6 and abs(bx - point[0]) < 1e-6
            same_y = abs(ay - by) < 1e-6 and abs(by - point[1]) < 1e-6
            if same_x or same_y:
                found[-1] = point
                continue
        found.append(point)
    return found


def cut_wires(thread: DrawnThread) -> list[tuple[Wire, str, str, list[Point]]]:
    """Return each wire of a thread with its two nodes and its own corners: the thread's course
    between the plugs on it."""
    plugs = [placed for placed in thread.beads if placed.bead.kind == "plug"]
    half = PLUG_HEIGHT_MM / 2
    stops: list[tuple[int, Point, Point]] = []
    """Segment number, where the wire before ends, where the wire behind begins."""
    points = simplified(thread.points)
    for placed in sorted(plugs, key=lambda p: p.bead.piece):
        number = _segment_at(points, placed)
        step = half if placed.downwards else -half
        stops.append((number, (placed.x, placed.y - step), (placed.x, placed.y + step)))
    found: list[tuple[Wire, str, str, list[Point]]] = []
    begin: Point | None = points[0]
    first = 0
    stop = 0
    for piece in thread.strand.pieces:
        if piece.wire is None:
            if stop < len(stops):
                begin, first = stops[stop][2], stops[stop][0]
                stop += 1
            continue
        assert begin is not None
        if stop < len(stops):
            number, end, _ = stops[stop]
            corners = [begin, *points[first + 1 : number + 1], end]
        else:
            corners = [begin, *points[first + 1 :]]
        found.append((piece.wire, piece.enters, piece.leaves, simplified(corners)))
    return found


def _segment_at(points: Sequence[Point], placed: PlacedBead) -> int:
    for number, ((ax, ay), (bx, by)) in enumerate(pairwise(points)):
        if abs(ax - placed.x) < 0.01 and abs(bx - placed.x) < 0.01:
            low, high = min(ay, by) - 0.01, max(ay, by) + 0.01
            if low <= placed.y <= high:
                return number
    raise ValueError("a plug is not on its wire")


def draw_wire(
    wire: Wire,
    nodes: tuple[str, str],
    points: list[Point],
    hops: Mapping[int, Sequence[float]],
    annotation: Annotation | None,
) -> Group:
    """Return a wire in its own colours. `hops` gives for a sideways segment (by number) the
    places where it leaps over an upright wire."""
    pieces: list[list[Point]] = [[points[0]]]
    arcs: list[tuple[Point, Point]] = []
    for number, (a, b) in enumerate(pairwise(points)):
        right = b[0] > a[0]
        for x in sorted(hops.get(number, ()), reverse=not right):
            step = HOP_MM if right else -HOP_MM
            pieces[-1].append((x - step, a[1]))
            arcs.append(((x - step, a[1]), (x + step, a[1])))
            pieces.append([(x + step, a[1])])
        pieces[-1].append(b)
    verified = wire.evidence.verified
    layers: list[list[Shape]] = []
    for index, piece in enumerate(pieces):
        drawn = wire_shapes(piece, wire.colour, verified, wire.area_mm2)
        for layer, shape in enumerate(drawn):
            if len(layers) <= layer:
                layers.append([])
            layers[layer].append(shape)
            if index < len(arcs) and isinstance(shape, Polyline):
                layers[layer].append(_arc(*arcs[index], shape.style))
    shapes: list[Shape] = [shape for layer in layers for shape in layer]
    state = annotation.state if annotation is not None else ""
    if state == "dead":
        shapes = [_faded(shape) for shape in shapes]
    elif (halo := halo_style(state, wire_width(wire.area_mm2))) is not None:
        around = [Polyline(tuple(piece), halo) for piece in pieces]
        shapes = [*around, *(_arc(*arc, halo) for arc in arcs), *shapes]
    data = {"wire": wire.name, "from": nodes[0], "to": nodes[1]}
    if state:
        data["state"] = state
    return Group(tuple(shapes), css="wire", data=data, title=wire_title(wire))


def _arc(a: Point, b: Point, style: Style) -> Path:
    """Return a hop from a to b, upwards."""
    radius = abs(b[0] - a[0]) / 2
    sweep = 1 if b[0] > a[0] else 0
    d = f"M {a[0]:.3f} {a[1]:.3f} A {radius:.3f} {radius:.3f} 0 0 {sweep} {b[0]:.3f} {b[1]:.3f}"
    return Path(d, style)


def _faded(shape: Shape) -> Shape:
    if isinstance(shape, (Polyline, Path)):
        return replace(shape, style=replace(shape.style, opacity=DEAD_OPACITY))
    return shape


def wire_title(wire: Wire) -> str:
    """Return what a pointer over the wire shows."""
    facts = [f"{wire.a} - {wire.b}", wire.area_text, wire.colour]
    if wire.length_m is not None:
        facts.append(f"{wire.length_m:g} m")
    facts.append(wire.evidence.trust.word)
    if wire.note:
        facts.append(wire.note)
    return f"{wire.name}: " + ", ".join(fact for fact in facts if fact)


def crossings_of(
    wires: Sequence[tuple[Wire, str, str, list[Point]]],
) -> dict[int, dict[int, list[float]]]:
    """Return for each wire (by index) and sideways segment the places where it crosses an
    upright stretch of another one."""
    upright: list[tuple[float, float, float, int]] = []
    for index, (_, _, _, points) in enumerate(wires):
        for (ax, ay), (bx, by) in pairwise(points):
            if abs(ax - bx) < 1e-6:
                upright.append((ax, min(ay, by), max(ay, by), index))
    upright.sort()
    found: dict[int, dict[int, list[float]]] = {}
    for index, (_, _, _, points) in enumerate(wires):
        for number, ((ax, ay), (bx, by)) in enumerate(pairwise(points)):
            if abs(ay - by) > 1e-6:
                continue
            low, high = min(ax, bx), max(ax, bx)
            places = [
                x
                for x, top, bottom, other in upright
                # a hop needs room to both sides on its own stretch
                if other != index and low + HOP_MM < x < high - HOP_MM and top < ay < bottom
            ]
            if places:
                found.setdefault(index, {})[number] = places
    return found


def draw_bead(vehicle: Vehicle, strand: Strand, placed: PlacedBead) -> Shape | None:
    """Return a label, a name or a plug on its wire; None for bare wire."""
    bead = placed.bead
    if bead.kind == "plug":
        piece = strand.pieces[bead.piece]
        upper, lower = piece.enters, piece.leaves
        if not placed.downwards:
            upper, lower = lower, upper
        half = PLUG_HEIGHT_MM / 2
        ends = (
            terminal_group(upper, (placed.x, placed.y - half)),
            terminal_group(lower, (placed.x, placed.y + half)),
        )
        symbol = plug_of(vehicle, piece.connector, upper)
        body = Group(symbol, shift=(placed.x, placed.y))
        data = {"part": piece.connector, "cavity": piece.cavity}
        return Group((body, *ends, bead_text(placed)), css="plug", data=data)
    if bead.kind == "bare":
        return None
    text = bead_text(placed)
    if bead.kind == "label":
        shape: Shape = text
        for name in reversed(bead.wires):
            shape = Group((shape,), css="wire-label", data={"of": name})
        return shape
    if bead.kind == "value":
        text = replace(text, colour=VALUE_RGB)
    return Group((text,), css="label", data={"of": bead.of})


def bead_text(placed: PlacedBead) -> Text:
    """Return the text of a bead, upright or level beside its wire."""
    if placed.turn == "up":
        bead = placed.bead
        return upright_text(bead.text, placed.x, placed.y, "left", bead.beside_mm)
    left, right = placed.bead.sides_mm(placed.turn)
    base = placed.y + (ASCENT - DESCENT) / 2 * SMALL_MM
    if placed.turn == "right":
        x = placed.x + right - text_width(placed.bead.text, SMALL_MM)
        return Text(x, base, placed.bead.text, SMALL_MM)
    x = placed.x - left + text_width(placed.bead.text, SMALL_MM)
    return Text(x, base, placed.bead.text, SMALL_MM, anchor="end")
