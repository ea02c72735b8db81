"""The furniture of a sheet: frame, title block, legend, cautions, rails, track numbers.

All lengths are millimetres on paper from the sheet's upper left corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from harnessdsl.drawing.scene import Shape
from harnessdsl.drawing.text_metrics import Box

PAGE_SIZES_MM = {
    "A4": (297.0, 210.0),
    "A4-portrait": (210.0, 297.0),
    "A3": (420.0, 297.0),
    "A3-portrait": (297.0, 420.0),
}
"""Width and height by name; landscape unless it says otherwise (ISO 216)."""


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """What the title block says. Nothing is filled in from the clock: `date` is the user's."""

    vehicle: str
    circuit: str
    """The sheet's title."""
    build: str = ""
    sheet: int = 1
    sheets: int = 1
    date: str = ""
    drawn_by: str = ""
    notes: str = ""
    supply: str = ""
    """Such as `12 V, negative earth`."""
    tracks: str = ""
    """Such as `1-24`."""


@dataclass(frozen=True, slots=True)
class Legend:
    """What the sheet has to explain."""

    colours: tuple[str, ...] = ()
    """The IEC 60757 codes of single colours used on the sheet, in any order."""
    unverified: bool = False
    """Some wire is drawn dashed."""
    references: bool = False
    plugs: bool = False
    live_states: bool = False
    """Wires are drawn by whether they are live."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The furniture's shapes and the rectangle that is left for the drawing."""

    shapes: tuple[Shape, ...]
    area: Box


def frame(
    page_size: str,
    title: TitleBlock,
    legend: Legend = Legend(),
    cautions: Sequence[str] = (),
) -> Frame:
    """Return border, title block, legend and cautions of a sheet.

    Title block, legend and cautions fill one strip along the bottom; `Frame.area` is the free
    rectangle above it, 3 mm inside the border. Raises KeyError for an unknown page size.
    """
    raise NotImplementedError


def rail(
    name: str, x0: float, x1: float, y: float, kind: Literal["supply", "earth"] = "supply"
) -> tuple[Shape, ...]:
    """Return a rail from x0 to x1 at height y with its name to the left of x0 (it needs
    RAIL_NAME_MM of room there)."""
    raise NotImplementedError


RAIL_NAME_MM = 9.0
TRACK_STRIP_MM = 5.0


def track_strip(x0: float, y: float, pitch_mm: float, first: int, count: int) -> tuple[Shape, ...]:
    """Return the numbers of `count` tracks from `first` on, the centre of the first at x0,
    in a strip TRACK_STRIP_MM high whose top is y."""
    raise NotImplementedError


def standard_cautions(
    families: frozenset[str], safety: frozenset[str] = frozenset()
) -> tuple[str, ...]:
    """Return the cautions that belong to a sheet on which parts of these families stand;
    `safety` holds the safety words of kinds, circuits and places (airbag, fuel, fan, ...)."""
    raise NotImplementedError
