"""What is strung along a wire on paper: labels, plugs, names of far ends, and their room.

A strand is drawn as a line; its beads lie on the upright stretches of that line, one after the
other. The room that a bead takes is known before the line has a course.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from harnessdsl.drawing.colours import wire_width
from harnessdsl.drawing.marks import PLUG_HEIGHT_MM, Mark, plug_mark, upright_text
from harnessdsl.drawing.strands import Strand
from harnessdsl.drawing.text_metrics import SMALL_MM, shorten, text_box, text_width
from harnessdsl.model.vehicle import Vehicle, Wire

BEAD_GAP_MM = 1.0
BARE_MM = 3.0
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


NO_ANNOTATIONS = Annotations()


@dataclass(frozen=True, slots=True)
class Bead:
    """One thing along a wire: how long it is and how far it reaches to the sides.

    `piece` is the index in the strand of the wire that a label belongs to, or of the plug. A label
    may stand for the wires of several pieces (`wires`), where a chain goes on unchanged behind a
    plug.
    """

    kind: Literal["label", "bare", "plug", "name", "value"]
    length_mm: float
    left_mm: float
    right_mm: float
    text: str = ""
    piece: int = -1
    wires: tuple[str, ...] = ()
    of: str = ""
    """The node that a name or a value belongs to."""


UPRIGHT_LEFT_MM = -text_box(upright_text("X", 0.0, 0.0, "left"))[0]
"""How far a text beside a wire reaches from the wire's middle."""


def wire_text(wire: Wire, annotation: Annotation | None = None) -> str:
    """Return a wire's label: its size (in mm2 unless it says otherwise), its colour code, and
    what the annotation adds."""
    size = wire.area_text
    if size.endswith("mm2"):
        size = size[:-3].strip()
    elif not size and wire.area_mm2 is not None:
        size = f"{wire.area_mm2:g}"
    text = f"{size} {wire.colour}".strip()
    if annotation is not None and annotation.text:
        text = f"{text}  {annotation.text}" if text else annotation.text
    return shorten(text, SMALL_MM, MAX_TEXT_MM)


def plug_of(vehicle: Vehicle, connector: str, cavity: str, upper_node: str) -> Mark:
    """Return the mark of a plug whose upper wire ends on `upper_node` (`X5.a.1`)."""
    half: Literal["a", "b"] = "b" if upper_node.startswith(f"{connector}.b.") else "a"
    part = vehicle.parts.get(connector)
    gender = ""
    if part is not None and part.connector is not None and half in part.connector.halves:
        gender = part.connector.halves[half].gender
        other = part.connector.halves.get("b" if half == "a" else "a")
        if not gender and other is not None and other.gender:
            gender = {"male": "female", "female": "male"}.get(other.gender, "")
    name = shorten(connector, SMALL_MM, MAX_TEXT_MM * 0.6)
    return plug_mark(name, shorten(cavity, SMALL_MM, MAX_TEXT_MM * 0.4), "", gender)


def text_bead(kind: Literal["name", "value"], node: str, text: str) -> Bead:
    """Return the bead for the name of a node, or for a value at it, beside the wire there."""
    shown = shorten(text, SMALL_MM, MAX_TEXT_MM)
    length = text_width(shown, SMALL_MM) + BEAD_GAP_MM
    return Bead(kind, length, UPRIGHT_LEFT_MM, 1.0, shown, of=node)


def string_beads(vehicle: Vehicle, strand: Strand, annotations: Annotations) -> list[Bead]:
    """Return the beads of a strand from its first node to its last."""
    groups: list[list[int]] = []
    """Neighbouring wires (indices of pieces) that one label serves."""
    texts: list[str] = []
    for index, piece in enumerate(strand.pieces):
        if piece.wire is None:
            continue
        text = wire_text(piece.wire, annotations.wires.get(piece.wire.name))
        if groups and texts[-1] == text:
            groups[-1].append(index)
        else:
            groups.append([index])
            texts.append(text)
    labelled = {group[0]: (group, text) for group, text in zip(groups, texts, strict=True)}
    beads: list[Bead] = []
    for index, piece in enumerate(strand.pieces):
        if piece.wire is None:
            mark = plug_of(vehicle, piece.connector, piece.cavity, piece.enters)
            x0, y0, x1, y1 = mark.box
            length = max(PLUG_HEIGHT_MM, 2 * max(-y0, y1))
            beads.append(Bead("plug", length, -x0, x1, piece=index))
            continue
        width = wire_width(piece.wire.area_mm2)
        group, text = labelled.get(index, ([], ""))
        if group and text:
            names = tuple(w.name for i in group if (w := strand.pieces[i].wire) is not None)
            length = text_width(text, SMALL_MM) + BEAD_GAP_MM
            beads.append(
                Bead(
                    "label",
                    max(BARE_MM, length),
                    UPRIGHT_LEFT_MM,
                    width / 2 + 0.2,
                    text,
                    index,
                    names,
                )
            )
        else:
            beads.append(Bead("bare", BARE_MM, width / 2 + 0.2, width / 2 + 0.2, piece=index))
    return beads
