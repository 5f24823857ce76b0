"""A mail carries a reference, a date and a link to sign in: what OWASP ASVS 5.0 asks of sensitive data (V14)."""

from __future__ import annotations

import re
import uuid
from datetime import datetime, timedelta
from email.message import EmailMessage

import pytest

from safety import registry
from safety.emails.build import build_mail
from safety.models import Course, Notice
from safety.outbox.claims import claim_next
from safety.services.case.incident_facts import IncidentReport
from safety.services.case.typed_reports import incident_report
from safety.services.notices.notices import notices_reconcile
from safety.services.notices.undelivered import notice_fail
from safety.services.phone.receive import message_receive
from staff.models import PersonDue
from staff.services.campaign.campaigns import session_cancel
from staff.services.outing.roster import roster_assign
from staff.services.record.records import dose_record, dose_void
from tests.factories import Team, give_doses, make_outing, make_person
from tests.safety.outbox.samples import DAY, make_course, make_notice, make_session

pytestmark = pytest.mark.django_db

# Words of the trade that would tell a bystander what the mail is about.
HEALTH = [
    "rabies",
    "bite",
    "bitten",
    "dog",
    "animal",
    "wound",
    "vaccine",
    "vaccination",
    "vaccinated",
    "dose",
    "injection",
    "immunoglobulin",
    "exposure",
    "exposed",
    "clinic",
    "clinician",
    "treatment",
    "hospital",
    "health",
    "doctor",
    "category",
    "washing",
    "scratch",
    "saliva",
    "titre",
    "course",
]


def every_mail(team: Team, now: datetime) -> list[EmailMessage]:
    """One mail of every kind, of a record full of words that must not travel."""
    give_doses(team.person, team.officer, now, 40, 33)
    last = dose_record(
        actor=team.officer,
        person=team.person,
        given_on=team.site.local_date(now) - 2 * DAY,
        now=now,
        route="IM",
        product="Zymovax",
        batch="QX-77-11",
        place="Lakeside Infirmary",
    )
    colleague = make_person(team.site, team.officer, now, number="8", name="Lead Colleague")
    give_doses(colleague, team.officer, now, 40, 33, 12)
    outing, crew = make_outing(team.site, team.officer, now)
    for person, role in ((team.person, "catcher"), (colleague, "lead")):
        roster_assign(actor=team.officer, outing=outing, crew=crew, person=person, role=role, now=now)
    dose_void(actor=team.officer, dose=last, reason="entered for the wrong man", now=now)
    make_course(team, now)
    report = IncidentReport(kind="bite", happened_at=now)
    incident_report(actor=team.officer, person=team.person, key=uuid.uuid4(), report=report, now=now)
    message_receive(key=uuid.uuid4(), key_id="gone", sealed="unreadable", now=now)
    for person, due in ((team.person, now.date() + DAY), (colleague, now.date() - 9 * DAY)):
        PersonDue.objects.filter(person=person).delete()
        PersonDue.objects.bulk_create(
            PersonDue(person=person, kind=kind, due_on=due) for kind in PersonDue.Kind.values
        )
    # While a course runs the next dose before field work waits: somebody else's is due.
    other = make_person(team.site, team.officer, now, number="9", name="Other Colleague")
    PersonDue.objects.filter(person=other).delete()
    PersonDue.objects.create(person=other, kind="dose", due_on=now.date() + DAY)
    session = make_session(team, now, [team.person, colleague])
    for days in range(4):
        notices_reconcile(now=now + days * DAY)
    # Seven in the morning at the site: the hour of the summary.
    notices_reconcile(now=now + 2 * DAY - timedelta(hours=2))
    Notice.objects.filter(kind="invitation").update(state=Notice.State.SENT)
    session_cancel(actor=team.officer, session=session, reason="no vaccine came", now=now)
    notices_reconcile(now=now + 3 * DAY)
    Notice.objects.exclude(audience="member").update(next_try_at=now + 9 * DAY)
    failed = claim_next(now + 4 * DAY)
    assert failed is not None
    notice_fail(notice=failed, why="550 no such mailbox", now=now)
    _further_kinds(team, now)
    rows = Notice.objects.all()
    assert {row.kind for row in rows} == {kind.name for kind in registry.kinds()}
    return [build_mail(row, row.site.local_date(now + days * DAY)) for row in rows for days in (-30, 0, 1, 9)]


def _further_kinds(team: Team, now: datetime) -> None:
    """What a plan of its own, days of silence, a full hour and an outing bring: every kind that isn't there yet."""
    first = Notice.objects.filter(kind="day-of").earliest("pk")
    about = {"incident": first.incident, "path": first.path, "reference": first.reference}
    make_notice(team.site, now, now, kind="unanswered", audience="officer", about=first, **about)
    digest = make_notice(team.site, now, now, kind="digest", gathers=True, reference="G26030206", path="/")
    for kind in ("day-of", "visit-late", "dose-soon"):
        make_notice(team.site, now, now, kind=kind, state=Notice.State.GATHERED, digest=digest, **about)
    there = set(Notice.objects.values_list("kind", flat=True))
    for kind in (kind.name for kind in registry.kinds() if kind.name not in there):
        make_notice(team.site, now, now, kind=kind, known_on=now.date() - DAY, **about)


def readable(mail: EmailMessage) -> str:
    """Everything a bystander could read: every header but the addresses, both bodies, and a calendar entry."""
    headers = [str(value) for name, value in mail.items() if name not in ("To", "From", "Message-ID")]
    bodies = [str(part.get_content()) for part in mail.walk() if not part.is_multipart()]
    assert len(bodies) == (2 if mail.get_content_type() == "multipart/alternative" else 3)
    return "\n".join(headers + bodies)


def test_no_word_of_the_record_is_in_any_mail(team: Team, now: datetime) -> None:
    mails = every_mail(team, now)
    course = Course.objects.get()
    secrets = {
        team.person.name,
        "Lead Colleague",
        team.clinic.name,
        team.clinic.phone,
        "Zymovax",
        "QX-77-11",
        "Lakeside",
        "wrong man",
        "550 no such",
        "brown dog",
        course.regimen.name,
        course.regimen.code,
        "Dr Test",
    }
    for mail in mails:
        text = readable(mail)
        words = set(re.findall(r"[a-z]+", text.casefold()))
        assert not words & set(HEALTH), (words & set(HEALTH), text)
        found = {secret for secret in secrets if secret.casefold() in text.casefold()}
        assert not found, (found, text)
        assert set(re.findall(r"[a-z]+", team.person.name.casefold())).isdisjoint(words)


def test_every_mail_has_one_recipient_a_reference_and_a_link_and_asks_for_no_reply_loop(
    team: Team, now: datetime
) -> None:
    for mail in every_mail(team, now):
        row = Notice.objects.get(message_id=mail["Message-ID"])
        assert mail["To"] == row.email and len(mail["To"].addresses) == 1
        assert row.reference in mail["Subject"] and row.path in readable(mail)
        assert mail["Auto-Submitted"] == "auto-generated"  # RFC 3834, section 5
        assert mail["Date"].datetime is not None
