"""The files behind the record: looked at by their content, kept outside the web root under a random name."""

from __future__ import annotations

import io
import os
import uuid

from django.conf import settings
from django.utils.translation import gettext as _
from PIL import Image
from pypdf import PdfReader
from pypdf.errors import PyPdfError

from staff.ground.errors import Invalid
from staff.selectors.record.documents import path_of

PDF = "application/pdf"
# What Pillow calls the picture, and the type it is served under.
PICTURES = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
ENDINGS = {PDF: "pdf", "image/jpeg": "jpg", "image/png": "png", "image/webp": "webp"}
# A phone's picture has some 12 to 50 million pixels; far beyond that it is made to exhaust the memory.
MOST_PIXELS = 60_000_000

# What pypdf raises on a broken file: its own errors, those of the standard library, and for a lock it doesn't know.
_BROKEN = (
    PyPdfError, ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError, OSError,
    OverflowError, NotImplementedError,
)  # fmt: skip


def content_type_of(content: bytes) -> str:
    """What `content` really is, whatever its name says; raises `Invalid` for anything but a PDF or a picture."""
    if not content:
        raise Invalid({"content": _("The file is empty; choose another one.")})
    if len(content) > settings.CERTIFICATE_MAX_BYTES:
        most = settings.CERTIFICATE_MAX_BYTES // (1024 * 1024)
        raise Invalid({"content": _("The file is over %(most)d MB; send a smaller one.") % {"most": most}})
    found = _as_pdf(content) if content.startswith(b"%PDF-") else _as_picture(content)
    if found is None:
        raise Invalid({"content": _("This is no readable PDF or picture (JPEG, PNG, WebP).")})
    return found


def _as_pdf(content: bytes) -> str | None:
    try:
        reader = PdfReader(io.BytesIO(content))
        readable = reader.is_encrypted or len(reader.pages) > 0
    except _BROKEN:
        return None
    if readable and reader.is_encrypted:
        raise Invalid({"content": _("This PDF is locked with a password; send it without one.")})
    return PDF if readable else None


def _as_picture(content: bytes) -> str | None:
    try:
        with Image.open(io.BytesIO(content), formats=list(PICTURES)) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise Invalid({"content": _("The picture has too many pixels; send a smaller one.")})
            kind = picture.format
            picture.verify()
        # `verify` reads the frame of the file alone; a picture cut short shows only when it is decoded.
        with Image.open(io.BytesIO(content), formats=list(PICTURES)) as picture:
            picture.load()
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        return None
    return PICTURES[kind] if kind else None


def file_keep(key: uuid.UUID, content: bytes) -> None:
    """Write the file whole, readable by the service's own account alone, and only if the name is free."""
    path = path_of(key)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def file_drop(key: uuid.UUID) -> None:
    """Take away the file of a document whose row was not kept."""
    path_of(key).unlink(missing_ok=True)
