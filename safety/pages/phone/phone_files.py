"""The files of the phone's page: what the worker keeps, under which version, and what they weigh over the wire."""

from __future__ import annotations

import gzip
import hashlib
import json
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import get_language

from safety.pages.phone.phone_choices import phone_choices
from safety.pages.phone.phone_words import phone_words

FOLDER = "phone"
# The worker and what takes its place are asked for by the browser itself, never kept.
WORKER, WORKER_OFF = "worker.js", "worker_off.js"
TYPES = {".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8"}


@dataclass(frozen=True)
class Shell:
    """One version of the page. It changes when a file, a word or the page's own markup changes."""

    version: str
    names: tuple[str, ...]
    # Compressed, as the browser fetches them for the first visit.
    bytes: int

    def address(self, name: str) -> str:
        return reverse("phone-file", args=[self.version, name])

    def for_worker(self) -> str:
        """The first lines of the worker."""
        said = {
            "version": self.version,
            "page": reverse("phone"),
            "files": self.address("_").removesuffix("_"),
            "addresses": [reverse("phone"), *(self.address(name) for name in self.names)],
            "bytes": self.bytes,
        }
        return f"const SHELL = {json.dumps(said)};\n"


def phone_file(name: str) -> bytes | None:
    """The content of one of the page's files, or None when there is no such file."""
    return _files().get(name)


@cache
def _files() -> dict[str, bytes]:
    folder = finders.find(FOLDER)
    if not isinstance(folder, str):
        raise FileNotFoundError(f"the folder {FOLDER} of the static files is missing")
    return {
        path.name: _without_comments(path) for path in sorted(Path(folder).iterdir()) if path.suffix in TYPES
    }


def _without_comments(path: Path) -> bytes:
    """Comments are for who reads the source: over a bad line they cost a tenth of the visit. Line numbers stay."""
    text = path.read_bytes()
    return re.sub(rb"(?m)^[ \t]*//.*$", b"", text) if path.suffix == ".js" else text


def shell() -> Shell:
    return _shell(get_language() or "")


@cache
def _shell(language: str) -> Shell:
    """`language` is the one that is active: the words are part of the version."""
    kept = {name: text for name, text in _files().items() if name not in {WORKER, WORKER_OFF}}
    words = json.dumps([language, phone_words(), phone_choices()])
    page = render_to_string("safety/phone.html", {"words": words}).encode()
    digest = hashlib.sha256()
    for name, text in [*kept.items(), ("", page)]:
        digest.update(f"{name} {len(text)} ".encode() + text)
    weight = sum(len(gzip.compress(text)) for text in [*kept.values(), page, words.encode()])
    return Shell(digest.hexdigest()[:16], tuple(kept), weight)
