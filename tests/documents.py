"""Small real documents, made when they are needed."""

from __future__ import annotations

import hashlib
import io

from PIL import Image
from pypdf import PdfWriter


def picture(text: str = "", kind: str = "PNG") -> bytes:
    """A picture whose bytes depend on `text`."""
    digest = hashlib.sha256(text.encode()).digest()
    image = Image.new("RGB", (16, 16), tuple(digest[:3]))
    kept = io.BytesIO()
    image.save(kept, kind)
    return kept.getvalue()


def pdf(password: str = "", pages: int = 1) -> bytes:
    writer = PdfWriter()
    for _page in range(pages):
        writer.add_blank_page(200, 200)
    if password:
        writer.encrypt(password, algorithm="RC4-128")
    kept = io.BytesIO()
    writer.write(kept)
    return kept.getvalue()
