"""Catalogues are compiled where the data are, once for each wording."""

from __future__ import annotations

import gettext
from pathlib import Path

import pytest

from config.catalogues import compiled_catalogues

WRITTEN = 'msgid ""\nmsgstr "Content-Type: text/plain; charset=UTF-8\\n"\n\nmsgid "yes"\nmsgstr "{word}"\n'


def write(source: Path, word: str) -> None:
    path = source / "fr" / "LC_MESSAGES" / "django.po"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(WRITTEN.format(word=word))


def read(folder: Path) -> str:
    return gettext.translation("django", folder, languages=["fr"]).gettext("yes")


def test_a_changed_wording_is_compiled_anew_and_an_unchanged_one_left_alone(tmp_path: Path) -> None:
    source, target = tmp_path / "source", tmp_path / "target"
    write(source, "oui")
    first = compiled_catalogues(source, target)
    made = first / "fr" / "LC_MESSAGES" / "django.mo"
    stamp = made.stat().st_mtime_ns
    assert read(first) == "oui" and compiled_catalogues(source, target) == first
    assert made.stat().st_mtime_ns == stamp
    write(source, "certes")
    assert read(compiled_catalogues(source, target)) == "certes"


def test_a_catalogue_that_is_broken_is_refused_and_leaves_nothing_half_written(tmp_path: Path) -> None:
    path = tmp_path / "source" / "fr" / "LC_MESSAGES" / "django.po"
    write(tmp_path / "source", "oui")
    path.write_text(path.read_text() + 'msgstr "nobody asked"\nmsgid\n')
    with pytest.raises(Exception, match=r".+"):
        compiled_catalogues(tmp_path / "source", tmp_path / "target")
    assert not list((tmp_path / "target").rglob("*.mo"))
