"""The file: one page whatever it holds, black on white, type that can be read, nobody's name in its properties."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from pypdf import PdfReader

from safety.letter.shape import FITS
from safety.models import Incident
from tests.factories import Team
from tests.safety.letter.scenes import crowded_case, plain_case, printed
from tests.safety.pages.scenes import real_now

pytestmark = pytest.mark.django_db


def opened(content: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(content))


def words(content: bytes) -> str:
    return re.sub(r"\s+", " ", opened(content).pages[0].extract_text())


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_a_plain_letter_is_one_page_of_a4_in_its_language(team: Team, language: str) -> None:
    content = printed(plain_case(team, real_now()), team, real_now(), language)
    reader = opened(content)
    assert len(reader.pages) == 1
    # ISO 216: 210 x 297 mm.
    size = [round(float(side) * 25.4 / 72) for side in reader.pages[0].mediabox[2:]]
    assert size == [210, 297]
    expected = {"en": "Immunisation record", "fr": "Dossier de vaccination", "es": "Registro de vacunación"}
    assert expected[language] in words(content)


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_a_long_name_a_long_history_and_a_long_story_still_are_one_page(team: Team, language: str) -> None:
    content = printed(crowded_case(team, real_now()), team, real_now(), language)
    text = words(content)
    assert len(opened(content).pages) == 1
    # What counts is written out before what doesn't; the rest is summed up by number.
    for step in ("1", "2", "3"):
        assert {
            "en": f"counts as dose {step}",
            "fr": f"compte comme dose {step}",
            "es": f"cuenta como dosis {step}",
        }[language] in text
    assert {"en": "further doses", "fr": "autres doses", "es": "dosis más"}[language] in text
    assert {"en": "Signature", "fr": "Signature", "es": "Firma"}[language] in text


def test_no_letter_is_set_smaller_than_8_points(team: Team) -> None:
    sizes: set[float] = set()

    def note(text: str, _cm: Any, _tm: Any, _font: Any, size: float) -> None:
        if text.strip():
            sizes.add(size)

    content = printed(crowded_case(team, real_now()), team, real_now())
    opened(content).pages[0].extract_text(visitor_text=note)
    assert sizes and min(sizes) >= 8
    assert min(fit.points for fit in FITS) == 8


def test_nothing_of_the_body_reaches_into_the_strip(team: Team) -> None:
    heights: dict[str, float] = {}

    def note(text: str, _cm: Any, tm: Any, _font: Any, _size: float) -> None:
        if text.strip():
            heights[text.strip()] = float(tm[5])

    content = printed(crowded_case(team, real_now()), team, real_now())
    opened(content).pages[0].extract_text(visitor_text=note)
    strip = next(height for text, height in heights.items() if text.startswith("Answer of the clinic"))
    body = [height for text, height in heights.items() if text.startswith(("IM", "days 0", "Listed by"))]
    assert body and min(body) > strip + 8


def test_it_is_black_on_white(team: Team) -> None:
    contents = opened(printed(plain_case(team, real_now()), team, real_now())).pages[0].get_contents()
    assert contents is not None
    stream = contents.get_data().decode("latin-1")
    assert not re.search(r"^[\d. ]+ (rg|RG|k|K|sc|SC|scn|SCN)\s*$", stream, re.M)
    assert set(re.findall(r"^([\d.]+) [gG]\s*$", stream, re.M)) <= {"0"}


def test_what_the_file_says_of_itself_is_its_reference_alone(team: Team) -> None:
    incident = plain_case(team, real_now())
    content = printed(incident, team, real_now())
    properties = {str(value) for value in (opened(content).metadata or {}).values()}
    assert incident.reference in properties
    assert not [value for value in properties if "Member" in value or "Hillside" in value]
    assert opened(content).xmp_metadata is None


@pytest.mark.parametrize(
    ("name", "printable"), [("तेस्त नाम", True), ("اختبار", True), ("Tëst Ñamé Łukš", True), ("試驗", False)]
)
def test_a_name_that_cant_be_printed_is_said_to_be_missing(team: Team, name: str, printable: bool) -> None:
    team.person.name = name
    team.person.save()
    incident = Incident.objects.get(pk=plain_case(team, real_now()).pk)
    text = words(printed(incident, team, real_now()))
    assert ("can't be printed in this file" not in text) is printable
