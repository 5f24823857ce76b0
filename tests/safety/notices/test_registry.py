"""Every kind of notice has all its parts, and a program in which one lacks a part doesn't start."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from safety import registry
from safety.models import Notice
from safety.notices.outing.roster_change import WITHDRAWALS
from safety.registry import EMAILS, MAIL_FILES, Counted, NoticeKind, Origin
from safety.rules.notices.follow_up import DEFAULT_PLAN
from safety.rules.notices.references import Letter
from tests.test_architecture import ROOT

KINDS = registry.kinds()
PARTS: dict[str, Any] = {
    "name": "sample",
    "word": _("a sample"),
    "template": "dose",
    "origin": WITHDRAWALS,
    "asks": None,
    "may_share": False,
    "counted_as": Counted.ALONE,
}


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_kind_has_all_its_parts(kind: NoticeKind) -> None:
    assert all((EMAILS / kind.template / name).is_file() for name in MAIL_FILES)
    assert isinstance(kind.word, Promise) and str(kind.word)
    assert len(kind.name) <= Notice._meta.get_field("kind").max_length
    assert all(callable(part) for part in (kind.origin.subjects, kind.origin.subject_of, kind.origin.wanted))


def test_every_stage_of_the_plan_is_a_kind() -> None:
    assert {row.stage for row in DEFAULT_PLAN} <= {kind.name for kind in KINDS}


@pytest.mark.parametrize("part", [name for name in PARTS if name != "name"])
def test_a_kind_without_a_part_is_named_with_what_it_lacks(part: str) -> None:
    with pytest.raises(ImproperlyConfigured, match=f"kind “sample” lacks {part}"):
        NoticeKind(**{name: value for name, value in PARTS.items() if name != part})


def test_a_kind_whose_mail_has_no_files_or_whose_word_is_bare_is_named() -> None:
    with pytest.raises(ImproperlyConfigured, match=r"“sample” has no subject.txt, body.txt, body.html"):
        NoticeKind(**PARTS | {"template": "nowhere"})
    with pytest.raises(ImproperlyConfigured, match="word of the notice kind “sample” can't be translated"):
        NoticeKind(**PARTS | {"word": "a sample"})


@pytest.mark.parametrize(
    "part", [field.name for field in fields(Origin) if field.name not in ("name", "differences", "foreseen")]
)
def test_an_origin_without_a_part_is_named(part: str) -> None:
    parts: dict[str, Any] = {field.name: getattr(WITHDRAWALS, field.name) for field in fields(Origin)}
    with pytest.raises(ImproperlyConfigured, match=f"lacks {part}"):
        Origin(**{name: value for name, value in parts.items() if name != part})


def test_a_kind_that_stands_twice_is_refused() -> None:
    with pytest.raises(ImproperlyConfigured, match="stands twice"):
        registry.fill("safety.notices")


@pytest.mark.parametrize(
    "entry", ["config.wsgi", "config.celery; config.celery.app.loader.import_default_modules()"]
)
def test_web_worker_and_beat_do_not_start_with_a_kind_that_lacks_a_part(entry: str, tmp_path: Path) -> None:
    """Started for real, with the folder of mails gone."""
    script = (
        f"import pathlib, safety.registry; safety.registry.EMAILS = pathlib.Path('/nowhere');import {entry}"
    )
    environment = {"DATA_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings", "PATH": ""}
    ran = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, env=environment, capture_output=True, text=True, check=False
    )
    assert ran.returncode != 0 and "The notice kind “" in ran.stderr and "has no subject.txt" in ran.stderr


def test_one_letter_has_one_meaning() -> None:
    assert len({str(letter) for letter in Letter}) == len(Letter.__members__)
