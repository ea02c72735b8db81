"""Finds the grammar, the layouts and the standard kinds, in a checkout or in a wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def data_folder(name: str) -> Path:
    """Return the folder `grammar`, `layouts` or `kinds` as shipped with this installation."""
    if name == "kinds":
        return _PACKAGE / "kinds"
    packed = _PACKAGE / "_data" / name
    return packed if packed.is_dir() else _PACKAGE.parent / name
