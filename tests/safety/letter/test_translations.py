"""No word of a letter stays untranslated, and every translation keeps its places for facts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import cycle, islice
from pathlib import Path
from typing import Any

import pytest
from babel.messages.extract import extract_from_file
from babel.messages.pofile import read_po
from django.conf import settings
from django.utils import translation
from django.utils.translation import override, trans_real

from safety.letter.words import NOTHING_LISTED, STATUS_WORDS, URGENCY_REASONS
from safety.models import Incident, Wound
from safety.models.case.choices import Animal, AnimalSign, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.rules.case.category import CategoryReason, Suggestion
from safety.words import category_reasons
from staff.models import Purpose
from staff.rules.record.dose_standing import DoseJudgement
from staff.rules.record.series import DoseReason
from staff.words import dose_words
from tests.factories import Team
from tests.safety.letter.scenes import plain_case, printed, written
from tests.safety.pages.scenes import real_now

ROOT = Path(__file__).resolve().parents[3]
TRANSLATED = [code for code in settings.LETTER_LANGUAGES if code != "en"]
KEYWORDS = {"_": None, "gettext": None, "gettext_lazy": None, "ngettext": (1, 2)}
PLACES = re.compile(r"%\((\w+)\)(?:\d*d|s)")


def messages_in(*paths: Path) -> Iterator[str | tuple[str, ...]]:
    for path in paths:
        for _line, message, _comments, _context in extract_from_file("python", str(path), keywords=KEYWORDS):
            yield message


def catalogue(language: str) -> Any:
    path = ROOT / "config" / "locale" / language / "LC_MESSAGES" / "django.po"
    with path.open("rb") as file:
        return read_po(file, locale=language, abort_invalid=True)


@pytest.mark.parametrize("language", TRANSLATED)
def test_every_message_in_the_letters_own_files_is_translated(language: str) -> None:
    known = catalogue(language)
    files = [*(ROOT / "safety" / "letter").glob("*.py"), ROOT / "safety" / "models" / "case" / "choices.py"]
    wanted = set(messages_in(*files))
    assert len(wanted) > 100
    missing = [
        message
        for message in wanted
        if (found := known.get(message if isinstance(message, str) else message[0])) is None
        or not all([found.string] if isinstance(found.string, str) else found.string)
        or found.fuzzy
    ]
    assert not missing


@pytest.mark.parametrize("language", TRANSLATED)
def test_a_translation_keeps_every_place_for_a_fact(language: str) -> None:
    wrong = []
    for message in catalogue(language):
        if not message.id:
            continue
        ids = [message.id] if isinstance(message.id, str) else list(message.id)
        strings = [message.string] if isinstance(message.string, str) else list(message.string)
        wanted = set(PLACES.findall(ids[-1]))
        wrong += [string for string in strings if set(PLACES.findall(string)) != wanted]
    assert not wrong


def _answer_everything(incident: Incident) -> Iterator[Incident]:
    """The case again and again until every choice of every question has been its answer."""
    lists = (Kind, Animal, Task, Answer, BodySite, ContactKind)
    rounds = max(len(one.values) for one in lists)
    turns = [list(islice(cycle(one.values), rounds)) for one in lists]
    for kind, animal, task, answer, where, contact in zip(*turns, strict=True):
        Wound.objects.filter(incident=incident).update(
            contact=contact, body_site=where, broke_skin=answer, bled=answer, deep=answer
        )
        Incident.objects.filter(pk=incident.pk).update(
            kind=kind,
            animal=animal,
            task=task,
            antiseptic=answer,
            others_hurt=answer,
            causes=Cause.values,
            details_at=None,
            animal_facts={"signs": AnimalSign.values, "collar": answer},
        )
        yield Incident.objects.get(pk=incident.pk)


@pytest.mark.django_db
@pytest.mark.parametrize("language", TRANSLATED)
def test_whatever_a_letter_asks_a_word_for_has_one(
    team: Team, monkeypatch: pytest.MonkeyPatch, language: str
) -> None:
    plain = plain_case(team, real_now())
    asked: set[str] = set()
    for name in ("gettext", "ngettext"):
        real = getattr(trans_real, name)

        def note(*message: Any, real: Any = real) -> str:
            asked.add(message[0])
            return str(real(*message))

        monkeypatch.setattr(translation._trans, name, note, raising=False)
    for incident in _answer_everything(plain):
        written(incident, team, real_now(), language)
    with override(language):
        for words in (URGENCY_REASONS, STATUS_WORDS, NOTHING_LISTED):
            assert all(str(word) for word in words.values())
        category_reasons(Suggestion(None, tuple(CategoryReason)))
        for reason in DoseReason:
            dose_words(DoseJudgement(1, counts=False, step=None, regimen=None, reason=reason, days=1))
        assert [str(label) for label in Purpose.labels]
    known = trans_real.translation(language)._catalog
    missing = {message for message in asked if message not in known and (message, 0) not in known}
    assert len(asked) > 120 and not missing


@pytest.mark.django_db
@pytest.mark.parametrize("language", TRANSLATED)
def test_the_pages_stay_english_while_a_letter_is_not(team: Team, language: str) -> None:
    before = translation.get_language()
    assert printed(plain_case(team, real_now()), team, real_now(), language).startswith(b"%PDF")
    assert translation.get_language() == before
