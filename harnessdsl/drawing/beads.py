"""What is strung along a wire on paper: labels, plugs, names of far ends, and their room.

A strand is drawn as a line; its beads lie on the upright stretches of that line, one after the
other. The room that a bead takes is known before the line has a course.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from harnessdsl.drawing.marks import PLUG_HEIGHT_MM, plug_mark
from harnessdsl.drawing.scene import Shape, Text
from harnessdsl.drawing.states import BESIDE_HALO_MM
from harnessdsl.drawing.strands import Strand
from harnessdsl.drawing.text_metrics import ASCENT, DESCENT, SMALL_MM, shorten, text_width
from harnessdsl.model.vehicle import Vehicle, Wire

BEAD_GAP_MM = 1.0
BARE_MM = 2.0
"""The least length of wire that shows between two marks."""
MAX_TEXT_MM = 32.0


@dataclass(frozen=True, slots=True)
class Annotation:
    """What a state of the vehicle adds to the drawing of one thing.

    `text` is written beside it, such as `4.1 A` or `12.3 V`; `state` is '' or one of `live`,
    `dead`, `earthed`, `fault` and `marked`, which set how it is drawn.
    """

    text: str = ""
    state: str = ""


@dataclass(frozen=True, slots=True)
class Annotations:
    """Additions by name of wire, part and node."""

    wires: Mapping[str, Annotation] = field(default_factory=dict)
    parts: Mapping[str, Annotation] = field(default_factory=dict)
    nodes: Mapping[str, Annotation] = field(default_factory=dict)
    state_names: Mapping[str, str] = field(default_factory=dict)
    """What the legend calls a state, where it is not the usual name."""

    @property
    def beside_mm(self) -> float:
        """From the middle of a wire to the text beside it: further where wires have halos."""
        stated = any(annotation.state for annotation in self.wires.values())
        return BESIDE_HALO_MM if stated else BESIDE_MM


BESIDE_MM = 0.95
"""From the middle of a wire to the text beside it: half of the thickest wire, and some air."""

NO_ANNOTATIONS = Annotations()


Turn = Literal["right", "left", "up"]
"""How a bead's text stands by its wire: level to the right or to the left, or upright along it."""

TEXT_HEIGHT_MM = (ASCENT + DESCENT) * SMALL_MM
PLUG_HALF_MM = plug_mark("", "").solid[0][2]


@dataclass(frozen=True, slots=True)
class Bead:
    """One thing along a wire.

    `piece` is the index in the strand of the wire that a label belongs to, or of the plug. A label
    may stand for the wires of several pieces (`wires`), where a chain goes on unchanged behind a
    plug.
    """

    kind: Literal["label", "bare", "plug", "name", "value"]
    text: str = ""
    piece: int = -1
    wires: tuple[str, ...] = ()
    of: str = ""
    """The node that a name or a value belongs to."""
    beside_mm: float = BESIDE_MM
    """From the middle of the wire to the text beside it."""

    def length_mm(self, turn: Turn) -> float:
        """Return how much of the wire it takes up."""
        if self.kind == "bare":
            return BARE_MM
        level = PLUG_HEIGHT_MM if self.kind == "plug" else TEXT_HEIGHT_MM
        if turn == "up":
            return max(level, text_width(self.text, SMALL_MM)) + BEAD_GAP_MM
        return level + BEAD_GAP_MM / 2

    def sides_mm(self, turn: Turn) -> tuple[float, float]:
        """Return how far it reaches to the left and to the right of the wire."""
        own = PLUG_HALF_MM if self.kind == "plug" else self.beside_mm
        if not self.text:
            return own, own
        beside = own if self.kind == "plug" else 0.0
        if turn == "up":
            return max(own, self.beside_mm + TEXT_HEIGHT_MM), own
        reach = max(self.beside_mm, beside + 0.3) + text_width(self.text, SMALL_MM)
        return (own, reach) if turn == "right" else (reach, own)


def wire_text(wire: Wire, cable: str = "", annotation: Annotation | None = None) -> str:
    """Return a wire's label: its size (in mm2 unless it says otherwise), its colour code, the
    cable that it is twisted or screened in, and what the annotation adds."""
    size = wire.area_text
    if size.endswith("mm2"):
        size = size[:-3].strip()
    elif not size and wire.area_mm2 is not None:
        size = f"{wire.area_mm2:g}"
    text = " ".join(filter(None, (size, wire.colour, cable)))
    if annotation is not None and annotation.text:
        text = f"{text}  {annotation.text}" if text else annotation.text
    return shorten(text, SMALL_MM, MAX_TEXT_MM)


def plug_of(vehicle: Vehicle, connector: str, upper_node: str) -> tuple[Shape, ...]:
    """Return the symbol, without text, of a plug whose upper wire ends on `upper_node` (such as
    `X5.a.1`)."""
    half: Literal["a", "b"] = "b" if upper_node.startswith(f"{connector}.b.") else "a"
    part = vehicle.parts.get(connector)
    gender = ""
    if part is not None and part.connector is not None and half in part.connector.halves:
        gender = part.connector.halves[half].gender
        other = part.connector.halves.get("b" if half == "a" else "a")
        if not gender and other is not None and other.gender:
            gender = {"male": "female", "female": "male"}.get(other.gender, "")
    mark = plug_mark(connector, "", "", gender)
    return tuple(shape for shape in mark.shapes if not isinstance(shape, Text))


def plug_text(connector: str, cavity: str) -> str:
    """Return what is written at a plug: the connector and the cavity."""
    name = shorten(connector, SMALL_MM, MAX_TEXT_MM * 0.6)
    return f"{name}/{shorten(cavity, SMALL_MM, MAX_TEXT_MM * 0.4)}"


def text_bead(
    kind: Literal["name", "value"], node: str, text: str, beside_mm: float = BESIDE_MM
) -> Bead:
    """Return the bead for the name of a node, or for a value at it, beside the wire there."""
    return Bead(kind, shorten(text, SMALL_MM, MAX_TEXT_MM), of=node, beside_mm=beside_mm)


def string_beads(
    strand: Strand, annotations: Annotations, cable_of: Mapping[str, str]
) -> list[Bead]:
    """Return the beads of a strand from its first node to its last; `cable_of` names the cable of
    a wire that is in one."""
    groups: list[list[int]] = []
    """Neighbouring wires (indices of pieces) that one label serves."""
    texts: list[str] = []
    for index, piece in enumerate(strand.pieces):
        if piece.wire is None:
            continue
        name = piece.wire.name
        text = wire_text(piece.wire, cable_of.get(name, ""), annotations.wires.get(name))
        if groups and texts[-1] == text:
            groups[-1].append(index)
        else:
            groups.append([index])
            texts.append(text)
    labelled = {group[0]: (group, text) for group, text in zip(groups, texts, strict=True)}
    beads: list[Bead] = []
    beside = annotations.beside_mm
    for index, piece in enumerate(strand.pieces):
        if piece.wire is None:
            text = plug_text(piece.connector, piece.cavity)
            beads.append(Bead("plug", text, index, beside_mm=beside))
            continue
        group, text = labelled.get(index, ([], ""))
        if group and text:
            names = tuple(w.name for i in group if (w := strand.pieces[i].wire) is not None)
            beads.append(Bead("label", text, index, names, beside_mm=beside))
        else:
            beads.append(Bead("bare", piece=index, beside_mm=beside))
    return beads
