"""Write harnessdsl/drawing/text_widths.py: the widest advance of each character over some fonts.

Run by hand when the fonts of the style sheet change; the product never measures fonts itself.

    python bench/make_text_widths.py FONT_FOLDER > harnessdsl/drawing/text_widths.py
"""

from __future__ import annotations

import sys
from pathlib import Path

from PIL import ImageFont

REGULAR = (
    "DejaVuSans.ttf",
    "DejaVuSans-Oblique.ttf",
    "LiberationSans-Regular.ttf",
    "LiberationSans-Italic.ttf",
)
BOLD = ("DejaVuSans-Bold.ttf", "LiberationSans-Bold.ttf")
EM = 2000
RANGES = (
    (0x20, 0x7E),
    (0xA1, 0x24F),
    (0x370, 0x3FF),
    (0x400, 0x45F),
    (0x2010, 0x2027),
    (0x2030, 0x203A),
    (0x20AC, 0x20AC),
    (0x2103, 0x2103),
    (0x2116, 0x2122),
    (0x2126, 0x2126),
    (0x215B, 0x215E),
    (0x2190, 0x21FF),
    (0x2200, 0x22FF),
    (0x2300, 0x2300),
    (0x25A0, 0x25FF),
    (0x2605, 0x2606),
    (0x26A0, 0x26A1),
    (0x2713, 0x2718),
)


def find(folder: Path, name: str) -> Path | None:
    return next(iter(sorted(folder.rglob(name))), None)


def table(folder: Path, names: tuple[str, ...]) -> dict[int, str]:
    fonts = []
    for name in names:
        path = find(folder, name)
        if path is not None:
            fonts.append(ImageFont.truetype(str(path), EM, layout_engine=ImageFont.Layout.BASIC))
    if not fonts:
        raise SystemExit(f"none of {', '.join(names)} under {folder}")
    missing = [font.getlength("\uffff") for font in fonts]
    widths: dict[int, str] = {}
    for first, last in RANGES:
        for code in range(first, last + 1):
            character = chr(code)
            if not character.isprintable():
                continue
            found = [font.getlength(character) for font in fonts]
            real = [w for w, box in zip(found, missing, strict=True) if w != box or code < 0x7F]
            if real:
                # whole percents of an em, rounded up: a text is never wider than we say
                width = -int(-max(real) * 100 // EM)
                widths[width] = widths.get(width, "") + character
    return dict(sorted(widths.items()))


def main() -> None:
    folder = Path(sys.argv[1])
    print('"""Widths of characters in hundredths of the font size: the widest of DejaVu Sans and')
    print("Liberation Sans, upright and slanted. Made by bench/make_text_widths.py.")
    print('"""\n\nfrom __future__ import annotations\n')
    for name, fonts in (("REGULAR", REGULAR), ("BOLD", BOLD)):
        print(f"{name}: dict[int, str] = {{")
        for width, characters in table(folder, fonts).items():
            print(f"    {width}: (")
            for at in range(0, len(characters), 60):
                print(f"        {characters[at : at + 60]!r}")
            print("    ),")
        print("}")
        print()


if __name__ == "__main__":
    main()
