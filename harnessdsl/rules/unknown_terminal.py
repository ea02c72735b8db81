"""A wire that ends on a terminal which the part does not have.

What
    The terminal behind the dot is none of the part's terminals or cavities, and none of their other
    names.

Why
    Usually a number was misread, or the part is of another kind than was thought.

Wrong
    blade-fuse F1 "Lamps"  10 A  spare
    lamp E5 "Work lamp"  spare
    wire F1.3 -> E5.1  1 mm2 GY

Right
    blade-fuse F1 "Lamps"  10 A  spare
    lamp E5 "Work lamp"  spare
    wire F1.2 -> E5.1  1 mm2 GY

Source
    DIN 72552 for the terminal numbers of the shipped kinds.
"""

from __future__ import annotations

from harnessdsl.diagnostics import Severity
from harnessdsl.rules.registry import page

page("unknown-terminal", Severity.ERROR, __name__)
