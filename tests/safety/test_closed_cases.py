"""A case that was closed while a step waited on somebody's screen takes that step no more."""

from __future__ import annotations

import pytest
from django.utils import timezone

from safety.errors import Conflict
from safety.models import Course, Incident, Referral, Visit
from safety.services.case.referrals import referral_make
from safety.services.case.visits import visit_decide, visit_record
from safety.services.course.course import course_start
from safety.services.course.course_doses import course_dose_record
from safety.services.course.dose_voids import course_dose_void
from staff.models import Dose
from tests.factories import Team
from tests.safety.pages.scenes import make_case, see_clinic, start_course

pytestmark = pytest.mark.django_db
STEPS = ["referral", "visit", "decision", "course"]


@pytest.mark.parametrize("step", STEPS)
def test_the_row_decides_whether_the_case_is_open_not_what_was_read_before(team: Team, step: str) -> None:
    incident, now = make_case(team), timezone.now()
    see_clinic(team, incident, "pending" if step == "decision" else "course")
    visit = incident.visits.get()
    today = incident.site.local_date(now)
    Incident.objects.filter(pk=incident.pk).update(
        closed_at=now, closed_by=team.officer, close_reason="closed meanwhile"
    )
    assert incident.is_open
    with pytest.raises(Conflict, match="closed"):
        if step == "referral":
            referral_make(actor=team.officer, incident=incident, clinic=team.clinic, now=now)
        elif step == "visit":
            visit_record(
                actor=team.liaison,
                incident=incident,
                clinic=team.clinic,
                visited_on=today,
                decision="no-course",
                now=now,
            )
        elif step == "decision":
            visit_decide(actor=team.liaison, visit=visit, decision="course", now=now)
        else:
            course_start(
                actor=team.liaison,
                incident=incident,
                regimen=team.post_exposure,
                starts_on=today,
                now=now,
            )
    visit.refresh_from_db()
    assert not Referral.objects.exists() and not Course.objects.exists() and Visit.objects.count() == 1
    assert visit.decision == ("pending" if step == "decision" else "course")


def test_a_dose_of_a_closed_case_is_voided_only_once_it_is_open_again(team: Team) -> None:
    """Nobody would be told what the course then lacks."""
    incident, now = make_case(team), timezone.now()
    course = start_course(team, incident)
    course_dose_record(actor=team.liaison, course=course, given_on=course.starts_on, now=now)
    Incident.objects.filter(pk=incident.pk).update(closed_at=now, closed_by=team.officer, close_reason="over")
    dose = Dose.objects.get(course_key=course.key)
    with pytest.raises(Conflict, match="closed"):
        course_dose_void(actor=team.liaison, course=course, dose=dose, reason="another person's", now=now)
    assert Dose.objects.filter(pk=dose.pk).exists()
