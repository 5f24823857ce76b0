"""A report that comes after the clinic side has acted: what was done stands, and nothing new is forgotten."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

import pytest
from django.test import Client

from safety.emails.build import build_mail
from safety.errors import Conflict
from safety.models import Incident, Notice, Visit
from safety.notices.case.report import NEW_REPORT, REPORTS
from safety.selectors.case.needs import needs_of
from safety.services.case.closing import incident_close
from safety.services.case.visits import visit_record
from safety.services.notices.notices import origin_reconcile, still_true
from safety.services.notices.sending import send_due
from staff.models import AuditEntry, Hold, SiteRole
from tests.factories import Team, make_person
from tests.safety.phone.phones import Phone
from tests.safety.phone.test_messages import alarm

pytestmark = pytest.mark.django_db

LICK = [{"contact": "licked-intact-skin", "body_site": "hand", "broke_skin": "no", "bled": "no"}]
BOTH = {"liaison@example.org", "officer@example.org"}


def draft(phone: Phone, about: uuid.UUID) -> Incident:
    phone.report(about, late=1800, complete=False, kind="lick", wounds=LICK)
    return Incident.objects.get()


def close(team: Team, now: datetime, **said: bool) -> None:
    incident_close(
        actor=team.officer, incident=Incident.objects.get(), reason="Only a lick.", now=now, **said
    )


def told() -> set[str]:
    return {
        row.email for row in Notice.objects.filter(kind=NEW_REPORT.name) if row.state == Notice.State.WAITING
    }


def see(team: Team, now: datetime) -> None:
    incident = Incident.objects.get()
    visit_record(
        actor=team.liaison,
        incident=incident,
        clinic=team.clinic,
        visited_on=incident.site.local_date(now),
        decision="no-course",
        now=now,
    )


def test_a_case_whose_answers_are_not_all_in_is_not_offered_for_closing(
    team: Team, phone: Phone, now: datetime
) -> None:
    incident = draft(phone, uuid.uuid4())
    assert [step.code for step in needs_of(incident, now)] == ["details"]
    with pytest.raises(Conflict, match="ask the person") as refused:
        close(team, now)
    assert refused.value.code == "details-missing"
    assert Incident.objects.get().is_open


def test_the_officer_closes_it_by_saying_that_the_answers_will_not_come(
    team: Team, phone: Phone, now: datetime, client: Client
) -> None:
    incident = draft(phone, uuid.uuid4())
    client.force_login(team.officer)
    path = f"/cases/{incident.reference}/close/"
    refused = client.post(path, {"reason": "Only a lick."})
    assert refused.status_code == 409 and "without_details" in refused.content.decode()
    client.post(path, {"reason": "The phone lies in the river.", "without_details": "on"})
    assert not Incident.objects.get().is_open
    assert AuditEntry.objects.get(action="incident.closed").detail["complete"] is False


def test_whole_reports_are_closed_without_that_question(team: Team, phone: Phone, client: Client) -> None:
    phone.report(uuid.uuid4(), kind="near-miss", wounds=[])
    client.force_login(team.officer)
    path = f"/cases/{Incident.objects.get().reference}/close/"
    assert "without_details" not in client.get(path).content.decode()
    client.post(path, {"reason": "Nobody was touched."})
    assert not Incident.objects.get().is_open


def test_a_report_for_a_closed_case_opens_it_and_is_told(team: Team, phone: Phone, now: datetime) -> None:
    about = uuid.uuid4()
    draft(phone, about)
    close(team, now, without_details=True)
    assert told() == set() and not Hold.objects.exists()
    phone.report(about, late=3600)
    incident = Incident.objects.get()
    assert incident.is_open and incident.kind == "bite" and incident.close_reason == ""
    entry = AuditEntry.objects.get(action="incident.reopened")
    assert (entry.actor, entry.detail["closed_for"]) == (None, "Only a lick.")
    assert told() == BOTH and Hold.objects.get().released_at is None
    assert {"referral", "visit"} <= {step.code for step in needs_of(incident, now)}
    assert all(still_true(row, now) for row in Notice.objects.filter(kind=NEW_REPORT.name))


def test_it_is_told_again_to_those_who_were_told_of_the_alarm(
    team: Team, phone: Phone, now: datetime
) -> None:
    about = uuid.uuid4()
    phone.send("alarm", alarm(phone), about)
    first = list(Notice.objects.filter(kind=NEW_REPORT.name))
    assert {row.email for row in first} == BOTH
    Notice.objects.update(state=Notice.State.SENT, settled_at=now)
    draft(phone, about)
    close(team, now, without_details=True)
    phone.report(about, late=3600)
    assert told() == BOTH and Notice.objects.filter(kind=NEW_REPORT.name).count() == 4
    origin_reconcile(origin=REPORTS, now=now)
    assert Notice.objects.filter(kind=NEW_REPORT.name).count() == 4
    for row in Notice.objects.filter(kind=NEW_REPORT.name, state=Notice.State.WAITING):
        assert "bite" not in build_mail(row, phone.now.date()).as_string().lower()


def test_a_case_that_looked_harmless_in_between_is_told_when_it_is_not(
    team: Team, phone: Phone, now: datetime
) -> None:
    about = uuid.uuid4()
    phone.send("alarm", alarm(phone), about)
    draft(phone, about)
    send_due(clock=lambda: now)
    assert {row.state for row in Notice.objects.filter(kind=NEW_REPORT.name)} == {Notice.State.WITHDRAWN}
    phone.report(about, late=3600)
    assert told() == BOTH


def test_a_report_after_the_visit_places_no_new_hold(team: Team, phone: Phone, now: datetime) -> None:
    about = uuid.uuid4()
    phone.send("alarm", alarm(phone), about)
    see(team, now)
    phone.report(about)
    assert Incident.objects.get().kind == "bite"
    assert Hold.objects.get().released_at is not None
    incident = Incident.objects.get()
    assert "visit" not in {step.code for step in needs_of(incident, now)}


def test_a_visit_of_somebody_else_lets_nobody_go(team: Team, phone: Phone, now: datetime) -> None:
    """The clock was started under the wrong name and the visit recorded there: who was seen has to be asked."""
    about = uuid.uuid4()
    SiteRole.objects.create(user=team.member, site=team.site, role=SiteRole.Role.LEAD)
    phone.send("alarm", alarm(phone), about)
    see(team, now)
    other = make_person(team.site, team.officer, now, number="20")
    phone.report(about, person=other.pk)
    assert Incident.objects.get().person == other
    assert Hold.objects.get(person=other).released_at is None


def test_a_late_report_is_told_though_the_clinic_saw_the_person_before(
    team: Team, phone: Phone, now: datetime
) -> None:
    """What the clinic decided, it decided without this report."""
    about = uuid.uuid4()
    phone.send("alarm", alarm(phone), about)
    see(team, now - timedelta(minutes=1))
    close(team, now, without_details=True)
    phone.report(about, late=3600)
    incident = Incident.objects.get()
    assert incident.is_open and told() == BOTH and Visit.objects.count() == 1
    Visit.objects.update(recorded_at=now)
    assert not any(still_true(row, now) for row in Notice.objects.filter(state=Notice.State.WAITING))
