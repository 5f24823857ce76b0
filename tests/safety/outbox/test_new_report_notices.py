"""A new report that calls for a clinic is told at once: common practice, no source for the minute."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks

from safety.emails.build import build_mail
from safety.models import Decision, Incident, Notice
from safety.models.case.choices import Animal, ContactKind
from safety.notices.case.report import FRESH, NEW_REPORT, REPORTS
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_record
from safety.services.notices.notices import notices_reconcile, origin_reconcile, still_true
from staff.models import SiteRole
from tests.factories import Team, make_user

pytestmark = pytest.mark.django_db

BITTEN = WoundReport(contact=ContactKind.BITTEN, body_site="hand", broke_skin="yes", bled="yes")
GRAZED = WoundReport(contact=ContactKind.SCRATCHED, body_site="arm", broke_skin="no", bled="no")
LICKED = WoundReport(contact=ContactKind.LICKED_INTACT, body_site="hand", broke_skin="no", bled="no")
NEEDLE = WoundReport(contact=ContactKind.NEEDLESTICK, body_site="hand")


def reported(team: Team, now: datetime, kind: str, *wounds: WoundReport) -> Incident:
    report = IncidentReport(
        kind=kind,
        happened_at=now - timedelta(minutes=20),
        wounds=wounds,
        animal=Animal.DOG_ROAMING,
    )
    return incident_report(
        actor=team.member, person=team.person, key=uuid.uuid4(), report=report, now=now
    ).incident


def told() -> set[str]:
    return set(Notice.objects.filter(kind=NEW_REPORT.name).values_list("email", flat=True))


BOTH = {"liaison@example.org", "officer@example.org"}


@pytest.mark.parametrize(
    ("kind", "wounds", "readers"),
    [
        ("bite", [BITTEN], BOTH),
        ("scratch", [GRAZED], BOTH),  # Category II of the WHO table.
        ("lick", [LICKED], set()),  # Category I: no exposure.
        ("bite", [], BOTH),  # Nothing described: the worst is assumed.
        ("needlestick", [NEEDLE], BOTH),  # In no table: the clinician is asked, the same day.
        ("needlestick", [], BOTH),
        ("needlestick", [LICKED], BOTH),
        ("other", [LICKED, NEEDLE], BOTH),  # The harmless contact doesn't settle the other.
        ("near-miss", [], set()),
        ("road", [], set()),
    ],
)
def test_who_is_told_at_once(
    team: Team, now: datetime, kind: str, wounds: list[WoundReport], readers: set[str]
) -> None:
    reported(team, now, kind, *wounds)
    assert told() == readers
    assert not Notice.objects.filter(kind=NEW_REPORT.name, due_at__gt=now).exists()


def test_a_worker_is_rung_for_once_the_report_is_kept(
    team: Team,
    now: datetime,
    monkeypatch: pytest.MonkeyPatch,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    rung: list[str] = []
    monkeypatch.setattr("staff.bell._send", lambda task, _args: rung.append(task))
    with django_capture_on_commit_callbacks(execute=True):
        reported(team, now, "bite", BITTEN)
        assert rung == []
    assert rung == ["safety.tick"]


def test_the_sweep_adds_what_is_missing_and_never_doubles(team: Team, now: datetime) -> None:
    incident = reported(team, now, "lick", LICKED)
    notices_reconcile(now=now)
    assert told() == set()
    incident.wounds.update(broke_skin="yes")  # The answer that makes it category III came later.
    for _turn in range(2):
        notices_reconcile(now=now + timedelta(minutes=1))
    assert told() == BOTH and Notice.objects.filter(kind=NEW_REPORT.name).count() == 2
    late = make_user("second", team.site, SiteRole.Role.OFFICER)
    notices_reconcile(now=now + timedelta(minutes=2))
    assert told() == {*BOTH, late.email}


@pytest.mark.parametrize(("age", "made"), [(FRESH - timedelta(seconds=1), 2), (FRESH, 0)])
def test_the_sweep_looks_seven_days_back_and_no_further(
    team: Team, now: datetime, age: timedelta, made: int
) -> None:
    reported(team, now, "bite", BITTEN)
    Notice.objects.filter(kind=NEW_REPORT.name).delete()
    origin_reconcile(origin=REPORTS, now=now + age)
    assert Notice.objects.filter(kind=NEW_REPORT.name).count() == made


def test_a_report_that_came_late_is_swept_from_the_day_it_came(team: Team, now: datetime) -> None:
    incident = reported(team, now, "bite", BITTEN)
    later = now + 3 * FRESH
    Incident.objects.filter(pk=incident.pk).update(late_report_at=later)
    joined = make_user("second", team.site, SiteRole.Role.OFFICER)
    origin_reconcile(origin=REPORTS, now=later + timedelta(days=1))
    assert joined.email in told()


def test_whoever_was_seen_at_a_clinic_before_the_mail_left_needs_nobody_any_more(
    team: Team, now: datetime
) -> None:
    incident = reported(team, now, "bite", BITTEN)
    notice = Notice.objects.filter(kind=NEW_REPORT.name).first()
    assert notice is not None and still_true(notice, now)
    visit_record(
        actor=team.liaison,
        incident=incident,
        clinic=team.clinic,
        visited_on=team.site.local_date(now),
        decision=Decision.NO_COURSE,
        now=now,
    )
    assert not still_true(Notice.objects.get(pk=notice.pk), now)


def test_a_site_without_a_liaison_has_its_officer_told_once(team: Team, now: datetime) -> None:
    SiteRole.objects.filter(user=team.liaison).delete()
    reported(team, now, "bite", BITTEN)
    assert Notice.objects.filter(kind=NEW_REPORT.name).count() == 1 and told() == {"officer@example.org"}


def test_the_mail_names_the_reference_and_says_that_today_counts(team: Team, now: datetime) -> None:
    incident = reported(team, now, "bite", BITTEN)
    notice = Notice.objects.filter(kind=NEW_REPORT.name).first()
    assert notice is not None
    mail = build_mail(notice, team.site.local_date(now))
    assert str(mail["Subject"]).startswith(f"Needs you today {incident.reference}:")
