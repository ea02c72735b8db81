"""Whatever no other family has taken: general loads, bare terminals, metal cases."""

from __future__ import annotations

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import FILLED, THICK, Element, Pin, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Circle, Rect, Shape, Text
from harnessdsl.drawing.text_metrics import SMALL_MM, text_width

ORDER = 99


def take(pool: Pool) -> list[Element]:
    """Draw every primitive that is left as a consumer, every bare terminal as an open end, and
    the bond of a case terminal to the metal that the part is on."""
    elements = []
    for primitive in pool.take():
        top, bottom, _ = pool.ends(primitive)
        shapes: list[Shape] = [Rect(-2.6, -2.6, 5.2, 5.2, FILLED)]
        known = primitive.type == "load"
        if not known:
            shapes.append(Text(0, 0.9, "?", SMALL_MM, anchor="middle"))
        else:
            shapes.append(line((-1.3, 0), (1.3, 0), style=THICK))
        elements.append(
            upright(
                f"{primitive.type} {primitive.name}",
                top,
                bottom,
                2.8,
                2.6,
                shapes,
                side_texts(pool, primitive),
            )
        )
    if not pool.boxed:
        elements.extend(_open_end(pool, name) for name in pool.lone_terminals())
    elements.extend(_bonds(pool))
    return elements


def _open_end(pool: Pool, name: str) -> Element:
    pin = (Pin(0.0, pool.net(name)),)
    up = pool.facing(name) == "top"
    return Element(
        f"open {name}",
        pin if up else (),
        () if up else pin,
        0.8,
        0.8,
        0.5,
        0.5,
        (Circle(0, 0, 0.5, FILLED),),
    )


def _bonds(pool: Pool) -> list[Element]:
    """A case that is screwed to metal needs no wire: the chassis sign says so."""
    bonds = []
    for name in pool.kind.terminals:
        net = pool.net(name)
        drawn = any(net in (pool.net(p.a), pool.net(p.b)) for p in pool.primitives)
        if pool.is_bonded(name) and (drawn or name in pool.wanted):
            metal = pool.part.conductor if pool.part.conductor != "body" else ""
            own = "" if pool.has_port(name) else name
            bonds.append(_chassis(net, " ".join(text for text in (own, metal) if text)))
    return bonds


def _chassis(net: str, text: str) -> Element:
    shapes: list[Shape] = [
        line((0, -1.5), (0, 0)),
        line((-1.9, 0), (1.9, 0), style=THICK),
        *(line((x + 0.5, 0), (x - 0.5, 1.3)) for x in (-1.3, 0.0, 1.3)),
    ]
    right = 2.1
    down = 1.5
    if text:
        shapes.append(Text(-1.8, 1.7 + 0.93 * SMALL_MM, text, SMALL_MM))
        right = max(right, text_width(text, SMALL_MM) - 1.8)
        down = 1.7 + 1.2 * SMALL_MM
    return Element(
        f"case {net}", (Pin(0.0, net),), (), 2.1, right, 1.5, down, tuple(shapes), free=True
    )
