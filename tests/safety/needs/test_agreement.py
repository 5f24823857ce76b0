"""Steps, notices, desk, banner, closing and API agree on what a case needs, through every history.

60 histories here; `python -m tests.faults.needs_agree --histories 2000` is the long form.
"""

from __future__ import annotations

import os
from datetime import datetime, timedelta
from random import Random
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone

from safety.errors import Conflict
from safety.models import Clinic, PlannedDose, Visit
from safety.rules.case.needs import Incomplete, NeedCode, need_every
from safety.services.case.closing import incident_close
from safety.services.case.visit_voids import visit_void
from safety.services.case.visits import visit_record
from safety.words import dose_state
from staff.models import Hold, SiteRole
from tests.factories import Team, approve, make_person
from tests.safety.needs.histories import DAY, REGIMENS, Life, begin, live
from tests.safety.needs.readers import Disagree, Undone, look, needs, page

pytestmark = pytest.mark.django_db
HISTORIES = int(os.environ.get("NEEDS_HISTORIES", "60"))
FIRST = int(os.environ.get("NEEDS_FIRST", "0"))
SEED = int(os.environ.get("NEEDS_SEED", "1"))


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    """Histories move it; it is put back after each test."""
    monkeypatch.setattr(timezone, "now", lambda: now)


@pytest.fixture
def team(team: Team) -> Team:
    approve(team.site, team.officer, REGIMENS[0])
    return team


def test_every_reader_agrees_at_every_instant_of_random_histories(team: Team, now: datetime) -> None:
    for number in range(FIRST, FIRST + HISTORIES):
        try:
            with transaction.atomic():
                life = begin(team, Random(f"{SEED}-{number}"), now)
                live(life, look)
                page(life)
                raise Undone
        except Undone:
            continue


@pytest.fixture
def late_report(team: Team, now: datetime) -> Life:
    """A lick by its draft, seen and closed as such; its report comes a day later and says a bite."""
    life = begin(team, Random(7), now)
    life.do("harmless draft")
    life.go_on(timedelta(hours=1))
    _see(life)
    life.do("close without details")
    life.go_on(DAY)
    life.do("report")
    return life


def _see(life: Life, days_ago: int = 0) -> None:
    visit_record(
        actor=life.team.liaison,
        incident=life.incident,
        clinic=life.team.clinic,
        visited_on=life.today - days_ago * DAY,
        decision="no-course",
        now=life.now,
    )


def codes(life: Life) -> list[str]:
    return [str(need.code) for need in needs(life)]


def test_a_late_report_after_a_visit_asks_for_a_visit_everywhere(late_report: Life) -> None:
    """The defect this was built for: told daily to three roles, while its page said that nothing is open."""
    life = late_report
    assert life.incident.is_open and Visit.objects.count() == 1
    (visit,) = (need for need in needs(life) if need.code is NeedCode.VISIT)
    # It happened a day ago: due then, and late now.
    assert visit.late and visit.due_on == life.today - DAY and "after the visit on record" in visit.words
    assert visit.row.bars == "visit-missing" and "referral" in codes(life)
    assert Hold.objects.filter(released_at=None).exists()
    with pytest.raises(Conflict) as refused:
        incident_close(actor=life.team.officer, incident=life.incident, reason="Only a lick.", now=life.now)
    assert refused.value.code == "visit-missing"
    look(life)
    page(life)


def test_only_a_visit_of_the_late_reports_day_or_later_answers_it(late_report: Life) -> None:
    life = late_report
    life.go_on(DAY)
    Visit.objects.all().update(clinic=Clinic.objects.create(site=life.team.site, name="Other", phone="000 2"))
    _see(life, days_ago=2)
    assert "visit" in codes(life) and Hold.objects.filter(released_at=None).exists()
    look(life)
    _see(life)
    assert "visit" not in codes(life) and not Hold.objects.filter(released_at=None).exists()
    look(life)
    visit_void(actor=life.team.liaison, visit=Visit.objects.latest("pk"), reason="of another", now=life.now)
    assert "visit" in codes(life) and Hold.objects.filter(released_at=None).exists()
    look(life)


def test_a_case_moved_to_another_person_asks_anew_whether_a_clinic_saw_this_one(
    team: Team, now: datetime
) -> None:
    """The clock was begun under the wrong name and the visit recorded there; the report says who it really was."""
    life = begin(team, Random(7), now)
    SiteRole.objects.create(user=team.member, site=team.site, role=SiteRole.Role.LEAD)
    life.do("draft")
    life.go_on(timedelta(hours=1))
    _see(life)
    assert "visit" not in codes(life)
    life.go_on(timedelta(hours=1))
    other = make_person(team.site, team.officer, life.now, number="20")
    assert life.phone is not None
    life.phone.now = life.now
    life.phone.report(life.about, late=0, person=other.pk, happened_at=now.isoformat())
    assert life.incident.person == other and life.incident.moved_at == life.now
    (visit,) = (need for need in needs(life) if need.code is NeedCode.VISIT)
    assert (
        visit.row.bars == "visit-missing" and "another person's" in visit.words and "referral" in codes(life)
    )
    assert Hold.objects.filter(person=other, released_at=None).exists()
    with pytest.raises(Conflict):
        incident_close(actor=team.officer, incident=life.incident, reason="Seen.", now=life.now)
    look(life)
    life.go_on(timedelta(hours=1))
    visit_void(actor=team.liaison, visit=Visit.objects.get(), reason="of the first person", now=life.now)
    _see(life)
    assert "visit" not in codes(life) and not Hold.objects.filter(person=other, released_at=None).exists()
    look(life)


@pytest.fixture
def in_window(team: Team, now: datetime) -> Life:
    """The WHO four-dose course, three doses given; the fourth is due on day 14, at the latest on day 28."""
    life = begin(team, Random(7), now)
    life.do("report")
    life.random = Always()
    life.do("visit and course")
    for days in (0, 3, 4):
        life.go_on(days * DAY)
        life.do("dose")
    return life


class Always(Random):
    """Chooses the first."""

    def choice(self, seq: Any) -> Any:
        return seq[0]


@pytest.mark.parametrize(
    ("days", "word", "late"),
    [
        (6, "to come", False),
        (7, "due today", False),
        (8, "in its window", False),
        (21, "in its window", False),
        (22, "overdue", True),
        (23, "overdue", True),
    ],
)
def test_a_dose_is_overdue_only_after_its_window(in_window: Life, days: int, word: str, late: bool) -> None:
    """Days 14 to 28: WHO position paper 2018 (secondary copy), the four-dose course. Days here from dose three on."""
    life = in_window
    life.go_on(days * DAY)
    (dose,) = (need for need in needs(life) if need.code is NeedCode.DOSE)
    assert (dose.number, dose.late) == (4, late)
    planned = PlannedDose.objects.get(number=4)
    assert word in dose_state(planned, life.today).word
    assert ("in its window, due since" in dose.words) is (word == "in its window")
    look(life)
    page(life)


BROKEN = {
    "the desk": ("safety.selectors.case.desk.needs_of", lambda _incident, _now: ()),
    "the banner's cases": ("safety.selectors.course.follow_up.cases_wanting_visit", lambda _sites: []),
    "the banner's doses": (
        "safety.selectors.course.follow_up.doses_due",
        lambda _sites: PlannedDose.objects.none(),
    ),
    "the API": ("safety.api.case.case_read.needs_of", lambda _incident, _now: ()),
    "the case page": ("safety.pages.case.case.needs_of", lambda _incident, _now: ()),
    "closing": ("safety.services.case.closing.needs_of", lambda _incident, _now: ()),
    "the hold": ("safety.services.case.exposure_hold.clinic_has_seen", lambda _incident: True),
    "the notices of a case": ("safety.notices.case.matter.matters_of", lambda _incident: []),
    "the notice of a report": ("safety.notices.case.report.waits_for_visit", lambda _incident: False),
    "the notices of a dose": ("safety.notices.course.dose.wanted_notices", lambda **_plan: ()),
    "the status": ("safety.selectors.upkeep.status.cases_wanting_visit", lambda _sites: []),
    "the summary": ("safety.selectors.notices.summary.cases_wanting_visit", lambda _sites: []),
}


@pytest.mark.parametrize("reader", BROKEN)
def test_a_reader_that_goes_its_own_way_is_found(
    team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch, reader: str
) -> None:
    where, broken = BROKEN[reader]
    monkeypatch.setattr(where, broken)
    with pytest.raises(Disagree):
        for course in (False, True):
            life = lived(team, now, course=course)
            look(life)
            page(life)


def lived(team: Team, now: datetime, *, course: bool) -> Life:
    """Somebody nobody has seen, eight days after the bite; or with a course whose first dose is long overdue."""
    life = begin(team, Always(7), now)
    life.do("report")
    if course:
        life.do("visit and course")
    life.go_on(8 * DAY if course else DAY)
    return life


@pytest.mark.parametrize("table", ["NEEDS", "WORDS", "PAGES"])
def test_a_table_without_one_of_the_needs_says_so_when_it_is_read(table: str) -> None:
    rows = dict.fromkeys(NeedCode, object())
    del rows[NeedCode.TITRE]
    with pytest.raises(Incomplete, match=f"{table} has no row for: titre"):
        need_every(rows, table)
