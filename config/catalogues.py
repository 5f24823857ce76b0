"""Translations: the written catalogues (.po) compiled to what Django reads (.mo), without gettext's own tools.

Settings ask for it at every start; a digest of the written ones names the folder, so an old one is never read.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po


def compiled_catalogues(source: Path, target: Path) -> Path:
    """The folder of the compiled catalogues of `source`, made below `target` when it isn't there yet.

    Safe to be killed at any moment and to run in several processes at once. Raises OSError when `target` can't
    be written.
    """
    written = sorted(source.glob("*/LC_MESSAGES/django.po"))
    digest = hashlib.sha256(b"".join(path.read_bytes() for path in written)).hexdigest()[:16]
    folder = target / digest
    for path in written:
        made = (folder / path.relative_to(source)).with_suffix(".mo")
        if not made.exists():
            _compile(path, made)
    return folder


def _compile(path: Path, made: Path) -> None:
    made.parent.mkdir(parents=True, exist_ok=True)
    part = made.with_suffix(f".{os.getpid()}")
    with path.open("rb") as text, part.open("wb") as binary:
        write_mo(binary, read_po(text, locale=path.parent.parent.name, abort_invalid=True))
    part.replace(made)
