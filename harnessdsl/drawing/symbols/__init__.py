"""IEC 60617 symbols of parts, composed from what their kinds are made of.

Each family of symbols has a file of its own in this folder and is found by itself: a module with
a number `ORDER` and a function `take(pool) -> list[Element]` that removes from the pool the
primitives which it draws. Lower numbers choose first. `compose` then stands the elements side by
side in one block and draws the connections inside it. No symbol looks at a kind's name, so the
kinds of a user's own are drawn as well as the standard ones.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Sequence
from functools import cache
from typing import cast

from harnessdsl.drawing.block import Block
from harnessdsl.drawing.compose.arrange import Lead
from harnessdsl.drawing.compose.caption import caption_of
from harnessdsl.drawing.compose.draw import BlockSpec, compose
from harnessdsl.drawing.compose.element import Element
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.model.topology import terminal_node
from harnessdsl.model.vehicle import Part

Take = Callable[[Pool], list[Element]]


@cache
def families() -> tuple[tuple[str, Take], ...]:
    """Return the symbol families of this folder in the order in which they choose."""
    found: list[tuple[int, str, Take]] = []
    for info in pkgutil.iter_modules(__path__):
        module = importlib.import_module(f"{__name__}.{info.name}")
        found.append((cast(int, module.ORDER), info.name, cast(Take, module.take)))
    return tuple((name, take) for _, name, take in sorted(found, key=lambda f: f[:2]))


def blocks_for(
    part: Part,
    wanted_terminals: frozenset[str] | None = None,
    split: bool = False,
    wired: frozenset[str] | None = None,
    positive_earth: bool = False,
) -> list[Block]:
    """Return the drawn form of a part: one block, or several when `split` and it can be parted
    (a relay into coil and contacts, a switch into contacts that share no terminal).

    `wanted_terminals` are the terminals to be drawn with ports (all when None); what hangs on
    them alone is drawn, a terminal left out that is needed to make sense of a contact is shown
    by its name inside. A wanted terminal that the kind does not know gets a port all the same.
    `wired` are the terminals that wires go to, where that is known: a metal case that sits on
    metal then needs no port, only the chassis sign, unless a wire goes to it as well.
    On a vehicle with `positive_earth` a battery stands with its plus plate below.
    Every port is in exactly one of the blocks. Ports stand on GRID_MM from the origin (0, 0),
    which is the block's upper left corner, upper ports at y0 and lower ones at y1.

    Never raises for a part that the model can hold.
    """
    pool = Pool(part, wanted_terminals, wired, positive_earth)
    elements = [element for _, take in families() for element in take(pool)]
    leads = _leads(pool, elements)
    groups = _groups(elements, leads) if split else [(elements, leads)]
    blocks: list[Block] = []
    for index, (members, own) in enumerate(groups):
        piece = len(groups) > 1
        name = f"{part.name}:{index + 1}" if piece else part.name
        data = {"part": part.name, "kind": part.kind.name}
        if piece:
            data["piece"] = str(index + 1)
        spec = BlockSpec(name, part.name, caption_of(part), data, _title(part), piece)
        blocks.append(compose(members, own, part.kind, spec))
    return blocks


def _leads(pool: Pool, elements: Sequence[Element]) -> list[Lead]:
    """Return a lead for each wanted terminal, and one that ends inside for each net that is
    drawn, but whose terminals are drawn elsewhere."""
    leads = [
        Lead(name, pool.net(name), pool.facing(name), terminal_node(pool.part.name, name))
        for name in pool.wanted
        if pool.has_port(name)
    ]
    shown = pool.shown_nets() | {
        pool.net(name) for name in pool.kind.terminals if pool.is_bonded(name)
    }
    drawn = dict.fromkeys(net for element in elements for net in element.nets())
    for net in drawn:
        if net not in shown and not pool.is_inner(net):
            leads.append(Lead(net, net, pool.facing(net), ""))
    return leads


def _groups(
    elements: Sequence[Element], leads: Sequence[Lead]
) -> list[tuple[list[Element], list[Lead]]]:
    """Part the elements where no conductor joins them, in drawing order."""
    root: dict[str, str] = {}

    def find(net: str) -> str:
        while root.setdefault(net, net) != net:
            net = root[net]
        return net

    for element in elements:
        first, *others = element.nets() or ("",)
        for net in others:
            root[find(net)] = find(first)
    nets = [e.nets()[0] for e in elements if e.nets()] + [lead.net for lead in leads]
    names = list(dict.fromkeys(find(net) for net in nets))
    if len(names) < 2:
        return [(list(elements), list(leads))]
    return [
        (
            [e for e in elements if e.nets() and find(e.nets()[0]) == name],
            [lead for lead in leads if find(lead.net) == name],
        )
        for name in names
    ]


def _title(part: Part) -> str:
    where = f", in {part.place}" if part.place else ""
    slot = f" slot {part.slot}" if part.slot else ""
    return f"{part.name} {part.label}".strip() + where + slot
