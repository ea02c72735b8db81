"""Coils of relays, solenoids and windings (IEC 60617)."""

from __future__ import annotations

from harnessdsl.drawing.compose.caption import side_texts
from harnessdsl.drawing.compose.element import FILLED, THIN, Element, Link, line, upright
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.scene import Path, Rect, Shape
from harnessdsl.model.kind import Primitive

ORDER = 50
HALF_WIDTH_MM = 3.0
HALF_MM = 1.8


def take(pool: Pool) -> list[Element]:
    """Draw relay coils with their link, solenoids, and windings as rows of half circles."""
    elements = [_relay_coil(pool, p) for p in pool.take("coil")]
    elements += [_solenoid(pool, p) for p in pool.take("solenoid")]
    elements += [_winding(pool, p) for p in pool.take("winding", "inductor")]
    return elements


def _rectangle() -> list[Shape]:
    return [
        Rect(-HALF_WIDTH_MM, -HALF_MM, 2 * HALF_WIDTH_MM, 2 * HALF_MM, FILLED),
        line((-HALF_WIDTH_MM, HALF_MM), (HALF_WIDTH_MM, -HALF_MM)),
    ]


def _relay_coil(pool: Pool, primitive: Primitive) -> Element:
    top, bottom, _ = pool.ends(primitive)
    key = pool.coil_key(primitive.name)
    return upright(
        f"coil {primitive.name}",
        top,
        bottom,
        HALF_WIDTH_MM + 0.2,
        HALF_MM,
        _rectangle(),
        side_texts(pool, primitive),
        (Link(key, 0.0, drives=True),),
    )


def _solenoid(pool: Pool, primitive: Primitive) -> Element:
    """A coil with its plunger to the right."""
    top, bottom, _ = pool.ends(primitive)
    shapes = [
        *_rectangle(),
        line((3.0, 0), (5.2, 0), style=THIN),
        line((4.4, -0.8), (5.2, 0), (4.4, 0.8), style=THIN),
    ]
    return upright(
        f"solenoid {primitive.name}",
        top,
        bottom,
        HALF_WIDTH_MM + 0.2,
        HALF_MM,
        shapes,
        side_texts(pool, primitive),
        right=5.4,
    )


def winding_path(x: float, bulge: float) -> Path:
    """Return four half circles from y = -3.2 to 3.2 at x, bulging to the side of `bulge`."""
    sweep = 1 if bulge > 0 else 0
    arcs = " ".join(f"A 0.8 0.8 0 0 {sweep} {x} {-3.2 + 1.6 * (i + 1):.1f}" for i in range(4))
    return Path(f"M {x} -3.2 {arcs}", FILLED)


def _winding(pool: Pool, primitive: Primitive) -> Element:
    top, bottom, _ = pool.ends(primitive)
    return upright(
        f"{primitive.type} {primitive.name}",
        top,
        bottom,
        0.6,
        3.2,
        [winding_path(0.0, 1.0)],
        side_texts(pool, primitive),
        right=1.2,
    )
