"""Invitations to sessions as calendar entries: RFC 5545 (UID, DTSTAMP, SEQUENCE), RFC 5546 (REQUEST, CANCEL),
RFC 7986 (a UID that identifies nobody), RFC 6047 (the method in the mail's part too)."""

from __future__ import annotations

import re
import uuid
from datetime import UTC, datetime, time, timedelta
from email import message_from_bytes
from email.policy import default
from typing import Any

import pytest
from icalendar import Calendar

from safety.emails.build import build_mail
from safety.models import Notice, NoticeEvent
from safety.notices.session.invitation import INVITATIONS
from safety.outbox.states import State
from safety.services.notices.notices import notices_reconcile, origin_reconcile, still_true
from staff.models import Session, SessionPlace
from staff.services.campaign.campaigns import session_cancel
from tests.factories import Team, make_person
from tests.safety.outbox.samples import DAY, make_session
from tests.safety.outbox.test_mail_content import HEALTH

pytestmark = pytest.mark.django_db


@pytest.fixture
def session(team: Team, now: datetime) -> Session:
    """A session in five days at 9:30 in Nairobi, at which the member and another person are expected."""
    return make_session(team, now, [team.person, make_person(team.site, team.officer, now, number="8")])


def mine(team: Team) -> list[Notice]:
    return list(Notice.objects.filter(person=team.person, session__isnull=False).order_by("pk"))


def sent(team: Team) -> None:
    Notice.objects.filter(session__isnull=False, state=State.WAITING).update(state=State.SENT)


def entry(notice: Notice) -> tuple[Any, Any]:
    """The calendar and its one event, as a reader's program takes them from the mail as it travels."""
    mail = message_from_bytes(build_mail(notice, notice.send_on).as_bytes(), policy=default)
    (part,) = [part for part in mail.walk() if part.get_content_type() == "text/calendar"]
    assert part["Content-Type"].params["method"] == ("CANCEL" if "off" in notice.kind else "REQUEST")
    calendar = Calendar.from_ical(part.get_content())
    (event,) = calendar.walk("VEVENT")
    return calendar, event


def test_everybody_expected_is_invited_once_and_at_once(team: Team, session: Session, now: datetime) -> None:
    notices_reconcile(now=now)
    rows = Notice.objects.filter(session=session)
    assert {(row.kind, row.email, row.state) for row in rows} == {
        ("invitation", "p7@example.org", "waiting"),
        ("invitation", "p8@example.org", "waiting"),
    }
    assert all(row.due_at <= now and still_true(row, now) for row in rows)
    before = list(Notice.objects.values_list("pk", "state"))
    notices_reconcile(now=now)
    assert list(Notice.objects.values_list("pk", "state")) == before and not NoticeEvent.objects.exists()


def test_the_entry_is_a_private_request_at_the_sites_hour(
    team: Team, session: Session, now: datetime
) -> None:
    origin_reconcile(origin=INVITATIONS, now=now)
    calendar, event = entry(mine(team)[0])
    assert (calendar["METHOD"], calendar["VERSION"]) == ("REQUEST", "2.0") and calendar["PRODID"]
    # Nairobi keeps UTC+3 all year (IANA time zone database).
    assert event.decoded("DTSTART") == datetime(2026, 3, 7, 6, 30, tzinfo=UTC)
    assert event.decoded("DTEND") - event.decoded("DTSTART") == timedelta(hours=1)
    assert event.decoded("DTSTAMP") == now and event["SEQUENCE"] == 0
    assert (event["CLASS"], event["STATUS"]) == ("PRIVATE", "CONFIRMED")
    assert event["ATTENDEE"] == "mailto:p7@example.org" and event["ORGANIZER"].startswith("mailto:")
    assert uuid.UUID(str(event["UID"]))
    assert "LOCATION" not in event


def test_neither_mail_nor_entry_says_what_it_is_about(team: Team, session: Session, now: datetime) -> None:
    origin_reconcile(origin=INVITATIONS, now=now)
    sent(team)
    session_cancel(actor=team.officer, session=session, reason="storm", now=now)
    origin_reconcile(origin=INVITATIONS, now=now)
    assert {row.kind for row in mine(team)} == {"invitation", "invitation-off"}
    for row in mine(team):
        mail = build_mail(row, row.send_on)
        text = "\n".join(
            [mail["Subject"], *(str(part.get_content()) for part in mail.walk() if not part.is_multipart())]
        )
        words = set(re.findall(r"[a-z]+", text.casefold()))
        assert not words & {*HEALTH, "session", "campaign", "lakeside", "infirmary", "rains", "storm"}
        assert team.person.name.casefold() not in text.casefold() and row.path in text


def test_a_session_called_off_takes_its_entry_back_with_the_same_uid_and_a_higher_sequence(
    team: Team, session: Session, now: datetime
) -> None:
    origin_reconcile(origin=INVITATIONS, now=now)
    sent(team)
    session_cancel(actor=team.officer, session=session, reason="storm", now=now)
    origin_reconcile(origin=INVITATIONS, now=now)
    origin_reconcile(origin=INVITATIONS, now=now)
    invited, off = mine(team)
    (_first, event), (calendar, gone) = entry(invited), entry(off)
    assert gone["UID"] == event["UID"] and gone["SEQUENCE"] > event["SEQUENCE"]
    assert (calendar["METHOD"], gone["STATUS"]) == ("CANCEL", "CANCELLED")
    assert still_true(off, now) and not still_true(invited, now)


def test_an_invitation_that_has_not_left_is_withdrawn_and_nothing_is_called_off(
    team: Team, session: Session, now: datetime
) -> None:
    origin_reconcile(origin=INVITATIONS, now=now)
    session_cancel(actor=team.officer, session=session, reason="storm", now=now)
    origin_reconcile(origin=INVITATIONS, now=now)
    assert [(row.kind, row.state) for row in mine(team)] == [("invitation", "withdrawn")]


def test_who_is_taken_out_and_put_back_gets_a_rising_sequence(
    team: Team, session: Session, now: datetime
) -> None:
    place = SessionPlace.objects.get(session=session, person=team.person)
    for outcome in ("expected", "moved", "expected"):
        SessionPlace.objects.filter(pk=place.pk).update(outcome=outcome)
        origin_reconcile(origin=INVITATIONS, now=now)
        sent(team)
    rows = mine(team)
    assert [(row.kind, row.sequence) for row in rows] == [
        ("invitation", 0),
        ("invitation-off", 1),
        ("invitation", 2),
    ]
    assert len({str(entry(row)[1]["UID"]) for row in rows}) == 1
    assert Notice.objects.filter(person__number="8", session=session).count() == 1


def test_put_back_before_anything_left_is_invited_all_the_same(
    team: Team, session: Session, now: datetime
) -> None:
    place = SessionPlace.objects.get(session=session, person=team.person)
    for outcome in ("expected", "moved", "expected"):
        SessionPlace.objects.filter(pk=place.pk).update(outcome=outcome)
        origin_reconcile(origin=INVITATIONS, now=now)
    assert [row.state for row in mine(team)] == ["withdrawn", "waiting"]


def test_another_hour_is_a_new_entry_that_replaces_the_old(
    team: Team, session: Session, now: datetime
) -> None:
    origin_reconcile(origin=INVITATIONS, now=now)
    sent(team)
    Session.objects.filter(pk=session.pk).update(opens_at=time(14))
    origin_reconcile(origin=INVITATIONS, now=now)
    first, second = mine(team)
    assert entry(second)[1]["UID"] == entry(first)[1]["UID"] and second.sequence == 1
    assert entry(second)[1].decoded("DTSTART").hour == 11


def test_a_session_that_was_held_calls_nothing_off(team: Team, session: Session, now: datetime) -> None:
    origin_reconcile(origin=INVITATIONS, now=now)
    sent(team)
    SessionPlace.objects.filter(session=session).update(outcome="absent")
    Session.objects.filter(pk=session.pk).update(state="held")
    origin_reconcile(origin=INVITATIONS, now=now + 5 * DAY)
    assert len(mine(team)) == 1


def test_two_people_of_a_session_have_entries_of_their_own(
    team: Team, session: Session, now: datetime
) -> None:
    origin_reconcile(origin=INVITATIONS, now=now)
    assert len({str(entry(row)[1]["UID"]) for row in Notice.objects.filter(session=session)}) == 2
