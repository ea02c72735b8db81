"""Finds the layout that a vehicle's `body` names: a shipped one, or the user's own beside the file.

A layout drawn with the wheel on one side serves both markets: `estate-lhd` and `estate-rhd` come
from one file, the one as drawn, the other mirrored.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from harnessdsl.diagnostics import Diagnostic, Severity, did_you_mean, sorted_unique
from harnessdsl.language.loader import read_source
from harnessdsl.language.parser import parse_text
from harnessdsl.model.layout import Drive, Layout
from harnessdsl.model.layout_builder import build_layout
from harnessdsl.resources import data_folder
from harnessdsl.text import NOWHERE, SourceFile, Span

SUFFIX = ".layout"
_DRIVES = {"-lhd": Drive.LEFT, "-rhd": Drive.RIGHT}


@dataclass(slots=True)
class LayoutResult:
    """A layout, or None when it can't be drawn; every message; the files that they are about."""

    layout: Layout | None = None
    diagnostics: list[Diagnostic] = field(default_factory=list)
    sources: dict[str, SourceFile] = field(default_factory=dict)


def read_layout(path: Path, shown: str = "", span: Span = NOWHERE) -> LayoutResult:
    """Return the layout in a file as drawn there; `shown` is the path for messages."""
    shown = shown or str(path)
    source = read_source(path, shown, span)
    if isinstance(source, Diagnostic):
        return LayoutResult(None, [source])
    facts, diagnostics = parse_text(source)
    layout, messages = build_layout(facts, str(path))
    return LayoutResult(layout, sorted_unique([*diagnostics, *messages]), {shown: source})


@lru_cache(maxsize=1)
def shipped_bodies() -> tuple[str, ...]:
    """Return the file names, without suffix, of the layouts of this installation."""
    return tuple(sorted(path.stem for path in data_folder("layouts").glob(f"*{SUFFIX}")))


def layout_names() -> list[str]:
    """Return every name that `body` may have without a file of one's own.

    A body whose driver sits in the middle is listed once; with `-lhd` or `-rhd` it is the same.
    """
    names: list[str] = []
    for body in shipped_bodies():
        layout = _shipped(body).layout
        if layout is not None and layout.drive is Drive.CENTRE:
            names.append(body)
        else:
            names += [body + suffix for suffix in _DRIVES]
    return names


@lru_cache(maxsize=32)
def _shipped(body: str) -> LayoutResult:
    return read_layout(data_folder("layouts") / f"{body}{SUFFIX}", f"layouts/{body}{SUFFIX}")


def load_layout(body: str, folder: Path, span: Span = NOWHERE) -> LayoutResult:
    """Return the layout that `body` names, for a vehicle whose file is in `folder`.

    `body` is a name such as `estate-lhd`, or the path of a `.layout` file in that folder. A file
    of that name in the folder goes before a shipped one. Mistakes come back as diagnostics at
    `span`, the place where the body is named, or in the layout file itself.
    """
    if not body:
        return LayoutResult(None, [Diagnostic(
            Severity.ERROR, "no-body", "the vehicle does not say what body it has", span,
            f"add a line such as 'body estate-lhd'; there are: {', '.join(layout_names())}")])
    stem, drive = body.removesuffix(SUFFIX), None
    own = folder / f"{stem}{SUFFIX}"
    if not _inside(own, folder, body):
        return LayoutResult(None, [Diagnostic(
            Severity.ERROR, "layout-outside-folder",
            f"'{body}' lies outside the folder of the file that uses it", span,
            "copy the layout beside the vehicle's file and use that")])
    if not own.is_file():
        for suffix, side in _DRIVES.items():
            if stem.endswith(suffix):
                stem, drive = stem.removesuffix(suffix), side
                own = folder / f"{stem}{SUFFIX}"
    if own.is_file():
        result = read_layout(own, _shown(own, span), span)
    elif stem in shipped_bodies() and not body.endswith(SUFFIX):
        result = _shipped(stem)
    else:
        return LayoutResult(None, [Diagnostic(
            Severity.ERROR, "unknown-body", f"there is no layout '{body}'", span,
            did_you_mean(body, layout_names(),
                         f"there are: {', '.join(layout_names())}; or draw your own in "
                         f"'{stem}{SUFFIX}' beside the vehicle's file"))])
    layout = result.layout
    if layout is not None and drive is not None and drive is layout.drive.other \
            and layout.drive is not Drive.CENTRE:
        return LayoutResult(layout.mirror(), result.diagnostics, result.sources)
    return result


def _inside(path: Path, folder: Path, written: str) -> bool:
    if os.path.isabs(written):
        return False
    return path.resolve().is_relative_to(folder.resolve())


def _shown(path: Path, span: Span) -> str:
    """Show a path as the vehicle's file would: beside that file's own path."""
    folder = os.path.dirname(span.path)
    return os.path.join(folder, path.name) if span.path else str(path)
