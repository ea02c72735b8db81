"""What is wrong on a drawing, in one record."""

from __future__ import annotations

from dataclasses import dataclass

from svg_checker.geometry import Point


@dataclass(frozen=True)
class Finding:
    """One fault: the sheet, what it is, what it is about, and where (mm from the top left)."""

    sheet: str
    what: str
    subject: str
    other: str = ""
    at: Point | None = None
    detail: str = ""

    def __str__(self) -> str:
        where = f" at {self.at[0]:.1f}, {self.at[1]:.1f} mm" if self.at else ""
        other = f" / {self.other!r}" if self.other else ""
        detail = f" ({self.detail})" if self.detail else ""
        return f"{self.sheet or 'all sheets'}: {self.what}: {self.subject!r}{other}{where}{detail}"
