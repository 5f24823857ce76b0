"""The clinician's decision: visits voided, immunoglobulin as the clinic recorded it, regimens for whom the table has them."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest

from safety.errors import Conflict, Invalid, NotAllowed
from safety.models import Immunoglobulin, Incident, Notice, Referral, Visit
from safety.selectors.case.case_facts import immunoglobulin_too_late
from safety.selectors.case.cases import incidents_listed_for
from safety.selectors.case.needs import needs_of
from safety.selectors.course.follow_up import needs_now
from safety.services.case.answers import Strip, answer_record
from safety.services.case.immunoglobulin import Gift, immunoglobulin_settle
from safety.services.case.referrals import referral_make, referral_void
from safety.services.case.visit_voids import visit_void
from safety.services.case.visits import visit_decide
from safety.services.course.course import course_start
from safety.services.course.course_ending import course_end
from staff.models import AuditEntry, Hold, Regimen
from staff.services.record.records import dose_record
from tests.factories import Team, also_member, give_doses
from tests.safety.clinic_scenes import begun, bite, give, seen

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def codes(team: Team, incident: Incident, now: datetime) -> list[str]:
    return [step.code for step in needs_of(incidents_listed_for(team.liaison).get(pk=incident.pk), now)]


def open_holds(incident: Incident) -> int:
    return Hold.objects.filter(source=f"incident:{incident.key}", released_at__isnull=True).count()


def test_voiding_the_only_visit_puts_hold_steps_and_notices_back(team: Team, now: datetime) -> None:
    incident = bite(team, now)
    visit = seen(team, incident, now, decision="no-course")
    assert open_holds(incident) == 0 and needs_now(team.liaison, now).unseen == 0
    visit_void(actor=team.liaison, visit=visit, reason="another person's", now=now)
    assert open_holds(incident) == 1 and needs_now(team.liaison, now).unseen == 1
    assert "visit" in codes(team, incident, now)
    assert Notice.objects.filter(incident=incident, kind="new-report", state="waiting").exists()
    hold = Hold.objects.get(source=f"incident:{incident.key}", released_at__isnull=True)
    assert hold.starts_on == team.site.local_date(now)
    voided = Visit.everything.get()
    assert (voided.voided_by, voided.void_reason) == (team.liaison, "another person's")
    entry = AuditEntry.objects.get(action="visit.voided")
    assert entry.detail["reason"] == "another person's" and not Visit.objects.exists()


def test_a_voided_visit_leaves_its_day_free_for_the_right_one(team: Team, now: datetime) -> None:
    incident = bite(team, now)
    visit_void(actor=team.liaison, visit=seen(team, incident, now), reason="typed wrong", now=now)
    seen(team, incident, now)
    assert open_holds(incident) == 0 and Visit.everything.count() == 2
    with pytest.raises(Conflict, match="already"):
        seen(team, incident, now)


def test_the_hold_lasts_through_the_first_visit_that_stands(team: Team, now: datetime) -> None:
    """A visit of yesterday is voided, the one of today stands: nobody is clear today on the strength of yesterday's."""
    incident = bite(team, now)
    wrong = seen(team, incident, now)
    seen(team, incident, now + DAY)
    visit_void(actor=team.liaison, visit=wrong, reason="wrong day", now=now + DAY)
    last = Hold.objects.filter(source=f"incident:{incident.key}").order_by("pk").last()
    assert last is not None and last.ends_on == team.site.local_date(now + DAY)
    assert open_holds(incident) == 0


def test_a_later_visit_voided_leaves_the_hold_as_it_was(team: Team, now: datetime) -> None:
    incident = bite(team, now)
    seen(team, incident, now)
    later = seen(team, incident, now + DAY)
    visit_void(actor=team.liaison, visit=later, reason="another person's", now=now + DAY)
    assert Hold.objects.filter(source=f"incident:{incident.key}").count() == 1 and open_holds(incident) == 0


def test_a_visit_a_course_rests_on_stays_until_the_course_is_ended_in_error(
    team: Team, now: datetime
) -> None:
    course = begun(team, now)
    visit = course.incident.visits.get()
    with pytest.raises(Conflict, match="course rests on this visit"):
        visit_void(actor=team.liaison, visit=visit, reason="wrong person", now=now)
    assert course.incident.visits.count() == 1 and open_holds(course.incident) == 0
    course_end(
        actor=team.liaison,
        course=course,
        ended_on=course.starts_on,
        kind="error",
        reason="wrong person",
        now=now,
    )
    visit_void(actor=team.liaison, visit=visit, reason="wrong person", now=now)
    assert open_holds(course.incident) == 1


@pytest.mark.parametrize("reason", ["", "  "])
def test_voiding_needs_a_reason_once_and_somebody_else(team: Team, now: datetime, reason: str) -> None:
    incident = bite(team, now)
    visit = seen(team, incident, now)
    with pytest.raises(Invalid):
        visit_void(actor=team.liaison, visit=visit, reason=reason, now=now)
    also_member(team, team.liaison)
    with pytest.raises(NotAllowed):
        visit_void(actor=team.liaison, visit=visit, reason="mine", now=now)
    visit_void(actor=team.officer, visit=visit, reason="wrong", now=now)
    with pytest.raises(Conflict, match="already"):
        visit_void(actor=team.officer, visit=visit, reason="wrong", now=now)


def test_a_voided_referral_is_asked_for_again(team: Team, now: datetime) -> None:
    incident = bite(team, now)
    made = referral_make(actor=team.officer, incident=incident, clinic=team.clinic, now=now)
    assert "referral" not in codes(team, incident, now)
    referral_void(actor=team.officer, referral=made, reason="wrong clinic", now=now)
    assert "referral" in codes(team, incident, now)
    assert Referral.everything.get().void_reason == "wrong clinic"


def test_amount_and_date_of_immunoglobulin_stand_as_the_clinic_wrote_them(team: Team, now: datetime) -> None:
    incident = bite(team, now)
    today = team.site.local_date(now)
    visit = seen(
        team,
        incident,
        now,
        immunoglobulin="yes",
        immunoglobulin_on=today,
        immunoglobulin_amount="1 500 IU",
    )
    assert (visit.immunoglobulin_on, visit.immunoglobulin_amount) == (today, "1 500 IU")


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"immunoglobulin": "perhaps"}, "immunoglobulin"),
        ({"immunoglobulin": "no", "immunoglobulin_amount": "1 500 IU"}, "immunoglobulin"),
        ({"immunoglobulin": "yes", "immunoglobulin_on": date(2026, 3, 1)}, "immunoglobulin_on"),
        ({"immunoglobulin": "yes", "immunoglobulin_on": date(2026, 3, 3)}, "immunoglobulin_on"),
    ],
)
def test_immunoglobulin_that_cannot_be_names_the_field(
    team: Team, now: datetime, said: dict[str, Any], field: str
) -> None:
    incident = bite(team, now)
    with pytest.raises(Invalid) as refused:
        seen(team, incident, now, **said)
    assert list(refused.value.fields) == [field] and not Visit.objects.exists()


@pytest.mark.parametrize(("day", "asked"), [(7, False), (8, True)])
def test_after_day_seven_it_is_asked_back_and_kept_once_confirmed(
    team: Team, now: datetime, day: int, asked: bool
) -> None:
    # Day 7 after the first vaccine dose is the last: WHO 2018 (secondary copy), ACIP 2010.
    course = begun(team, now)
    give(team, course, course.starts_on, now)
    later = now + day * DAY
    if asked:
        with pytest.raises(Invalid) as refused:
            seen(team, course.incident, later, immunoglobulin="yes")
        assert set(refused.value.fields) == {"immunoglobulin", "confirmed"}
        assert "up to day 7" in refused.value.fields["immunoglobulin"]
    seen(team, course.incident, later, immunoglobulin="yes", confirmed=asked)
    assert Visit.objects.filter(immunoglobulin="yes").count() == 1


def test_given_twice_or_to_somebody_immunised_it_is_asked_back(team: Team, now: datetime) -> None:
    incident = bite(team, now)
    seen(team, incident, now, immunoglobulin="yes")
    with pytest.raises(Invalid, match="gives? it once|give it once"):
        seen(team, incident, now + DAY, immunoglobulin="yes")


def test_given_to_the_immunised_it_is_asked_back(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 60, 53, 39)
    incident = bite(team, now)
    with pytest.raises(Invalid, match="complete series"):
        seen(team, incident, now, immunoglobulin="yes")
    seen(team, incident, now, immunoglobulin="no")


def test_not_available_stays_a_step_until_day_seven_has_passed(team: Team, now: datetime) -> None:
    course = begun(team, now)
    incident = course.incident
    seen(team, incident, now, immunoglobulin="unavailable", clinic=_second_clinic(team))
    give(team, course, course.starts_on, now)
    day_7, day_8 = now + 7 * DAY, now + 8 * DAY
    assert "immunoglobulin" in codes(team, incident, now) and "immunoglobulin" in codes(team, incident, day_7)
    assert "immunoglobulin" not in codes(team, incident, day_8)
    listed = incidents_listed_for(team.liaison).get(pk=incident.pk)
    assert immunoglobulin_too_late(listed, team.site.local_date(day_7)) == ""
    assert "has passed" in immunoglobulin_too_late(listed, team.site.local_date(day_8))


def _second_clinic(team: Team) -> Any:
    return type(team.clinic).objects.create(site=team.site, name="Second Clinic", phone="000 3")


@pytest.mark.parametrize(
    ("answer", "left"),
    [("yes", False), ("no", False), ("unavailable", True)],
)
def test_what_became_of_it_is_recorded_with_who_said_so(
    team: Team, now: datetime, answer: str, left: bool
) -> None:
    incident = bite(team, now)
    visit = seen(team, incident, now, decision="no-course", immunoglobulin="unavailable")
    today = team.site.local_date(now)
    gift = Gift(answer, today if answer == "yes" else None, "600 IU" if answer == "yes" else "")
    immunoglobulin_settle(
        actor=team.liaison, visit=visit, gift=gift, said_by="Dr Test", reason="rang again", now=now
    )
    visit.refresh_from_db()
    assert (visit.immunoglobulin, visit.immunoglobulin_said) == (answer, "Dr Test: rang again")
    assert ("immunoglobulin" in codes(team, incident, now)) is left
    if not left:
        with pytest.raises(Conflict):
            immunoglobulin_settle(
                actor=team.liaison, visit=visit, gift=gift, said_by="Dr Test", reason="twice", now=now
            )


def test_doing_without_needs_a_name_and_a_reason(team: Team, now: datetime) -> None:
    visit = seen(team, bite(team, now), now, immunoglobulin="unavailable")
    for said_by, reason in (("", "no need"), ("Dr Test", "")):
        with pytest.raises(Invalid):
            immunoglobulin_settle(
                actor=team.liaison,
                visit=visit,
                gift=Gift(Immunoglobulin.NOT_GIVEN),
                said_by=said_by,
                reason=reason,
                now=now,
            )


def test_a_decision_recorded_later_keeps_what_was_said_of_immunoglobulin(team: Team, now: datetime) -> None:
    visit = seen(team, bite(team, now), now, decision="pending", immunoglobulin="unavailable")
    visit_decide(actor=team.liaison, visit=visit, decision="no-course", now=now)
    visit.refresh_from_db()
    assert (visit.decision, visit.immunoglobulin) == ("no-course", "unavailable")


def test_nobody_records_the_decision_about_themself(team: Team, now: datetime) -> None:
    visit = seen(team, bite(team, now), now, decision="pending")
    team.person.user = team.liaison
    team.person.save()
    visit = type(visit).objects.get(pk=visit.pk)
    with pytest.raises(NotAllowed):
        visit_decide(actor=team.liaison, visit=visit, decision="no-course", now=now)
    visit_decide(actor=team.officer, visit=visit, decision="no-course", now=now)


def test_a_regimen_of_another_group_needs_the_clinics_paper(team: Team, now: datetime) -> None:
    incident = bite(team, now)
    seen(team, incident, now)
    short = Regimen.objects.get(code="pep-immunised-im-0-3", version=1)
    today = team.site.local_date(now)
    with pytest.raises(Invalid) as refused:
        course_start(actor=team.liaison, incident=incident, regimen=short, starts_on=today, now=now)
    assert set(refused.value.fields) == {"regimen", "confirmed"}
    assert "No complete series is on record" in refused.value.fields["regimen"]
    course = course_start(
        actor=team.liaison, incident=incident, regimen=short, starts_on=today, now=now, confirmed=True
    )
    assert course.regimen == short


def test_the_strip_asks_back_everything_at_once_and_keeps_the_amount(team: Team, now: datetime) -> None:
    give_doses(team.person, team.officer, now, 60, 53, 39)
    incident, today = bite(team, now), team.site.local_date(now)
    strip = Strip(
        clinic=team.clinic,
        visited_on=today,
        decision="course",
        regimen=team.post_exposure,
        given_on=today,
        immunoglobulin="yes",
        immunoglobulin_amount="1 500 IU",
    )
    with pytest.raises(Invalid) as refused:
        answer_record(actor=team.liaison, incident=incident, strip=strip, now=now)
    assert set(refused.value.fields) == {"regimen", "immunoglobulin", "confirmed"}
    assert not Visit.objects.exists()
    kept = Strip(**{**strip.__dict__, "confirmed": True})
    visit = answer_record(actor=team.liaison, incident=incident, strip=kept, now=now)
    assert visit.immunoglobulin_amount == "1 500 IU"


def test_a_dose_after_the_bite_in_the_own_record_is_no_first_dose_of_the_course(
    team: Team, now: datetime
) -> None:
    """Only doses of the exposure's own courses begin the seven days."""
    incident = bite(team, now - 20 * DAY)
    dose_record(
        actor=team.officer,
        person=team.person,
        given_on=team.site.local_date(now - 15 * DAY),
        now=now,
        route="IM",
    )
    seen(team, incident, now, immunoglobulin="yes")
    assert Visit.objects.get().immunoglobulin == "yes"
