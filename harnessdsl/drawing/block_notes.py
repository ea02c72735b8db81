"""Short lines beside a symbol: where the rest of the part is drawn, and what a state adds.

They stand under the symbol's own caption where there is room for them, else to its right.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from harnessdsl.drawing.block import Block
from harnessdsl.drawing.scene import Group, Shape, Text
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    DESCENT,
    SMALL_MM,
    Box,
    line_height,
    text_box,
    text_width,
)

_AIR_MM = 0.5


def place_notes(block: Block, notes: Sequence[str]) -> tuple[Block, list[tuple[float, float]]]:
    """Return the block with room for `notes` (as wide as they will be) and the left end of each
    one's base line."""
    if not notes:
        return block, []
    step = line_height(SMALL_MM)
    width = max(text_width(note, SMALL_MM) for note in notes)
    height = step * (len(notes) - 1) + (ASCENT + DESCENT) * SMALL_MM
    taken = [*block.body, *_texts(block.shapes, (0.0, 0.0))]
    edge = max((box[2] for box in block.body), default=0.0)
    captions = [box for box in taken if box[0] >= edge - 1e-6]
    left = min((box[0] for box in captions), default=edge + 1.0)
    top = max((box[3] for box in captions), default=block.y0) + _AIR_MM
    room = (left, top, left + width, top + height)
    if room[3] > block.y1 - _AIR_MM or any(_meet(room, box) for box in taken):
        left = block.x1 + 1.0
        top = (block.y0 + block.y1 - height) / 2
        if height > block.height:
            top = block.y0
    right = max(block.x1, left + width + _AIR_MM)
    places = [(left, top + ASCENT * SMALL_MM + step * index) for index in range(len(notes))]
    bottom = max(block.y1, top + height)
    grown = replace(block, x1=right)
    # ports stay on the box's edges, so a note may not reach below them
    return (grown, places) if bottom <= block.y1 + 1e-6 else (replace(grown, y1=bottom), places)


def _texts(shapes: Sequence[Shape], shift: tuple[float, float]) -> Iterator[Box]:
    for shape in shapes:
        if isinstance(shape, Group):
            moved = (shift[0] + shape.shift[0], shift[1] + shape.shift[1])
            yield from _texts(shape.shapes, moved)
        elif isinstance(shape, Text):
            x0, y0, x1, y1 = text_box(shape)
            yield (x0 + shift[0], y0 + shift[1], x1 + shift[0], y1 + shift[1])


def _meet(a: Box, b: Box) -> bool:
    return (
        a[0] < b[2] + _AIR_MM
        and b[0] < a[2] + _AIR_MM
        and a[1] < b[3] + _AIR_MM
        and b[1] < a[3] + _AIR_MM
    )
