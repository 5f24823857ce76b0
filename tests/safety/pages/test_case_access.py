"""Who sees a case: the bitten member (less), officer and liaison of the site, nobody else."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from staff.models import AuditEntry, User
from tests.factories import Team, make_user
from tests.safety.pages.scenes import make_case, signed_in_as, start_course, text_of

pytestmark = pytest.mark.django_db

CASE_STEPS = ["case-referral", "case-visit", "case-course", "case-close", "case-reopen"]
LISTS = ["cases", "doses-due", "notices", "clinic-add"]


def status(user: User, name: str, *args: object) -> int:
    return signed_in_as(user).get(reverse(name, args=args)).status_code


def test_officer_and_liaison_see_the_case_and_each_look_is_written_down(team: Team) -> None:
    incident = make_case(team)
    for user in (team.officer, team.liaison):
        assert status(user, "case", incident.reference) == 200
        assert AuditEntry.objects.filter(
            action="record.seen", actor=user, person=team.person, target=incident.reference
        ).exists()


def test_the_member_sees_facts_washing_and_dates_but_no_office_buttons_and_leaves_no_look(team: Team) -> None:
    incident = make_case(team)
    course = start_course(team, incident)
    page = signed_in_as(team.member).get(reverse("case", args=[incident.reference]))
    words = text_of(page)
    assert "Start the wash clock" in words and "Your next dose is due on" in words
    assert "suggested; the clinician decides" in words
    assert "Notices about this case" not in words and "Record a dose" not in words
    assert reverse("course-dose", args=[course.pk]) not in page.content.decode()
    assert not AuditEntry.objects.filter(action="record.seen", actor=team.member).exists()


@pytest.mark.parametrize("who", ["stranger", "lead", "other"])
def test_to_everybody_else_the_case_does_not_exist(team: Team, who: str) -> None:
    incident = make_case(team)
    user = make_user("other") if who == "other" else getattr(team, who)
    assert status(user, "case", incident.reference) in {403, 404}
    if who == "stranger":
        assert status(user, "case", incident.reference) == 404


@pytest.mark.parametrize("name", CASE_STEPS)
def test_the_clinics_side_belongs_to_officer_and_liaison_of_the_site(team: Team, name: str) -> None:
    incident = make_case(team)
    assert status(team.officer, name, incident.reference) == 200
    assert status(team.liaison, name, incident.reference) == 200
    assert status(team.member, name, incident.reference) == 403
    assert status(team.stranger, name, incident.reference) == 404


@pytest.mark.parametrize("name", ["course-dose", "course-end"])
def test_a_course_belongs_to_officer_and_liaison_of_the_site(team: Team, name: str) -> None:
    course = start_course(team, make_case(team))
    assert status(team.liaison, name, course.pk) == 200
    assert status(team.member, name, course.pk) == 403
    assert status(team.stranger, name, course.pk) == 404


@pytest.mark.parametrize("name", LISTS)
def test_the_lists_are_for_the_office(team: Team, name: str) -> None:
    assert status(team.officer, name) == 200
    assert status(team.member, name) == 403
    assert status(team.lead, name) == 403
    assert Client().get(reverse(name)).status_code == 302


def test_the_lists_hold_nothing_of_another_site(team: Team) -> None:
    incident = make_case(team)
    start_course(team, incident)
    stranger = signed_in_as(team.stranger)
    for name in ("cases", "doses-due", "notices"):
        words = text_of(stranger.get(reverse(name)))
        assert incident.reference not in words and team.person.name not in words
    notice = incident.notices.first()
    assert notice is not None
    assert status(team.stranger, "notice", notice.pk) == 404
    assert status(team.liaison, "notice", notice.pk) == 200


def test_a_list_that_shows_names_is_written_to_the_audit_trail_once(team: Team) -> None:
    start_course(team, make_case(team))
    signed_in_as(team.liaison).get(reverse("doses-due"))
    seen = AuditEntry.objects.filter(action="board.seen", actor=team.liaison, target="doses-due")
    assert seen.count() == 1


def test_pages_with_health_data_are_kept_by_no_cache(team: Team) -> None:
    incident = make_case(team)
    for name, args in (("case", [incident.reference]), ("doses-due", []), ("notices", [])):
        answer = signed_in_as(team.liaison).get(reverse(name, args=args))
        assert "no-store" in answer["Cache-Control"]


def test_every_page_about_treatment_says_who_decides_and_whom_to_call(team: Team) -> None:
    incident = make_case(team)
    course = start_course(team, incident)
    pages = [
        reverse("report"),
        reverse("case", args=[incident.reference]),
        reverse("case-visit", args=[incident.reference]),
        reverse("course-dose", args=[course.pk]),
        reverse("doses-due"),
        reverse("clinics"),
    ]
    for url in pages:
        html = signed_in_as(team.liaison).get(url).content.decode()
        assert "Local health authorities and clinicians decide treatment" in html, url
        assert 'href="tel:000"' in html, url
