"""Wires in the colours of their insulation, tracer as a stripe, unverified ones dashed."""

from __future__ import annotations

import re
from collections.abc import Mapping

from svg_checker.findings import Finding
from svg_checker.sheet import Sheet

REFERENCE = {
    "BK": (0, 0, 0), "BN": (139, 69, 19), "RD": (205, 20, 20), "OG": (255, 140, 0),
    "YE": (255, 220, 0), "GN": (0, 128, 0), "BU": (0, 70, 200), "VT": (128, 0, 160),
    "GY": (128, 128, 128), "WH": (255, 255, 255), "PK": (255, 160, 190), "GD": (184, 150, 60),
    "TQ": (40, 190, 190), "SR": (200, 200, 200),
}  # fmt: skip
"""What the words of IEC 60757 look like; near the CSS colours of the same names."""


def nearest_code(colour: str) -> str:
    """Return the code of IEC 60757 that a painted colour, `rgb(r, g, b)`, is nearest to."""
    found = [int(number) for number in re.findall(r"\d+", colour)[:3]]
    return min(
        REFERENCE,
        key=lambda code: sum((a - b) ** 2 for a, b in zip(REFERENCE[code], found, strict=True)),
    )


def codes(colour: str) -> list[str]:
    """Return base and tracers of a wire colour; green-and-yellow is one code for two."""
    return [code for part in colour.split("/") for code in re.findall("..", part)]


def check_paint(sheet: Sheet, expected: Mapping[str, tuple[str, bool]]) -> list[Finding]:
    """Return wires in wrong colours, or solid although unverified, or dashed although verified.

    `expected` maps a wire's name to its colour (as `RD/YE`) and whether it is verified.
    """
    findings = []
    for group in sheet.with_class("wire"):
        name = group.data.get("wire", "")
        lines = [s for s in sheet.shapes_in(group.index) if s.stroked and not s.closed]
        if name not in expected or not lines:
            continue
        colour, verified = expected[name]
        layers: dict[tuple[float, str], bool] = {}
        for line in lines:
            layers.setdefault((line.stroke_mm, line.stroke), line.dashed)
        widths = sorted(layers, key=lambda layer: -layer[0])
        outline, inner = widths[0], [layer for layer in widths[1:] if layer[0] > 0.2]
        painted = [nearest_code(rgb) for _, rgb in inner]
        if colour and not inner:
            findings.append(Finding(sheet.name, "wire without its colour", name, colour))
        elif colour and painted[: len(codes(colour))] != codes(colour):
            findings.append(
                Finding(
                    sheet.name, "wire in the wrong colour", name, colour, None, "/".join(painted)
                )
            )
        if layers[outline] == verified:
            what = "verified wire dashed" if verified else "unverified wire not dashed"
            findings.append(Finding(sheet.name, what, name))
    return findings
