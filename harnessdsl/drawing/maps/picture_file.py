"""Reads just enough of a PNG or JPEG file: its size in pixels, whether it is whole, and a copy
without the remarks that cameras put in.

A photo from a phone says where it was taken. A drawing that is handed on must not say where the
garage is, so the copy that is embedded carries the picture and nothing else.

Formats: PNG, ISO/IEC 15948; JPEG, ITU-T T.81 with the orientation tag of Exif 2.3 (both from
memory).
"""

from __future__ import annotations

import re
import struct
import zlib
from dataclasses import dataclass

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
MAX_PIXELS = 120_000_000
"""More than any camera that a hobbyist carries; a greater figure is a broken or hostile file."""


class NotAPicture(ValueError):
    """The data is no picture that can be shown; the message says what it is instead."""


class DamagedPicture(ValueError):
    """The data begins as a picture but is not whole; the message says where it breaks."""


@dataclass(frozen=True, slots=True)
class PictureData:
    """A whole picture: size as seen (turned upright), media type, bytes without remarks."""

    width_px: int
    height_px: int
    media_type: str
    data: bytes


_OTHER_FORMATS: tuple[tuple[int, bytes, str], ...] = (
    (0, b"GIF8", "a GIF picture"),
    (8, b"WEBP", "a WebP picture"),
    (4, b"ftypavif", "an AVIF picture"),
    (4, b"ftyphei", "a HEIC picture, as some phones take them"),
    (4, b"ftypmif1", "a HEIC picture, as some phones take them"),
    (4, b"ftyp", "a film"),
    (0, b"BM", "a BMP picture"),
    (0, b"II*\x00", "a TIFF or raw picture"),
    (0, b"MM\x00*", "a TIFF or raw picture"),
    (0, b"%PDF", "a PDF document"),
    (0, b"PK\x03\x04", "a ZIP archive or office document"),
    (0, b"<svg", "an SVG drawing"),
    (0, b"<?xml", "an XML or SVG file"),
    (0, b"<!DOCTYPE", "a web page"),
    (0, b"<html", "a web page"),
)


def read_picture(data: bytes) -> PictureData:
    """Return a picture's size and its bytes without remarks.

    Raises NotAPicture for anything but PNG and JPEG, DamagedPicture for one that is cut short or
    has wrong check sums.
    """
    if data.startswith(PNG_SIGNATURE):
        return _read_png(data)
    if data.startswith(b"\xff\xd8"):
        return _read_jpeg(data)
    if not data:
        raise NotAPicture("the file is empty")
    for offset, magic, name in _OTHER_FORMATS:
        if data[offset : offset + len(magic)] == magic:
            raise NotAPicture(f"it is {name}")
    raise NotAPicture("it is neither a PNG nor a JPEG picture")


def _size(width: int, height: int) -> None:
    if width <= 0 or height <= 0:
        raise DamagedPicture("it says that it is no pixel wide or high")
    if width * height > MAX_PIXELS:
        raise DamagedPicture(f"it says that it is {width} by {height} pixels")


_PNG_KEPT = frozenset(
    {b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT"}
)


def _read_png(data: bytes) -> PictureData:
    position = len(PNG_SIGNATURE)
    kept = [PNG_SIGNATURE]
    width = height = 0
    pixels = False
    while position + 12 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, position)
        end = position + 12 + length
        if end > len(data):
            break
        chunk = data[position:end]
        if zlib.crc32(chunk[4:-4]) != struct.unpack_from(">I", chunk, len(chunk) - 4)[0]:
            raise DamagedPicture(f"its check sum is wrong at byte {position}")
        if kind == b"IHDR" and length == 13:
            width, height = struct.unpack_from(">II", chunk, 8)
            _size(width, height)
        elif not width:
            raise DamagedPicture("it has no header")
        pixels = pixels or kind == b"IDAT"
        if kind in _PNG_KEPT:
            kept.append(chunk)
        if kind == b"IEND":
            if not pixels:
                raise DamagedPicture("it holds no pixels")
            return PictureData(width, height, "image/png", b"".join(kept))
        position = end
    raise DamagedPicture(f"it is cut short after {len(data)} bytes")


_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_KEPT_APPLICATION = (0xE0, 0xE2, 0xEE)
"""JFIF, colour profile, colour transform; all other application segments are remarks."""


def _read_jpeg(data: bytes) -> PictureData:
    position, scan_seen = 2, False
    width = height = 0
    orientation = 1
    kept = [b"\xff\xd8"]
    while True:
        while data[position : position + 2] == b"\xff\xff":
            position += 1  # fill bytes
        if position + 2 > len(data):
            raise DamagedPicture(f"it is cut short after {len(data)} bytes")
        if data[position] != 0xFF:
            raise DamagedPicture(f"it is broken at byte {position}")
        marker = data[position + 1]
        if marker == 0xD9:
            break
        if position + 4 > len(data):
            raise DamagedPicture(f"it is cut short after {len(data)} bytes")
        length = struct.unpack_from(">H", data, position + 2)[0]
        end = position + 2 + length
        if length < 2 or end > len(data):
            raise DamagedPicture(f"it is cut short after {len(data)} bytes")
        segment = data[position:end]
        if marker in _FRAMES and length >= 8:
            height, width = struct.unpack_from(">HH", segment, 5)
            _size(width, height)
        elif marker == 0xE1:
            orientation = _exif_orientation(segment[4:]) or orientation
        if marker == 0xDA:  # the pixels follow, up to the next real marker
            found = _MARKER.search(data, end)
            if found is None:
                raise DamagedPicture(f"it is cut short after {len(data)} bytes")
            kept.append(data[position : found.start()])
            position, scan_seen = found.start(), True
            continue
        if marker < 0xE0 or marker in _KEPT_APPLICATION:
            kept.append(segment)
        position = end
    if not scan_seen or not width:
        raise DamagedPicture("it holds no pixels")
    kept.append(b"\xff\xd9")
    if orientation != 1:
        kept.insert(1, _orientation_segment(orientation))
    if orientation >= 5:  # lies on its side: viewers turn it upright
        width, height = height, width
    return PictureData(width, height, "image/jpeg", b"".join(kept))


def _exif_orientation(segment: bytes) -> int | None:
    """Return Exif tag 0x0112 (1 to 8), or None when there is none."""
    if not segment.startswith(b"Exif\x00\x00"):
        return None
    tiff = segment[6:]
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None or len(tiff) < 8:
        return None
    start = struct.unpack_from(f"{order}I", tiff, 4)[0]
    if start + 2 > len(tiff):
        return None
    for index in range(struct.unpack_from(f"{order}H", tiff, start)[0]):
        entry = start + 2 + 12 * index
        if entry + 12 > len(tiff):
            return None
        tag, kind, _, value = struct.unpack_from(f"{order}HHIH", tiff, entry)
        if tag == 0x0112 and kind == 3 and 1 <= value <= 8:
            return int(value)
    return None


def _orientation_segment(orientation: int) -> bytes:
    tiff = b"MM\x00*" + struct.pack(">IHHHIHHI", 8, 1, 0x0112, 3, 1, orientation, 0, 0)
    body = b"Exif\x00\x00" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body
