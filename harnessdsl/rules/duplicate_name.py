"""A name that is given twice.

What
    Two parts, places, circuits, conditions, kinds, runs, cables or named wires have one name.

Why
    Nothing could tell which of the two a wire or a circuit means. The second one is left out.

Wrong
    lamp E5 "Left lamp"  spare
    lamp E5 "Right lamp"  spare

Right
    lamp E5 "Left lamp"  spare
    lamp E6 "Right lamp"  spare

Source
    The language reference.
"""

from __future__ import annotations

from harnessdsl.diagnostics import Severity
from harnessdsl.rules.registry import page

page("duplicate-name", Severity.ERROR, __name__)
