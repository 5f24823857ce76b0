"""The feed's address: made, shown once, renewed and ended by its holder; it opens without an account and to nothing else."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
import vobject
from django.test import Client
from django.utils import timezone

from safety.models import CalendarFeed
from safety.services.notices.feed import feed_end, feed_make
from staff.models import AuditEntry
from tests.factories import Team
from tests.safety.outbox.samples import make_course
from tests.safety.pages.scenes import signed_in_as

pytestmark = pytest.mark.django_db

CODE = re.compile(r"/calendar/([0-9A-Z]{8}-[0-9A-Z]{26})\.ics")


@pytest.fixture(autouse=True)
def _clock(now: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)


def get(code: str) -> int:
    return Client().get(f"/calendar/{code}.ics").status_code


def test_it_is_made_on_the_account_page_shown_once_and_fetched_without_signing_in(
    team: Team, now: datetime
) -> None:
    course = make_course(team, now)
    client = signed_in_as(team.member)
    assert "Make the address" in client.get("/account/").content.decode()
    made = client.post("/account/calendar/")
    assert made.status_code == 201
    found = CODE.search(made.content.decode())
    assert found
    assert "webcal://" in made.content.decode()
    answer = Client().get(f"/calendar/{found[1]}.ics")
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "no-store"
    assert answer["Referrer-Policy"] == "no-referrer"
    text = answer.content.decode()
    assert len(vobject.readOne(text).vevent_list) == 5
    assert course.incident.reference in text
    for word in (team.person.name, "Test Clinic", "Hillside", "hand", "brown"):
        assert word not in text
    account = client.get("/account/").content.decode()
    assert found[1] not in account
    assert "Last fetched" in account


def test_a_new_address_ends_the_old_one_and_an_ended_one_opens_nothing(team: Team, now: datetime) -> None:
    first = feed_make(user=team.member, now=now)
    second = feed_make(user=team.member, now=now)
    assert (first.renewed, second.renewed) == (False, True)
    assert (get(first.code), get(second.code)) == (404, 200)
    assert signed_in_as(team.member).post("/account/calendar/end/").status_code == 302
    assert get(second.code) == 404
    assert not feed_make(user=team.member, now=now).renewed


def test_one_ends_only_ones_own(team: Team, now: datetime) -> None:
    made = feed_make(user=team.member, now=now)
    feed_end(user=team.officer, now=now)
    assert get(made.code) == 200


def test_an_account_that_is_switched_off_has_no_feed(team: Team, now: datetime) -> None:
    made = feed_make(user=team.member, now=now)
    team.member.is_active = False
    team.member.save()
    assert get(made.code) == 404


def test_whatever_is_wrong_the_answer_is_the_same(team: Team, now: datetime) -> None:
    made = feed_make(user=team.member, now=now)
    wrong = made.code[:-1] + ("A" if made.code[-1] != "A" else "B")
    answers = {Client().get(f"/calendar/{code}.ics").content for code in (wrong, "2" * 34, "x", "a-b")}
    assert len(answers) == 1
    assert get(wrong) == 404


def test_five_wrong_tries_close_it_for_a_quarter_of_an_hour(
    team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = feed_make(user=team.member, now=now)
    wrong = made.code[:-1] + ("A" if made.code[-1] != "A" else "B")
    for _turn in range(5):
        get(wrong)
    assert get(made.code) == 404
    monkeypatch.setattr(timezone, "now", lambda: now + timedelta(minutes=15))
    assert get(made.code) == 200


def test_only_the_digest_is_kept_and_every_change_is_audited(team: Team, now: datetime) -> None:
    code = feed_make(user=team.member, now=now).code
    assert code.partition("-")[2] not in str(vars(CalendarFeed.objects.get()))
    feed_make(user=team.member, now=now)
    feed_end(user=team.member, now=now)
    feed_end(user=team.member, now=now)
    actions = AuditEntry.objects.filter(action__startswith="calendar-feed").order_by("pk")
    assert [row.action for row in actions] == [
        "calendar-feed.made",
        "calendar-feed.renewed",
        "calendar-feed.ended",
    ]


def test_nothing_is_written_by_it(team: Team, now: datetime) -> None:
    made = feed_make(user=team.member, now=now)
    assert Client().post(f"/calendar/{made.code}.ics").status_code == 405


def test_somebody_without_an_account_has_the_own_dates_by_an_address_the_officer_hands_over(
    team: Team, now: datetime
) -> None:
    team.person.user = None
    team.person.save()
    course = make_course(team, now)
    client = signed_in_as(team.officer)
    where = f"/people/{team.person.pk}/calendar/"
    assert "Make the address" in client.get(where).content.decode()
    made = client.post(where)
    assert made.status_code == 201 and "<svg" in made.content.decode()
    found = CODE.search(made.content.decode())
    assert found
    text = Client().get(f"/calendar/{found[1]}.ics").content.decode()
    assert len(vobject.readOne(text).vevent_list) == 5 and course.incident.reference in text
    assert team.person.name not in text
    assert "Last fetched" in client.get(where).content.decode()
    assert client.post(where, {"end": "1"}).status_code == 302
    assert get(found[1]) == 404
    entry = AuditEntry.objects.filter(action="calendar-feed.ended").get()
    assert entry.person == team.person and entry.actor == team.officer


def test_an_officers_own_feed_and_a_persons_are_two(team: Team, now: datetime) -> None:
    own = feed_make(user=team.officer, now=now)
    of_person = feed_make(user=team.officer, person=team.person, now=now)
    assert not of_person.renewed and get(own.code) == get(of_person.code) == 200
    feed_end(user=team.officer, person=team.person, now=now)
    assert (get(own.code), get(of_person.code)) == (200, 404)
