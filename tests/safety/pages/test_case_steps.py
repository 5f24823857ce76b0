"""A case from the wound to its closing, through the pages, with every refusal in words."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from safety.models import Course, Incident, WashSpell
from safety.services.course.plan import course_plan
from staff.models import AuditEntry, Dose, Hold
from tests.factories import Team
from tests.safety.pages.scenes import make_case, real_now, see_clinic, signed_in_as, start_course, text_of

pytestmark = pytest.mark.django_db


def post(user: Any, name: str, args: list[Any], **data: Any) -> Any:
    return signed_in_as(user).post(reverse(name, args=args), data, follow=True)


def test_the_member_starts_and_stops_the_clock_without_script(team: Team) -> None:
    incident = make_case(team)
    post(team.member, "wash-start", [incident.reference])
    WashSpell.objects.update(started_at=real_now() - timedelta(minutes=15, seconds=1))
    page = post(team.member, "wash-stop", [incident.reference], soap="yes")
    assert page.context["wash"].state.word == "long enough"
    assert WashSpell.objects.get().soap == "yes"


def test_a_clock_that_runs_is_not_started_again(team: Team) -> None:
    incident = make_case(team)
    post(team.member, "wash-start", [incident.reference])
    again = post(team.member, "wash-start", [incident.reference])
    assert again.status_code == 409 and "running already" in text_of(again)


def test_a_forgotten_clock_is_not_taken_for_hours_of_washing(team: Team) -> None:
    incident = make_case(team)
    post(team.member, "wash-start", [incident.reference])
    WashSpell.objects.update(started_at=real_now() - timedelta(hours=3, minutes=1))
    refused = post(team.member, "wash-stop", [incident.reference], soap="yes")
    assert refused.status_code == 409 and "void it" in text_of(refused)
    page = signed_in_as(team.member).get(reverse("case", args=[incident.reference]))
    assert page.context["wash"].state.word == "washing now"


def test_one_second_short_is_short_and_says_by_how_much(team: Team) -> None:
    incident = make_case(team)
    start = real_now() - timedelta(minutes=20)
    incident.wash_spells.create(
        started_at=start,
        stopped_at=start + timedelta(minutes=14, seconds=59),
        soap="yes",
        recorded_by=team.officer,
    )
    page = signed_in_as(team.member).get(reverse("case", args=[incident.reference]))
    assert "Washed for 14:59; that is 0:01 short of 15 minutes" in text_of(page)


def test_washing_written_down_in_site_time_and_voided_with_a_reason(team: Team) -> None:
    incident = make_case(team, days_ago=1)
    day = incident.site.local_date(incident.happened_at).isoformat()
    post(
        team.officer,
        "case-washing",
        [incident.reference],
        day=day,
        started="06:00",
        stopped="06:16",
        soap="no",
    )
    spell = WashSpell.objects.get()
    assert spell.started_at.astimezone(team.site.zone).strftime("%H:%M") == "06:00"
    empty = post(team.officer, "wash-void", [incident.reference, spell.pk], reason=" ")
    assert empty.status_code == 400
    page = post(team.officer, "wash-void", [incident.reference, spell.pk], reason="wrong case")
    assert page.context["wash"].state.word == "not recorded"
    assert "wrong case" in text_of(page)
    twice = post(team.officer, "wash-void", [incident.reference, spell.pk], reason="again")
    assert twice.status_code == 409


def test_the_case_leads_from_step_to_step_and_the_visit_ends_the_hold(team: Team) -> None:
    incident = make_case(team)
    today = incident.site.local_date(real_now()).isoformat()
    page = post(team.liaison, "case-referral", [incident.reference], clinic=team.clinic.pk)
    assert reverse("case-visit", args=[incident.reference]) in page.content.decode()
    early = post(
        team.liaison, "case-course", [incident.reference], regimen=team.post_exposure.pk, starts_on=today
    )
    assert early.status_code == 409 and "Record the clinic visit" in text_of(early)
    assert Hold.objects.get().released_at is None
    visit = {
        "clinic": team.clinic.pk,
        "visited_on": today,
        "decision": "pending",
        "immunoglobulin": "unknown",
    }
    page = post(team.liaison, "case-visit", [incident.reference], **visit)
    assert Hold.objects.get().released_at is not None
    seen = incident.visits.get()
    assert reverse("case-decision", args=[incident.reference, seen.pk]) in page.content.decode()
    post(
        team.liaison, "case-decision", [incident.reference, seen.pk], decision="course", immunoglobulin="yes"
    )
    seen.refresh_from_db()
    assert (seen.decision, seen.immunoglobulin) == ("course", "yes")
    twice = post(
        team.liaison,
        "case-decision",
        [incident.reference, seen.pk],
        decision="no-course",
        immunoglobulin="no",
    )
    assert twice.status_code == 409
    page = post(
        team.liaison, "case-course", [incident.reference], regimen=team.post_exposure.pk, starts_on=today
    )
    assert "being computed" in text_of(page)


def test_only_regimens_approved_at_the_site_can_be_chosen(team: Team) -> None:
    incident = make_case(team)
    see_clinic(team, incident)
    form = signed_in_as(team.liaison).get(reverse("case-course", args=[incident.reference])).context["form"]
    offered = {regimen.code for regimen in form.fields["regimen"].queryset}
    assert offered == {"pep-im-0-3-7-14-28", "pep-immunised-im-0-3"}


def test_a_dose_given_late_moves_the_rest_and_the_page_says_how_late(team: Team) -> None:
    # ACIP 2010's published answers: day-7 dose on day 10, the next are due on days 17 and 31.
    incident = make_case(team, days_ago=11)
    course = start_course(team, incident)
    zero = course.starts_on
    for day in (0, 3, 10):
        given = (zero + timedelta(days=day)).isoformat()
        page = post(team.liaison, "course-dose", [course.pk], given_on=given, route="", place="Test Clinic")
        assert page.status_code == 200
        course_plan(course_id=course.pk, now=real_now())
    page = signed_in_as(team.liaison).get(reverse("case", args=[incident.reference]))
    planned = [dose for dose, _state in page.context["courses"][0].planned]
    assert [(dose.due_on - zero).days for dose in planned[3:]] == [17, 31]
    assert "3 days late" in text_of(page)


def test_a_dose_is_overdue_by_word_and_mark_and_the_drawing_shows_it(team: Team) -> None:
    incident = make_case(team, days_ago=5)
    start_course(team, incident)
    page = signed_in_as(team.liaison).get(reverse("case", args=[incident.reference]))
    html = " ".join(page.content.decode().split())
    assert '<span class="mark" aria-hidden="true">!</span> overdue' in html
    assert 'class="overdue"' in html and '<svg viewBox="0 0' in html


def test_a_voided_dose_is_planned_again(team: Team) -> None:
    incident = make_case(team)
    course = start_course(team, incident)
    today = course.starts_on.isoformat()
    post(team.liaison, "course-dose", [course.pk], given_on=today)
    twice = post(team.liaison, "course-dose", [course.pk], given_on=today)
    assert twice.status_code == 409 and "on record already" in text_of(twice)
    dose = Dose.objects.get(course_key=course.key)
    page = post(team.liaison, "course-dose-void", [course.pk, dose.pk], reason="another person's")
    assert "being computed" in text_of(page)
    course_plan(course_id=course.pk, now=real_now())
    assert course.planned_doses.filter(given_on__isnull=False).count() == 0


def test_a_case_with_a_running_course_or_no_visit_stays_open(team: Team) -> None:
    incident = make_case(team)
    unseen = post(team.officer, "case-close", [incident.reference], reason="done")
    assert unseen.status_code == 409 and "No clinic visit" in text_of(unseen)
    course = start_course(team, incident)
    running = post(team.officer, "case-close", [incident.reference], reason="done")
    assert running.status_code == 409 and "A course is running" in text_of(running)
    post(
        team.officer,
        "course-end",
        [course.pk],
        ended_on=course.starts_on.isoformat(),
        kind="stopped",
        said_by="Dr Test",
        reason="clinician's word",
    )
    assert Course.objects.get().ended_on == course.starts_on
    closed = post(team.officer, "case-close", [incident.reference], reason="gloves from now on")
    assert "gloves from now on" in text_of(closed)


def test_a_closed_case_is_opened_again_and_the_trail_keeps_why_it_was_closed(team: Team) -> None:
    incident = make_case(team, kind="near-miss", wounds=())
    post(team.officer, "case-close", [incident.reference], reason="talked through")
    page = post(team.officer, "case-reopen", [incident.reference], reason="a scratch was found")
    assert Incident.objects.get().is_open and "open again" in text_of(page)
    entry = AuditEntry.objects.get(action="incident.reopened")
    assert entry.detail == {"reason": "a scratch was found", "closed_for": "talked through"}
    twice = post(team.officer, "case-reopen", [incident.reference], reason="again")
    assert twice.status_code == 409


def test_suggestion_and_washing_of_a_bat_near_miss_ask_for_the_clinician(team: Team) -> None:
    incident = make_case(team, kind="near-miss", animal="bat", wounds=())
    incident.wounds.create(contact="none")
    page = signed_in_as(team.officer).get(reverse("case", args=[incident.reference]))
    assert "ask the clinician" in text_of(page) and "No category suggested" in text_of(page)
