"""The texts beside a block: designation, label and the figure by which one buys the part."""

from __future__ import annotations

from collections.abc import Iterable

from harnessdsl.drawing.compose.element import Caption
from harnessdsl.drawing.compose.pool import Pool
from harnessdsl.drawing.text_metrics import SMALL_MM, shorten
from harnessdsl.model.kind import Primitive
from harnessdsl.model.vehicle import Part
from harnessdsl.quantity import Quantity

_FIGURES = {
    "fuse": ("current",),
    "breaker": ("current",),
    "link": ("current",),
    "filament": ("power", "current"),
    "heater": ("power", "current", "resistance"),
    "motor": ("power", "current"),
    "solenoid": ("power", "current"),
    "resistor": ("resistance",),
    "capacitor": ("capacitance",),
    "alternator": ("current",),
}
"""The figures worth saying beside a symbol, the first that is given, by type of primitive."""

_UNIT_SIGNS = {"ohm": "Ω", "mohm": "mΩ", "kohm": "kΩ", "Mohm": "MΩ", "uF": "µF", "C": "°C",
               "F": "°F", "mm2": "mm²"}  # fmt: skip


def caption_of(part: Part) -> Caption:
    """Return the texts that stand beside a part's block."""
    return Caption(part.name, part.label, rating_of(part))


def figure_text(quantity: Quantity) -> str:
    """Return a figure as written, with the signs of units that the language spells out."""
    number, _, unit = quantity.text.partition(" ")
    return f"{number} {_UNIT_SIGNS.get(unit, unit)}".strip()


def primitive_figure(primitive: Primitive) -> str:
    """Return the figure that is said beside a primitive's symbol, '' when there is none."""
    for dimension in _FIGURES.get(primitive.type, ()):
        found = primitive.figures.get(("", dimension))
        if found is not None:
            return figure_text(found)
    return ""


def rating_of(part: Part) -> str:
    """Return the part's rating: `30 A`, `60/55 W`, `60 Ah`, `92 °C / 87 °C`; '' when none."""
    kind = part.kind
    capacity = next((q for (_, dim), q in kind.figures.items() if dim == "capacity"), None)
    if capacity is not None:
        return figure_text(capacity)
    if part.family in ("ignition", "antenna") or (
        part.family == "load" and len(kind.primitives) > 1
    ):
        return ""  # what the figures inside say is not what one buys it by
    types = list(dict.fromkeys(p.type for p in kind.primitives if p.type in _FIGURES))
    wanted = [t for t in types if t != "capacitor"] or types
    if wanted and part.family not in ("relay", "module", "gauge", "alternator"):
        first = [p for p in kind.primitives if p.type == wanted[0] and "suppresses" not in p.flags]
        text = _joined(primitive_figure(p) for p in first)
        if text:
            return text
    if part.family == "alternator":
        return _joined(primitive_figure(p) for p in kind.primitives if p.type == "alternator")
    return _switch_points(kind.primitives)


def _joined(figures: Iterable[str]) -> str:
    """`60 W` and `55 W` make `60/55 W`."""
    texts = [text for text in figures if text]
    units = {text.partition(" ")[2] for text in texts}
    if len(texts) > 1 and len(units) == 1:
        numbers = [text.partition(" ")[0] for text in texts]
        if len(numbers) > 4:
            return ""
        return "/".join(numbers) + f" {units.pop()}"
    return texts[0] if texts else ""


def switch_point(primitive: Primitive) -> str:
    """Return where a thermal or pressure contact closes and opens: `92/87 °C`, '' if nowhere."""
    for dimension in ("temperature", "pressure"):
        pair = [primitive.figures.get((word, dimension)) for word in ("closes", "opens")]
        if any(pair):
            return _joined(figure_text(figure) for figure in pair if figure is not None)
    return ""


def _switch_points(primitives: Iterable[Primitive]) -> str:
    points = {switch_point(p): None for p in primitives if switch_point(p)}
    # contacts that differ have theirs beside them
    return next(iter(points)) if len(points) == 1 else ""


MOST_SIDE_TEXT_MM = 16.0


def side_texts(pool: Pool, primitive: Primitive) -> tuple[str, ...]:
    """Return what is written beside one symbol of several alike: its name and its figure."""
    alike = [
        p for p in pool.kind.primitives if p.type == primitive.type and "suppresses" not in p.flags
    ]
    if len(alike) < 2 or "suppresses" in primitive.flags:
        return ()
    texts = (primitive.name, primitive_figure(primitive))
    return tuple(shorten(text, SMALL_MM, MOST_SIDE_TEXT_MM) for text in texts if text)
