"""The typeface of the PDF: FiraGO, which writes Latin, Greek, Cyrillic, Arabic, Hebrew, Devanagari, Thai and more.

It comes in a package as bytes and the PDF library reads files, so it is written once into the data folder.
"""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

import pymupdf_fonts
from django.conf import settings
from fontTools.ttLib import TTFont

REGULAR, BOLD = "figo", "figbo"


def font_file(name: str) -> Path:
    """The file of one cut; raises OSError when the data folder can't be written."""
    path = settings.DATA_DIR / "fonts" / f"{name}.ttf"
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        # Renamed when whole: another process may be reading.
        part = path.with_suffix(f".{os.getpid()}")
        part.write_bytes(pymupdf_fonts.myfont(name))
        part.replace(path)
    return path


@cache
def _letters() -> frozenset[int]:
    with TTFont(font_file(REGULAR)) as font:
        return frozenset(font.getBestCmap())


def lacks_letters(text: str) -> bool:
    """Whether some letter of `text` can't be printed with this typeface."""
    return any(ord(letter) not in _letters() for letter in text if not letter.isspace())
