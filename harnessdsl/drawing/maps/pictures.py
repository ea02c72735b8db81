"""Photos named in a vehicle's files: found, checked, and embedded or linked as asked."""

from __future__ import annotations

import base64
import os
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

from harnessdsl.diagnostics import Diagnostic, Severity, nearest
from harnessdsl.drawing.maps.picture_file import DamagedPicture, NotAPicture, read_picture
from harnessdsl.text import Span

MAX_EMBEDDED_BYTES = 8_000_000
MAX_LINKED_BYTES = 64_000_000


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that can be put on a page: size as seen in pixels, and its reference."""

    width_px: int
    height_px: int
    href: str


@dataclass(slots=True)
class Pictures:
    """Reads photos and remembers what was wrong with them.

    With `embed`, a picture becomes part of the drawing, without what the camera wrote into it
    (place, time, owner). Without it the drawing links to the file, so `output_folder` must say
    where the drawing will lie. A file must lie in the folder of the file that names it.
    """

    embed: bool = True
    output_folder: Path | None = None
    max_bytes: int | None = None
    """The largest file taken, in bytes; by default 8 MB embedded, 64 MB linked."""
    diagnostics: list[Diagnostic] = field(default_factory=list)
    _known: dict[str, Picture | None] = field(default_factory=dict)

    def read(self, path: str, named_in: str, span: Span) -> Picture | None:
        """Return the picture at `path`, which the file `named_in` names at `span`; None, with one
        message added to `diagnostics`, when it can't be shown."""
        folder = Path(named_in).parent if named_in else Path()
        key = str(folder / path)
        if key not in self._known:
            result = self._read(path, folder, span)
            if isinstance(result, Diagnostic):
                self.diagnostics.append(result)
                self._known[key] = None
            else:
                self._known[key] = result
        return self._known[key]

    def _read(self, path: str, folder: Path, span: Span) -> Picture | Diagnostic:
        def problem(code: str, message: str, hint: str) -> Diagnostic:
            return Diagnostic(Severity.WARNING, code, message, span, hint)

        try:
            file = (folder / path).resolve()
            if os.path.isabs(path) or "\\" in path or not file.is_relative_to(folder.resolve()):
                return problem("photo-outside-folder",
                               f"the photo '{path}' lies outside the folder of the file that "
                               "names it", "copy it beside that file and write a path such as "
                               '"photos/dash-box.jpg"')
            if not file.is_file():
                if file.is_dir():
                    return problem("photo-missing", f"'{path}' is a folder, not a photo",
                                   "name the photo in it")
                siblings = sorted(entry.name for entry in file.parent.iterdir()
                                  ) if file.parent.is_dir() else []
                near = nearest(file.name, siblings)
                return problem("photo-missing", f"there is no photo '{path}'",
                               f"did you mean '{near}'?" if near
                               else "check the name; the path begins beside this file")
            limit = self.max_bytes or (MAX_EMBEDDED_BYTES if self.embed else MAX_LINKED_BYTES)
            size = file.stat().st_size
            if size > limit:
                advice = "make it smaller: 2000 pixels across are plenty"
                return problem("photo-too-large",
                               f"the photo '{path}' has {size / 1e6:.1f} MB, more than "
                               f"{limit / 1e6:g} MB",
                               f"{advice}, or link it instead of embedding it"
                               if self.embed else advice)
            found = read_picture(file.read_bytes())
        except NotAPicture as error:
            return problem("photo-not-picture", f"the photo '{path}' can't be shown: {error}",
                           "save it as JPEG or PNG")
        except DamagedPicture as error:
            return problem("photo-damaged", f"the photo '{path}' is damaged: {error}",
                           "copy it from the camera again")
        except (OSError, ValueError) as error:
            reason = error.strerror if isinstance(error, OSError) else "its name can't be used"
            return problem("photo-missing", f"the photo '{path}' can't be read: {reason}",
                           "check the name and who may read it")
        if self.embed:
            text = base64.b64encode(found.data).decode("ascii")
            return Picture(found.width_px, found.height_px,
                           f"data:{found.media_type};base64,{text}")
        try:
            relative = os.path.relpath(file, (self.output_folder or Path()).resolve())
        except ValueError:
            return problem("photo-outside-folder",
                           f"the photo '{path}' can't be linked from another drive",
                           "embed it, or write the drawing on the same drive")
        return Picture(found.width_px, found.height_px, quote(relative.replace(os.sep, "/")))
