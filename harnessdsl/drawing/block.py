"""The drawn form of one part, or of one piece of it, before it has a place on a sheet.

Symbols make blocks; placement and routing move them about and join their ports.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from harnessdsl.drawing.scene import Shape

GRID_MM = 2.5
"""Every port stands on a multiple of this from the block's origin."""

PORT_PITCH_MM = 5.0
"""The least distance between two ports on one side of a block."""


@dataclass(frozen=True, slots=True)
class Port:
    """A terminal's connection point in millimetres from the block's origin.

    `side` is where the wire leaves: `top` ports face the supply, `bottom` ports face earth.
    `node` is the electrical point, `terminal` the name printed at the symbol.
    """

    node: str
    terminal: str
    x: float
    y: float
    side: Literal["top", "bottom"]


@dataclass(frozen=True, slots=True)
class Block:
    """One symbol with its texts, in millimetres relative to its origin, y downwards.

    The box `x0, y0, x1, y1` holds everything that is drawn, its own texts included; `body` are
    the rectangles (x0, y0, x1, y1) of the solid symbol, which no wire and no foreign text may
    cross. Every top port lies on the upper edge of the box and every bottom port on the lower.
    """

    name: str
    """Unique among the blocks of a drawing: the part, or the part and its piece (`K2:coil`)."""
    part: str
    x0: float
    y0: float
    x1: float
    y1: float
    ports: tuple[Port, ...]
    shapes: tuple[Shape, ...]
    body: tuple[tuple[float, float, float, float], ...] = ()

    @property
    def width(self) -> float:
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        return self.y1 - self.y0
