"""What is drawn on which sheet: parts, strands, and how each strand ends there.

One sheet for each circuit, in the order of the file, and a last one for what is in no circuit.
Every strand is on exactly one sheet; where its far end is drawn on another, it ends at a
reference, and the other sheet refers back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from harnessdsl.drawing.strands import Strand, in_line
from harnessdsl.drawing.wiring import Wiring
from harnessdsl.model.vehicle import Part, Vehicle

PageKey = tuple[int, ...]
"""Which circuit, and which piece of it: keys sort in the order of the sheets."""


class Role(Enum):
    """How a strand ends on its sheet."""

    PIN = "pin"
    """At a terminal of a part that is drawn on this sheet."""
    JUNCTION = "junction"
    """At a point of its own: a splice, a cavity with several wires, a far terminal."""
    LINE = "line"
    """At a supply line."""
    EARTH = "earth"
    REFERENCE = "reference"
    """At a mark that says where it goes on."""
    LOOSE = "loose"


@dataclass(frozen=True, slots=True)
class StrandEnd:
    role: Role
    node: str
    line: str = ""
    """The supply line's name, for Role.LINE."""
    home: PageKey = ()
    """The sheet that a reference points to."""


@dataclass(frozen=True, slots=True)
class PlacedStrand:
    """A strand on its sheet; `a` is how its first end is drawn, `b` its last."""

    strand: Strand
    a: StrandEnd
    b: StrandEnd


@dataclass(frozen=True, slots=True)
class Hint:
    """A mark without a wire at `node`: where else it is drawn, or the line that it feeds."""

    node: str
    sheets: tuple[PageKey, ...] = ()
    line: str = ""


@dataclass(frozen=True, slots=True)
class PartUse:
    """A part on a sheet, with the terminals that are drawn there (None: all)."""

    part: str
    terminals: frozenset[str] | None
    split: bool
    elsewhere: tuple[PageKey, ...] = ()
    """The other sheets that draw a piece of it."""


@dataclass(frozen=True, slots=True)
class PageSpec:
    """What is wanted on one page: the parts of a circuit, or some of them when it is too large
    for one page."""

    key: PageKey
    circuit: str
    """'' for what is not assigned."""
    title: str
    parts: tuple[str, ...]
    terminals: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """For a part that is too large for a page: the terminals shown on this one."""


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """One sheet before it is laid out."""

    key: PageKey
    circuit: str
    title: str
    parts: tuple[PartUse, ...]
    strands: tuple[PlacedStrand, ...]
    hints: tuple[Hint, ...]
    junctions: tuple[str, ...]
    """Nodes drawn as a point with at least one strand."""
    idle: tuple[str, ...] = ()
    """Connectors, splices and earth points that no wire reaches."""


@dataclass(frozen=True, slots=True)
class Plan:
    """All sheets of a vehicle."""

    wiring: Wiring
    sheets: tuple[SheetPlan, ...]

    @property
    def vehicle(self) -> Vehicle:
        return self.wiring.vehicle


UNASSIGNED_TITLE = "Not yet assigned to a circuit"


def is_point(part: Part | None) -> bool:
    """Whether a part has no symbol of its own but is drawn on the wires."""
    return part is not None and (part.family in ("splice", "earth") or in_line(part))


def circuit_pages(vehicle: Vehicle) -> list[PageSpec]:
    """Return one page for each circuit of the file and one for all that is in none."""
    pages = [
        PageSpec((index,), circuit.name, circuit.label or circuit.name, circuit.parts)
        for index, circuit in enumerate(vehicle.circuits.values())
    ]
    listed = {name for circuit in vehicle.circuits.values() for name in circuit.parts}
    rest = tuple(name for name in vehicle.parts if name not in listed)
    title = UNASSIGNED_TITLE if pages else vehicle.name or "Wiring"
    return [*pages, PageSpec((len(pages),), "", title, rest)]
