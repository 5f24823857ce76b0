"""A course changed in its middle: another regimen, the clinic's own dates, another place, its end and its resumption."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from safety.errors import Conflict, Invalid
from safety.models import Course, CourseDate, CourseFact, Notice
from safety.selectors.case.cases import (
    courses_behind,
    incidents_listed_for,
)
from safety.selectors.case.desk import desk_of
from safety.selectors.case.matters import matters_of
from safety.selectors.case.needs import needs_of
from safety.selectors.course.course_places import place_of
from safety.selectors.upkeep.verify import differences
from safety.services.case.closing import incident_close
from safety.services.case.referrals import referral_make
from safety.services.course.course import course_start_named
from safety.services.course.course_changes import (
    Elsewhere,
    NewRegimen,
    course_dates_replace,
    course_move,
    course_regimen_change,
)
from safety.services.course.course_ending import course_end, course_resume
from safety.services.course.course_facts import Word
from safety.services.course.dose_voids import course_dose_void
from safety.services.course.plan import course_plan, plans_catch_up
from safety.services.notices.notices import notices_reconcile, still_true
from staff.models import AuditEntry, Dose, Regimen
from tests.factories import Team, approve
from tests.safety.clinic_scenes import begun, begun_by_name, bite, due, give, seen

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
ZERO = date(2026, 3, 2)
WORD = Word("Dr Test", "no more of that product")


def change(team: Team, course: Course, now: datetime, new: NewRegimen, *, confirmed: bool = False) -> None:
    course_regimen_change(actor=team.liaison, course=course, new=new, word=WORD, now=now, confirmed=confirmed)
    assert courses_behind().filter(pk=course.pk).exists()
    assert plans_catch_up(now=now) == 1


def by_code(team: Team, code: str) -> Regimen:
    approve(team.site, team.officer, code)
    return Regimen.objects.get(code=code, version=1)


def days(course: Course) -> list[tuple[int, bool]]:
    return [((due_on - ZERO).days, given is not None) for _n, due_on, given in due(course)]


def nothing_differs() -> bool:
    return [found for found in differences() if "course" in found.row or "notice" in found.row] == []


def test_another_approved_regimen_keeps_the_doses_given(team: Team, now: datetime) -> None:
    course = begun(team, now)
    for day in (0, 3):
        give(team, course, ZERO + day * DAY, now + day * DAY)
    change(team, course, now + 3 * DAY, NewRegimen(by_code(team, "pep-im-0x2-7-21")))
    # Two visits are given; the third keeps its gap of 14 days to the one before (days 7 and 21).
    assert days(course) == [(0, True), (3, True), (17, False)]
    fact = CourseFact.objects.get()
    assert (fact.kind, fact.said_by, fact.doses) == (
        "regimen",
        "Dr Test",
        [["2026-03-02", ""], ["2026-03-05", ""]],
    )
    assert AuditEntry.objects.filter(action="course.regimen").exists() and nothing_differs()
    give(team, course, ZERO + 17 * DAY, now + 17 * DAY)
    assert days(course) == [(0, True), (3, True), (17, True)] and nothing_differs()


def test_a_dose_that_came_too_early_before_the_change_marks_no_date_of_the_clinic(
    team: Team, now: datetime
) -> None:
    course = begun(team, now)
    give(team, course, ZERO, now)
    give(team, course, ZERO + DAY, now + DAY, confirmed=True)
    new = NewRegimen(name="as the clinic there does", dates=(ZERO + 8 * DAY, ZERO + 22 * DAY))
    change(team, course, now + DAY, new)
    assert days(course) == [(0, True), (8, False), (22, False)]
    course.refresh_from_db()
    assert "too early" in course.plan_note and course.name == "as the clinic there does"


def test_a_voided_dose_of_before_the_change_no_longer_counts(team: Team, now: datetime) -> None:
    course = begun(team, now)
    for day in (0, 3):
        give(team, course, ZERO + day * DAY, now + day * DAY)
    change(team, course, now + 3 * DAY, NewRegimen(by_code(team, "pep-im-0-3-7-14")))
    assert days(course) == [(0, True), (3, True), (7, False), (14, False)]
    dose = Dose.objects.get(course_key=course.key, given_on=ZERO + 3 * DAY)
    Dose.objects.filter(pk=dose.pk).update(
        voided_at=now, voided_by=team.liaison, void_reason="another person's"
    )
    course_plan(course_id=course.pk, now=now + 4 * DAY)
    assert days(course) == [(0, True), (3, False), (7, False), (14, False)]


@pytest.mark.parametrize(
    ("word", "field"),
    [(Word("", "why"), "said_by"), (Word("Dr Test", " "), "reason")],
)
def test_without_the_clinicians_word_nothing_changes(
    team: Team, now: datetime, word: Word, field: str
) -> None:
    course = begun(team, now)
    new = NewRegimen(by_code(team, "pep-im-0-3-7-14"))
    with pytest.raises(Invalid) as refused:
        course_regimen_change(actor=team.liaison, course=course, new=new, word=word, now=now)
    assert list(refused.value.fields) == [field] and not CourseFact.objects.exists()


def test_an_unapproved_regimen_the_same_one_and_both_at_once_are_refused(team: Team, now: datetime) -> None:
    course = begun(team, now)
    unapproved = Regimen.objects.get(code="pep-im-0-3-7-14", version=1)
    for new in (
        NewRegimen(unapproved),
        NewRegimen(team.post_exposure),
        NewRegimen(team.post_exposure, "also by name", (ZERO,)),
        NewRegimen(),
    ):
        with pytest.raises(Invalid):
            course_regimen_change(actor=team.liaison, course=course, new=new, word=WORD, now=now)
    short = Regimen.objects.get(code="pep-immunised-im-0-3", version=1)
    with pytest.raises(Invalid, match="The record says otherwise"):
        course_regimen_change(actor=team.liaison, course=course, new=NewRegimen(short), word=WORD, now=now)
    change(team, course, now, NewRegimen(short), confirmed=True)
    assert days(course) == [(0, False), (3, False)]


def test_a_course_by_name_is_planned_reminded_and_shown_to_the_officer(team: Team, now: datetime) -> None:
    course = begun_by_name(team, now, 0, 5, 30)
    assert days(course) == [(0, False), (5, False), (30, False)]
    assert Notice.objects.filter(course=course, step=3, state="waiting").exists()
    asked = {
        user: [task.need.code for task in desk_of(user, now).today] for user in (team.officer, team.liaison)
    }
    assert "unlisted" in asked[team.officer] and "unlisted" not in asked[team.liaison]
    assert desk_of(team.stranger, now).empty
    give(team, course, ZERO, now)
    dose = Dose.objects.get()
    assert (dose.purpose, dose.regimen, dose.course_key) == ("post-exposure", None, course.key)
    assert days(course) == [(0, True), (5, False), (30, False)] and nothing_differs()


@pytest.mark.parametrize(
    ("name", "dates", "field"),
    [
        ("", (ZERO,), "regimen_name"),
        ("by name", (), "dates"),
        ("by name", (ZERO - DAY,), "dates"),
        ("by name", (ZERO + 7 * DAY, ZERO), "dates"),
        ("by name", (date(2036, 3, 2),), "dates"),
    ],
)
def test_a_course_by_name_that_cannot_be_names_the_field(
    team: Team, now: datetime, name: str, dates: tuple[date, ...], field: str
) -> None:
    incident = bite(team, now)
    seen(team, incident, now)
    with pytest.raises(Invalid) as refused:
        course_start_named(actor=team.liaison, incident=incident, regimen_name=name, dates=dates, now=now)
    assert list(refused.value.fields) == [field] and not Course.objects.exists()


def test_new_dates_take_the_place_of_those_to_come_and_the_old_ones_stay_readable(
    team: Team, now: datetime
) -> None:
    course = begun_by_name(team, now, 0, 5, 30)
    give(team, course, ZERO, now)
    with pytest.raises(Invalid, match="still to come"):
        course_dates_replace(actor=team.liaison, course=course, dates=[ZERO], word=WORD, now=now)
    course_dates_replace(
        actor=team.liaison, course=course, dates=[ZERO + 6 * DAY, ZERO + 21 * DAY], word=WORD, now=now
    )
    assert plans_catch_up(now=now) == 1
    assert days(course) == [(0, True), (6, False), (21, False)] and nothing_differs()
    assert CourseDate.objects.filter(replaced_at__isnull=False).count() == 2
    with pytest.raises(Conflict, match="follow from its regimen"):
        course_dates_replace(
            actor=team.liaison, course=begun_elsewhere(team, now), dates=[ZERO], word=WORD, now=now
        )


def begun_elsewhere(team: Team, now: datetime) -> Course:
    """A second case of the person, with a course on an approved regimen."""
    return begun(team, now)


def test_a_course_goes_on_at_another_clinic_or_at_a_place_in_words(team: Team, now: datetime) -> None:
    course = begun(team, now)
    assert place_of(course) is not None and place_of(course).name == "Test Clinic"  # type: ignore[union-attr]
    elsewhere = Elsewhere(None, "Harbour hospital, another country", "000 7", "Asia/Tokyo")
    course_move(actor=team.liaison, course=course, to=elsewhere, reason="flew home", now=now)
    course.refresh_from_db()
    where = place_of(course)
    assert where is not None and (where.name, where.phone) == ("Harbour hospital, another country", "000 7")
    fact = CourseFact.objects.get()
    assert (fact.kind, fact.reason) == ("place", "flew home") and "Asia/Tokyo" in fact.after
    for wrong, field in (
        (Elsewhere(), "place"),
        (Elsewhere(None, "Harbour"), "phone"),
        (Elsewhere(None, "Harbour", "000 7", "Middle/Earth"), "time_zone"),
        (Elsewhere(team.clinic, "Harbour"), "place"),
    ):
        with pytest.raises(Invalid) as refused:
            course_move(actor=team.liaison, course=course, to=wrong, reason="why", now=now)
        assert list(refused.value.fields) == [field]


def end(
    team: Team, course: Course, now: datetime, kind: str, *, said_by: str = "", reason: str = "why"
) -> None:
    course_end(
        actor=team.liaison, course=course, ended_on=ZERO, kind=kind, said_by=said_by, reason=reason, now=now
    )


def test_complete_needs_every_dose_and_the_case_says_when_it_can_be_ended(team: Team, now: datetime) -> None:
    course = begun(team, now, regimen=Regimen.objects.get(code="pep-immunised-im-0-3"), confirmed=True)
    give(team, course, ZERO, now)
    with pytest.raises(Invalid, match="Not every dose"):
        end(team, course, now, "completed")
    give(team, course, ZERO + 3 * DAY, now + 3 * DAY)
    listed = incidents_listed_for(team.liaison).get(pk=course.incident_id)
    assert [step.code for step in needs_of(listed, now + 3 * DAY) if step.code == "complete"]
    end(team, course, now + 3 * DAY, "completed", reason="all given")
    course.refresh_from_db()
    assert (course.end_kind, course.ended_on) == ("completed", ZERO)


@pytest.mark.parametrize("said_by", ["", "Dr Test"])
def test_stopping_needs_the_clinicians_name_and_handing_over_a_receiver(
    team: Team, now: datetime, said_by: str
) -> None:
    course = begun(team, now)
    for kind in ("stopped", "transferred"):
        if said_by:
            end(team, course, now, kind, said_by=said_by)
            course_resume(actor=team.liaison, course=course, reason="not so", now=now)
            continue
        with pytest.raises(Invalid) as refused:
            end(team, course, now, kind)
        assert list(refused.value.fields) == ["said_by"]
    with pytest.raises(Invalid):
        end(team, course, now, "vanished", said_by="Dr Test")


def test_in_error_needs_its_doses_voided_and_the_case_asks_for_a_course_again(
    team: Team, now: datetime
) -> None:
    course = begun(team, now)
    give(team, course, ZERO, now)
    with pytest.raises(Invalid, match="void them first"):
        end(team, course, now, "error")
    Dose.objects.update(voided_at=now, voided_by=team.liaison, void_reason="wrong person")
    end(team, course, now, "error")
    listed = incidents_listed_for(team.liaison).get(pk=course.incident_id)
    assert "course" in [step.code for step in needs_of(listed, now)]


def test_an_ended_course_is_taken_up_again_with_its_reminders(team: Team, now: datetime) -> None:
    course = begun(team, now)
    end(team, course, now, "stopped", said_by="Dr Test", reason="animal healthy")
    plans_catch_up(now=now)
    assert not Notice.objects.filter(course=course, state="waiting").exists()
    course_resume(actor=team.liaison, course=course, reason="a laboratory says otherwise", now=now)
    plans_catch_up(now=now)
    assert Notice.objects.filter(course=course, state="waiting").exists()
    assert [fact.kind for fact in CourseFact.objects.all()] == ["ended", "resumed"]
    with pytest.raises(Conflict, match="is running"):
        course_resume(actor=team.liaison, course=course, reason="again", now=now)


def test_it_is_not_taken_up_beside_another_one_nor_in_a_closed_case(team: Team, now: datetime) -> None:
    course = begun(team, now)
    end(team, course, now, "stopped", said_by="Dr Test")
    second = course_start_named(
        actor=team.liaison, incident=course.incident, regimen_name="by name", dates=[ZERO], now=now
    )
    with pytest.raises(Conflict, match="Another course runs"):
        course_resume(actor=team.liaison, course=course, reason="after all", now=now)
    end(team, second, now, "stopped", said_by="Dr Test")
    incident_close(actor=team.officer, incident=course.incident, reason="done", now=now)
    with pytest.raises(Conflict, match="closed"):
        course_resume(actor=team.liaison, course=course, reason="after all", now=now)


def test_a_missed_dose_is_chased_until_the_course_ends_in_words(team: Team, now: datetime) -> None:
    """Neither the person leaving the team nor the case's closing stops it; a running course keeps its case open."""
    course = begun(team, now)
    with pytest.raises(Conflict, match="A course is running"):
        incident_close(actor=team.officer, incident=course.incident, reason="done", now=now)
    team.person.active_until = ZERO
    team.person.save(update_fields=["active_until"])
    referral_make(actor=team.officer, incident=course.incident, clinic=team.clinic, now=now)
    for day in (2, 30, 200):
        notices_reconcile(now=now + day * DAY)
        rows = Notice.objects.filter(course=course, step=1, state="waiting")
        assert {row.audience for row in rows} == {"liaison", "member", "officer"}
        assert {row.send_on for row in rows} == {ZERO + day * DAY}
    end(team, course, now + 200 * DAY, "stopped", said_by="Dr Test")
    plans_catch_up(now=now + 200 * DAY)
    assert not Notice.objects.filter(course=course, state="waiting").exists()


def test_a_dose_voided_after_the_course_ended_as_complete_is_chased_and_keeps_the_case_open(
    team: Team, now: datetime
) -> None:
    course = begun(team, now, regimen=Regimen.objects.get(code="pep-immunised-im-0-3"), confirmed=True)
    give(team, course, ZERO, now)
    give(team, course, ZERO + 3 * DAY, now + 3 * DAY)
    ended_on, end_at = ZERO + 3 * DAY, now + 3 * DAY
    course_end(
        actor=team.liaison, course=course, ended_on=ended_on, kind="completed", reason="all given", now=end_at
    )
    plans_catch_up(now=end_at)
    incident = incidents_listed_for(team.liaison).get()
    assert matters_of(incident) == [] and "resume" not in {step.code for step in needs_of(incident, end_at)}
    wrong = Dose.objects.get(course_key=course.key, given_on=ended_on)
    course_dose_void(actor=team.liaison, course=course, dose=wrong, reason="of somebody else", now=end_at)
    plans_catch_up(now=end_at)
    incident = incidents_listed_for(team.liaison).get()
    assert ("resume", True) in {(step.code, step.late) for step in needs_of(incident, end_at)}
    notices_reconcile(now=end_at + DAY)
    row = Notice.objects.get(kind="decision-late", user=team.liaison)
    assert still_true(row, end_at + DAY)
    with pytest.raises(Conflict, match="voided since"):
        incident_close(
            actor=team.officer, incident=incident, reason="learned", now=end_at, without_details=True
        )
    course_resume(actor=team.liaison, course=course, reason="a dose was another's", now=end_at + DAY)
    plans_catch_up(now=end_at + DAY)
    assert not still_true(row, end_at + DAY)
