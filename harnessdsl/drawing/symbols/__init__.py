"""IEC 60617 symbols of parts, composed from what their kinds are made of.

Each family of symbols has a file of its own in this folder and is found by itself; `compose`
stands their symbols side by side in one block and draws the connections inside it. No symbol
looks at a kind's name, so the kinds of a user's own are drawn as well as the standard ones.
"""

from __future__ import annotations

from harnessdsl.drawing.block import Block
from harnessdsl.model.vehicle import Part


def blocks_for(
    part: Part,
    wanted_terminals: frozenset[str] | None = None,
    split: bool = False,
) -> list[Block]:
    """Return the drawn form of a part: one block, or several when `split` and it can be parted
    (a relay into coil and contacts, a switch into its actuators' contacts).

    `wanted_terminals` are the terminals to be drawn with ports (all when None); what hangs on
    them alone is drawn, a terminal left out that is needed to make sense of a contact is shown
    by its name inside. A wanted terminal that the kind does not know gets a port all the same.
    Every port is in exactly one of the blocks. Ports stand on GRID_MM from the origin (0, 0),
    which is the block's upper left corner, upper ports at y0 and lower ones at y1.

    Never raises for a part that the model can hold.
    """
    raise NotImplementedError
