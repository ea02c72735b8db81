"""Writes a page as SVG: the only place that knows the format."""

from __future__ import annotations

from harnessdsl.drawing.scene import Page


def render_svg(page: Page) -> str:
    """Return the page as SVG text in millimetres, the same bytes for the same page, with real
    text, `Group.data` as data- attributes and all user text made safe for XML."""
    raise NotImplementedError
