"""Writes files whole or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path


def replace_file(path: Path, data: bytes) -> None:
    """Write a file so that at every moment either the old one or the new one is there, whole, even
    when the machine loses its power: to a file beside it, onto the disk, then renamed.

    A link stays a link, and the file keeps who may read it. Missing folders are made.

    Raises:
        OSError: it cannot be written.
    """
    path = path.resolve()
    if path.is_dir():
        raise IsADirectoryError(21, "it is a folder", str(path))
    path.parent.mkdir(parents=True, exist_ok=True)
    # one name for all times: a write that was cut off leaves at most one file behind
    part = path.with_name(f".{path.name}.part")
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
    try:
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, mode)
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(part, path)
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    with contextlib.suppress(OSError):  # not every file system knows folders on disk
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
