"""The file of a feed against its standards, by the bytes and by two parsers.

RFC 5545: 3.1 (CRLF, lines of 75 octets), 3.3.11 (escapes), 3.4 and 3.6 (what an object holds), 3.6.1 (what an event
holds), 3.7.3 and 3.7.4 (PRODID, VERSION), 3.8.1.3 (CLASS). RFC 7986: 5.1 (NAME), 5.3 (UID), 5.7 (REFRESH-INTERVAL).
"""

from __future__ import annotations

import re
import uuid
from datetime import UTC, date, datetime
from typing import Any

import pytest
import vobject
from django.utils import translation
from icalendar import Calendar

from safety.emails.feed import feed_text
from safety.models import FeedEntry
from tests.safety.outbox.test_mail_content import HEALTH

CHANGED = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)


def entry(**changed: Any) -> FeedEntry:
    said: dict[str, Any] = {
        "uid": uuid.uuid4(),
        "reference": "7KQ2MX",
        "path": "/cases/7KQ2MX/",
        "starts_on": date(2028, 2, 29),
        "changed_at": CHANGED,
    }
    return FeedEntry(**(said | changed))


AT_HALF_PAST_NINE = entry(starts_at=datetime(2028, 2, 29, 6, 30, tzinfo=UTC))
CANCELLED = entry(cancelled_at=CHANGED, sequence=3)
ALL = [entry(), AT_HALF_PAST_NINE, CANCELLED, entry(path="/outings/" + "9" * 100 + "/", reference="ä" * 20)]


def test_lines_end_in_crlf_and_hold_75_octets_at_most() -> None:
    text = feed_text(ALL, "en")
    assert text.endswith(b"\r\n")
    assert b"\n" not in text.replace(b"\r\n", b"")
    assert max(map(len, text.split(b"\r\n"))) <= 75
    assert any(line.startswith(b" ") for line in text.split(b"\r\n"))


def test_a_folded_line_never_splits_a_character() -> None:
    # Two octets a letter: a fold by octets alone would part one of them.
    path = "/cases/" + "é" * 90
    lines = feed_text([entry(path=path)], "en").split(b"\r\n")
    assert [line for line in lines if line.startswith(b" ")]
    assert path in "".join(line.decode().removeprefix(" ") for line in lines)


@pytest.mark.parametrize("entries", [[], ALL])
def test_the_calendar_says_what_it_is_and_holds_a_component(entries: list[FeedEntry]) -> None:
    calendar = Calendar.from_ical(feed_text(entries, "en"))
    assert (calendar["version"], calendar["prodid"]) == ("2.0", "-//Three-Fifteen//EN")
    assert calendar["name"] == "Dates"
    assert b"REFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n" in feed_text(entries, "en")
    assert calendar.subcomponents
    assert calendar.errors == []
    other = vobject.readOne(feed_text(entries, "en").decode())
    assert other.version.value == "2.0"
    assert len(other.contents.get("vevent", [])) == len(entries)


def test_every_event_has_what_the_standard_asks_for_and_is_private() -> None:
    for event in vobject.readOne(feed_text(ALL, "en").decode()).vevent_list:
        assert uuid.UUID(event.uid.value)
        assert event.dtstamp.value == CHANGED
        assert event.last_modified.value == CHANGED
        assert event.contents["class"][0].value == "PRIVATE"
        assert event.url.value.startswith("http")
        names = set(event.contents)
        assert not names & {"location", "description", "attendee", "organizer", "geo", "categories", "valarm"}


def test_a_date_is_a_date_a_time_is_utc_and_a_cancellation_says_so() -> None:
    day, hour, off = vobject.readOne(feed_text(ALL[:3], "en").decode()).vevent_list
    assert day.dtstart.value == date(2028, 2, 29)
    assert "dtend" not in day.contents
    assert hour.dtstart.value == datetime(2028, 2, 29, 6, 30, tzinfo=UTC)
    assert b"DTSTART:20280229T063000Z\r\n" in feed_text([AT_HALF_PAST_NINE], "en")
    assert (off.status.value, off.sequence.value) == ("CANCELLED", "3")


def test_text_is_escaped_and_comes_back_as_it_was() -> None:
    odd = "a,b;c\\d\ne"
    text = feed_text([entry(reference=odd)], "en")
    assert b"SUMMARY:Date a\\,b\\;c\\\\d\\ne" in text
    assert vobject.readOne(text.decode()).vevent.summary.value == f"Date {odd}"


def test_no_word_of_health_stands_in_it() -> None:
    words = set(re.findall(r"[a-z]+", feed_text(ALL, "en").decode().casefold()))
    assert not words & {*HEALTH, "observation", "session", "ill", "died", "sample"}


def test_the_words_are_in_the_readers_language(monkeypatch: pytest.MonkeyPatch) -> None:
    # No page language but English is shipped yet: what the reader's language is asked for is what is checked.
    asked: list[str] = []

    def override(language: str) -> translation.override:
        asked.append(language)
        return really(language)

    really = translation.override
    monkeypatch.setattr(translation, "override", override)
    feed_text([entry()], "fr")
    assert asked == ["fr"]
