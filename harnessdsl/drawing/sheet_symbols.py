"""The blocks of a sheet's parts, and stand-ins for connectors and earth points without wires."""

from __future__ import annotations

from harnessdsl.drawing.block import Block
from harnessdsl.drawing.scene import Group, Rect, Shape, Style, Text
from harnessdsl.drawing.sheet_plan import PartUse, Plan, SheetPlan
from harnessdsl.drawing.symbols import blocks_for
from harnessdsl.drawing.text_metrics import (
    ASCENT,
    LABEL_MM,
    NAME_MM,
    line_height,
    shorten,
    text_width,
)

_MAX_MM = 40.0
BlockCache = dict[tuple[str, frozenset[str] | None, bool], list[Block]]


def symbols_of(plan: Plan, sheet: SheetPlan, known: BlockCache) -> list[Block]:
    """Return the blocks of all parts of a sheet, in the order of its circuit."""
    blocks: list[Block] = []
    for use in sheet.parts:
        key = (use.part, use.terminals, use.split)
        if key not in known:
            known[key] = _blocks(plan, use)
        blocks.extend(known[key])
    for name in sheet.idle:
        part = plan.vehicle.parts[name]
        blocks.append(_idle_block(name, part.label))
    return blocks


def _blocks(plan: Plan, use: PartUse) -> list[Block]:
    part = plan.vehicle.parts[use.part]
    wired = frozenset(node[len(part.name) + 1 :] for node in plan.wiring.wired.get(part.name, ()))
    turned = plan.vehicle.positive_earth
    if use.terminals is not None:
        wanted = use.terminals
        blocks = blocks_for(part, wanted, use.split, wired, turned)
        kept = [b for b in blocks if any(p.terminal in wanted for p in b.ports)] or blocks[:1]
        # halves that are both needed here stay together
        return kept if len(kept) < len(blocks) else blocks_for(part, wanted, False, wired, turned)
    blocks = blocks_for(part, None, use.split, wired, turned)
    shown = {port.terminal for block in blocks for port in block.ports}
    if wired <= shown:
        return blocks
    # a wire on an inner terminal, or on one that the kind does not have
    return blocks_for(part, wired | shown, use.split, wired, turned)


def _idle_block(name: str, label: str) -> Block:
    """Return a dashed box with the name of something that no wire reaches."""
    title = shorten(name, NAME_MM, _MAX_MM, True)
    lines = [shorten(line, LABEL_MM, _MAX_MM) for line in (label, "no wires") if line]
    width = max([text_width(title, NAME_MM, True), *(text_width(line, LABEL_MM) for line in lines)])
    height = line_height(NAME_MM) + len(lines) * line_height(LABEL_MM) + 2.0
    dashed = Style("#000000", 0.25, dash_mm=(1.0, 0.8))
    shapes: list[Shape] = [Rect(0, 0, width + 3.0, height, dashed)]
    base = 1.0 + ASCENT * NAME_MM
    shapes.append(Text(1.5, base, title, NAME_MM, bold=True))
    base = 1.0 + line_height(NAME_MM) + ASCENT * LABEL_MM
    for line in lines:
        shapes.append(Text(1.5, base, line, LABEL_MM))
        base += line_height(LABEL_MM)
    group = Group(tuple(shapes), css="part", data={"part": name})
    return Block(name, name, 0.0, 0.0, width + 3.0, height, (), (group,), ())
