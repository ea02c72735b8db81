"""How much room a text takes, without asking the machine for its fonts.

Widths are the widest of the fonts in FONT_STACK (text_widths.py), so that a text fits its place
whichever of them the reader's machine has. All lengths are millimetres on paper; a text's size
is its font size.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from harnessdsl.drawing.scene import Text
from harnessdsl.drawing.text_widths import BOLD, REGULAR

FONT_STACK = "'DejaVu Sans', 'Liberation Sans', Arial, Helvetica, sans-serif"

ASCENT = 0.93
"""Height above the base line as a share of the font size: the tallest in FONT_STACK."""
DESCENT = 0.24
"""Depth below the base line as a share of the font size."""
LINE = 1.2
"""Distance between the base lines of two lines of text, as a share of the font size."""

SMALL_MM = 2.5
"""The smallest type on a sheet: terminal numbers, wire labels, position names. Its capitals are
1.8 mm high in the first font of the stack, the smallest lettering of ISO 3098 (from memory)."""
LABEL_MM = 2.5
"""Labels and ratings."""
NAME_MM = 3.0
"""Reference designations."""
TITLE_MM = 4.0
"""The title of a sheet."""

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1; y grows downwards."""

ELLIPSIS = "…"


def _by_character(table: dict[int, str]) -> dict[str, float]:
    return {c: width / 100 for width, characters in table.items() for c in characters}


_REGULAR = _by_character(REGULAR)
_BOLD = _by_character(BOLD)


def _width_em(character: str, bold: bool) -> float:
    found = (_BOLD if bold else _REGULAR).get(character)
    if found is not None:
        return found
    if unicodedata.combining(character):
        return 0.0
    # nothing known: another font will serve; pictographs are the widest that turn up
    return 1.4 if ord(character) > 0xFFFF else 1.1


@lru_cache(maxsize=8192)
def text_width(text: str, size_mm: float, bold: bool = False) -> float:
    """Return an upper bound of the width in mm of one line of text."""
    return size_mm * sum(_width_em(character, bold) for character in text)


def text_box(text: Text) -> Box:
    """Return the box that a text may fill, for turns by multiples of 90 degrees; other angles
    get the box around the turned box's corners rounded to the nearest quarter turn."""
    width = text_width(text.text, text.size_mm, text.bold)
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    x0, x1 = left, left + width
    y0, y1 = -ASCENT * text.size_mm, DESCENT * text.size_mm
    quarter = round(text.rotate_deg / 90) % 4
    if quarter == 1:
        x0, y0, x1, y1 = -y1, x0, -y0, x1
    elif quarter == 2:
        x0, y0, x1, y1 = -x1, -y1, -x0, -y0
    elif quarter == 3:
        x0, y0, x1, y1 = y0, -x1, y1, -x0
    return (text.x + x0, text.y + y0, text.x + x1, text.y + y1)


def line_height(size_mm: float) -> float:
    """Return the distance of base lines in mm."""
    return LINE * size_mm


def shorten(text: str, size_mm: float, width_mm: float, bold: bool = False) -> str:
    """Return the text, cut and ended with an ellipsis when it is wider than `width_mm`."""
    if text_width(text, size_mm, bold) <= width_mm:
        return text
    while text and text_width(text + ELLIPSIS, size_mm, bold) > width_mm:
        text = text[:-1]
    return text.rstrip() + ELLIPSIS


def wrap(
    text: str, size_mm: float, width_mm: float, max_lines: int = 2, bold: bool = False
) -> tuple[str, ...]:
    """Return the text in at most `max_lines` lines no wider than `width_mm`.

    Breaks at spaces, and after `-`, `/` and `,` inside a word too wide for a line; what does not
    fit ends in an ellipsis.
    """
    words = text.split()
    lines: list[str] = []
    line = ""
    while words:
        word = words.pop(0)
        trial = f"{line} {word}" if line else word
        if text_width(trial, size_mm, bold) <= width_mm:
            line = trial
            continue
        if line:
            lines.append(line)
            line = ""
            words.insert(0, word)
            continue
        head, tail = _split_word(word, size_mm, width_mm, bold)
        lines.append(head)
        if tail:
            words.insert(0, tail)
    if line:
        lines.append(line)
    if len(lines) > max_lines:
        rest = " ".join(lines[max_lines - 1 :])
        lines = [*lines[: max_lines - 1], shorten(rest, size_mm, width_mm, bold)]
        if not lines[-1].endswith(ELLIPSIS):
            lines[-1] = shorten(lines[-1] + ELLIPSIS, size_mm, width_mm, bold)
    return tuple(lines)


def _split_word(word: str, size_mm: float, width_mm: float, bold: bool) -> tuple[str, str]:
    fit = len(word)
    while fit > 1 and text_width(word[:fit], size_mm, bold) > width_mm:
        fit -= 1
    soft = max((word.rfind(mark, 0, fit) for mark in "-/,."), default=-1)
    if 0 < soft < fit and fit < len(word):
        fit = soft + 1
    return word[:fit], word[fit:]
