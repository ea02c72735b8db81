"""Which files of a folder build on one another."""

from __future__ import annotations

import re
from pathlib import Path

_HEAD = re.compile(r'(?:variant|plan)\s+"(?:[^"\\]|\\.)*"\s+of\s+"((?:[^"\\]|\\.)+)"')


def base_of(path: Path) -> Path | None:
    """Return the file that an overlay builds on; None for a file that is no overlay."""
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError):
        return None
    first = next((line.strip() for line in lines if line.strip()
                  and not line.lstrip().startswith("#")), "")
    match = _HEAD.match(first)
    return path.parent / match[1] if match else None


def built_on(path: Path) -> list[Path]:
    """Return the overlays in the folder of a file that build on it, directly or on one another."""
    found: list[Path] = []
    queue = [path]
    siblings = sorted(path.parent.glob("*.harness"))
    for base in queue:
        for sibling in siblings:
            named = base_of(sibling)
            if named is not None and named.resolve() == base.resolve() and (
                    sibling not in found and sibling.resolve() != path.resolve()):
                found.append(sibling)
                queue.append(sibling)
    return found
