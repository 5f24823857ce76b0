"""Pages of the decision and the course: voids, immunoglobulin, a course by name, changes with a preview, the history."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from safety.models import Course, Visit
from safety.services.course.plan import plans_catch_up
from staff.models import Dose, Hold, Regimen
from tests.factories import Team, also_member, approve, give_doses
from tests.safety.pages.scenes import (
    make_case,
    real_now,
    see_clinic,
    signed_in_as,
    start_course,
    text_of,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def post(client: Client, name: str, args: list[Any], **data: Any) -> Any:
    return client.post(reverse(name, args=args), data, follow=True)


@pytest.fixture
def desk(team: Team) -> Client:
    return signed_in_as(team.liaison)


def test_a_visit_is_voided_on_its_page_and_stays_readable(team: Team, desk: Client) -> None:
    incident = make_case(team)
    see_clinic(team, incident, decision="no-course")
    visit = incident.visits.get()
    page = desk.get(reverse("case", args=[incident.reference]))
    assert reverse("case-visit-void", args=[incident.reference, visit.pk]) in page.content.decode()
    page = post(desk, "case-visit-void", [incident.reference, visit.pk], reason="another person's")
    said = text_of(page)
    assert (
        "The visit is voided" in said and "another person's" in said and "No clinic visit is recorded" in said
    )
    assert Hold.objects.filter(released_at__isnull=True).count() == 1
    member = signed_in_as(team.member).get(reverse("case", args=[incident.reference]))
    assert "another person's" not in text_of(member)


def test_a_visit_under_a_course_says_what_to_do(team: Team, desk: Client) -> None:
    course = start_course(team, make_case(team))
    visit = course.incident.visits.get()
    page = post(desk, "case-visit-void", [course.incident.reference, visit.pk], reason="wrong")
    assert page.status_code == 409 and "end the course as entered in error" in text_of(page)


def test_a_referral_is_voided_on_its_page(team: Team, desk: Client) -> None:
    incident = make_case(team)
    post(desk, "case-referral", [incident.reference], clinic=team.clinic.pk)
    made = incident.referrals.get()
    page = post(desk, "case-referral-void", [incident.reference, made.pk], reason="wrong clinic")
    assert "The referral is voided" in text_of(page) and not incident.referrals.exists()


def test_the_own_case_offers_no_voiding(team: Team, desk: Client) -> None:
    incident = make_case(team)
    see_clinic(team, incident, decision="no-course")
    also_member(team, team.liaison)
    void = reverse("case-visit-void", args=[incident.reference, incident.visits.get().pk])
    assert void not in desk.get(reverse("case", args=[incident.reference])).content.decode()
    assert desk.post(void, {"reason": "mine"}).status_code == 403 and incident.visits.exists()


def test_immunoglobulin_that_was_not_there_is_a_step_and_settled_on_its_page(
    team: Team, desk: Client
) -> None:
    incident = make_case(team)
    today = incident.site.local_date(real_now())
    said = {"clinic": team.clinic.pk, "visited_on": today, "decision": "no-course"}
    page = post(desk, "case-visit", [incident.reference], immunoglobulin="unavailable", **said)
    address = reverse("case-immunoglobulin", args=[incident.reference, incident.visits.get().pk])
    assert "ask the clinic again" in text_of(page) and address in page.content.decode()
    gift = {"immunoglobulin": "yes", "immunoglobulin_on": today, "immunoglobulin_amount": "1 500 IU"}
    page = desk.post(address, gift | {"said_by": "Dr Test", "reason": "rang"}, follow=True)
    assert "1 500 IU" in text_of(page) and "ask the clinic again" not in text_of(page)


def test_a_warning_about_immunoglobulin_is_confirmed_with_a_tick(team: Team, desk: Client) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    incident = make_case(team)
    said = {
        "clinic": team.clinic.pk,
        "visited_on": incident.site.local_date(real_now()),
        "decision": "no-course",
        "immunoglobulin": "yes",
    }
    address = reverse("case-visit", args=[incident.reference])
    assert 'name="confirmed"' not in desk.get(address).content.decode()
    asked = desk.post(address, said)
    assert asked.status_code == 400 and 'name="confirmed"' in asked.content.decode()
    assert not Visit.objects.exists()
    assert desk.post(address, said | {"confirmed": "on"}).status_code == 302


def test_the_course_form_says_what_the_record_says_and_lists_for_such_a_person_first(
    team: Team, desk: Client
) -> None:
    incident = make_case(team)
    see_clinic(team, incident)
    page = desk.get(reverse("case-course", args=[incident.reference]))
    html = page.content.decode()
    assert "No complete series is on record before this exposure." in text_of(page)
    assert html.index("listed for such a person") < html.index("pep-im-0-3-7-14-28 v1")
    assert html.index("for somebody else") < html.index("pep-immunised-im-0-3 v1")
    short = Regimen.objects.get(code="pep-immunised-im-0-3", version=1)
    today = incident.site.local_date(real_now())
    asked = desk.post(
        reverse("case-course", args=[incident.reference]), {"regimen": short.pk, "starts_on": today}
    )
    assert asked.status_code == 400 and "paper says so" in text_of(asked) and not Course.objects.exists()


def test_for_the_immunised_and_immunocompromised_nothing_is_listed(team: Team, desk: Client) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    team.person.immunocompromised = True
    team.person.save(update_fields=["immunocompromised"])
    incident = make_case(team)
    see_clinic(team, incident)
    page = desk.get(reverse("case-course", args=[incident.reference]))
    assert "listed for such a person" not in page.content.decode()
    assert "none is listed: the clinician decides" in text_of(page)


def test_a_course_by_name_goes_from_its_form_to_the_list_of_doses(team: Team, desk: Client) -> None:
    incident = make_case(team)
    see_clinic(team, incident)
    today = incident.site.local_date(real_now())
    assert (
        reverse("case-course-named", args=[incident.reference])
        in desk.get(reverse("case-course", args=[incident.reference])).content.decode()
    )
    none = post(desk, "case-course-named", [incident.reference], regimen_name="as at home")
    assert none.status_code == 400 and "at least one date" in text_of(none)
    page = post(
        desk,
        "case-course-named",
        [incident.reference],
        regimen_name="as at home",
        date_1=today,
        date_2=today + 7 * DAY,
    )
    plans_catch_up(now=real_now())
    page = desk.get(page.request["PATH_INFO"])
    assert "as at home" in text_of(page) and "isn't in the approved table" in text_of(page)
    assert "as at home" in text_of(desk.get(reverse("doses-due")))
    course = Course.objects.get()
    word = {"said_by": "Dr Test", "reason": "new appointment"}
    page = post(desk, "course-dates", [course.pk], date_1=today, date_2=today + 9 * DAY, **word)
    plans_catch_up(now=real_now())
    assert course.planned_doses.last().due_on == today + 9 * DAY  # type: ignore[union-attr]


def test_a_change_of_regimen_is_shown_before_it_is_kept(team: Team, desk: Client) -> None:
    approve(team.site, team.officer, "pep-im-0-3-7-14")
    course = start_course(team, make_case(team))
    other = Regimen.objects.get(code="pep-im-0-3-7-14", version=1)
    address = reverse("course-regimen", args=[course.pk])
    said = {"regimen": other.pk, "said_by": "Dr Test", "reason": "that is what they have"}
    missing = desk.post(address, said | {"said_by": ""})
    assert missing.status_code == 400
    shown = desk.post(address, said)
    assert shown.status_code == 200 and "Nothing is changed yet" in text_of(shown)
    course.refresh_from_db()
    assert course.regimen == team.post_exposure
    seen = shown.context["form"].data["seen"]
    changed_meanwhile = desk.post(address, said | {"seen": "of another preview"})
    assert "Nothing is changed yet" in text_of(changed_meanwhile)
    done = desk.post(address, said | {"seen": seen}, follow=True)
    course.refresh_from_db()
    assert course.regimen == other and "The regimen is changed" in text_of(done)
    plans_catch_up(now=real_now())
    page = desk.get(reverse("case", args=[course.incident.reference]))
    said_there = text_of(page)
    assert "What moved, and why" in said_there and "Dr Test" in said_there
    assert "Dose 5, which was due on" in said_there
    members = text_of(signed_in_as(team.member).get(reverse("case", args=[course.incident.reference])))
    assert "Dose 5, which was due on" in members and "Dr Test" not in members


def test_a_course_goes_on_elsewhere_by_the_calendar_there(team: Team, desk: Client) -> None:
    course = start_course(team, make_case(team))
    nowhere = post(desk, "course-place", [course.pk], reason="flew home")
    assert nowhere.status_code == 400
    page = post(
        desk,
        "course-place",
        [course.pk],
        place="Harbour hospital",
        phone="000 7",
        time_zone="Pacific/Kiritimati",
        reason="flew home",
    )
    assert "Harbour hospital" in text_of(page) and "Pacific/Kiritimati" in text_of(page)


def test_the_end_of_a_course_names_its_kind_and_it_is_taken_up_again(team: Team, desk: Client) -> None:
    course = start_course(team, make_case(team))
    said = {"ended_on": course.starts_on, "reason": "animal healthy"}
    early = post(desk, "course-end", [course.pk], kind="completed", **said)
    assert early.status_code == 400 and "Not every dose of it is recorded" in text_of(early)
    nobody = post(desk, "course-end", [course.pk], kind="stopped", **said)
    assert nobody.status_code == 400 and "which clinician" in text_of(nobody)
    page = post(desk, "course-end", [course.pk], kind="stopped", said_by="Dr Test", **said)
    assert "stopped on the clinician's word" in text_of(page)
    assert reverse("course-resume", args=[course.pk]) in page.content.decode()
    page = post(desk, "course-resume", [course.pk], reason="laboratory says otherwise")
    course.refresh_from_db()
    assert course.ended_on is None and "runs again" in text_of(page)


def test_an_early_dose_is_asked_back_with_the_day_from_which_it_counts(team: Team, desk: Client) -> None:
    course = start_course(team, make_case(team, days_ago=2))
    post(desk, "course-dose", [course.pk], given_on=course.starts_on)
    plans_catch_up(now=real_now())
    address = reverse("course-dose", args=[course.pk])
    asked = desk.post(address, {"given_on": course.starts_on + DAY})
    assert asked.status_code == 400 and "Too early: by the plan a dose counts from" in text_of(asked)
    assert 'name="confirmed"' in asked.content.decode() and Dose.objects.count() == 1
    assert desk.post(address, {"given_on": course.starts_on + DAY, "confirmed": "on"}).status_code == 302


def test_once_every_dose_is_given_the_case_leads_to_its_end(team: Team, desk: Client) -> None:
    incident = make_case(team, days_ago=4)
    see_clinic(team, incident)
    first = incident.site.local_date(incident.happened_at)
    post(desk, "case-course-named", [incident.reference], regimen_name="one dose", date_1=first)
    course = Course.objects.get()
    post(desk, "course-dose", [course.pk], given_on=first)
    plans_catch_up(now=real_now())
    page = desk.get(reverse("case", args=[incident.reference]))
    assert "end it as complete" in text_of(page)
    form = desk.get(reverse("course-end", args=[course.pk])).context["form"]
    assert form["kind"].value() == "completed"
    post(desk, "course-end", [course.pk], kind="completed", ended_on=first, reason="All doses given.")
    course.refresh_from_db()
    assert course.end_kind == "completed"
