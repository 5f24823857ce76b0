"""Doses due, the outbox, the mailbox and the clinics."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils.formats import date_format

from safety.models import Clinic, Incident, MailboxMessage, Notice
from safety.services.case.incident_facts import IncidentReport
from safety.services.case.typed_reports import incident_report
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from safety.services.notices.sending import send_due
from tests.factories import Team, make_person
from tests.safety.pages.scenes import (
    BITE,
    make_case,
    real_now,
    see_clinic,
    signed_in_as,
    start_course,
    text_of,
)

pytestmark = pytest.mark.django_db


def groups(team: Team) -> Any:
    return signed_in_as(team.liaison).get(reverse("doses-due")).context["groups"]


def test_doses_fall_under_overdue_today_and_coming_by_the_sites_calendar(team: Team) -> None:
    course = start_course(team, make_case(team, days_ago=3))
    course_dose_record(actor=team.liaison, course=course, given_on=course.starts_on, now=real_now())
    course_plan(course_id=course.pk, now=real_now())
    found = groups(team)
    assert not found.overdue
    assert [row.dose.number for row in found.today] == [2]
    assert [(row.dose.number, row.days) for row in found.coming] == [(3, 4), (4, 11)]


def test_a_case_without_its_clinic_side_stands_above_the_doses_since_no_reminder_is_planned(
    team: Team,
) -> None:
    waits, planned = make_case(team), make_case(team)
    start_course(team, planned)
    first = "cases whose clinic side"
    html = signed_in_as(team.liaison).get(reverse("doses-due")).content.decode()
    main = html[html.index("<main") : html.index("due today")]
    assert first in main and reverse("case", args=[waits.reference]) in main
    assert reverse("case", args=[planned.reference]) not in main
    Incident.objects.update(closed_at=real_now(), close_reason="healed")
    assert first not in text_of(signed_in_as(team.liaison).get(reverse("doses-due")))


def test_the_list_names_person_and_telephone_and_the_form_which_dose(team: Team) -> None:
    team.person.phone = "000 77"
    team.person.save(update_fields=["phone"])
    course = start_course(team, make_case(team))
    page = signed_in_as(team.liaison).get(reverse("doses-due"))
    html = page.content.decode()
    assert f'href="{reverse("person", args=[team.person.pk])}"' in html and 'href="tel:00077"' in html
    assert "Doses before field work stand on the readiness board" in text_of(page)
    form = text_of(signed_in_as(team.liaison).get(reverse("course-dose", args=[course.pk])))
    day = date_format(course.starts_on, "DATE_FORMAT")
    assert f"Record dose 1 for {team.person}, due on {day}, case {course.incident.reference}" in form


def test_cases_stand_by_urgency_and_the_closed_ones_last(team: Team) -> None:
    closed = make_case(team)
    Incident.objects.filter(pk=closed.pk).update(closed_at=real_now(), close_reason="healed")
    fresh, late = make_case(team), make_case(team, days_ago=3)
    calm = make_case(team)
    see_clinic(team, calm, decision="no-course")
    shown = signed_in_as(team.liaison).get(reverse("cases"), {"show": "all"}).context["rows"]
    assert [row.incident for row in shown] == [late, fresh, calm, closed]


def test_the_list_of_doses_takes_the_same_queries_for_one_course_and_for_many(
    team: Team, django_assert_max_num_queries: Any
) -> None:
    start_course(team, make_case(team))
    client = signed_in_as(team.liaison)
    with django_assert_max_num_queries(40) as one:
        client.get(reverse("doses-due"))
    few = len(one)
    _more_courses(team, 5)
    with django_assert_max_num_queries(few):
        client.get(reverse("doses-due"))


def test_the_list_of_cases_takes_the_same_queries_for_one_case_and_for_many(
    team: Team, django_assert_max_num_queries: Any
) -> None:
    start_course(team, make_case(team))
    client = signed_in_as(team.liaison)
    with django_assert_max_num_queries(40) as one:
        client.get(reverse("cases"))
    few = len(one)
    _more_courses(team, 5)
    with django_assert_max_num_queries(few):
        assert len(client.get(reverse("cases")).context["rows"]) == 6


def _more_courses(team: Team, how_many: int) -> None:
    for number in range(how_many):
        now = real_now()
        person = make_person(team.site, team.officer, now, number=f"m{number}")
        report = IncidentReport(kind="bite", happened_at=now, wounds=(BITE,))
        made = incident_report(actor=team.officer, person=person, key=uuid.uuid4(), report=report, now=now)
        start_course(team, made.incident)


def test_closed_cases_are_found_under_closed_and_not_under_open(team: Team) -> None:
    incident = make_case(team, kind="near-miss", wounds=())
    client = signed_in_as(team.officer)
    client.post(reverse("case-close", args=[incident.reference]), {"reason": "talked through"})
    assert incident.reference not in text_of(client.get(reverse("cases")))
    assert incident.reference in text_of(client.get(reverse("cases"), {"show": "closed"}))


def test_a_notice_shows_its_history_from_waiting_to_sent(team: Team) -> None:
    start_course(team, make_case(team))
    notice = Notice.objects.filter(course__isnull=False).order_by("due_at").first()
    assert notice is not None
    send_due(clock=lambda: notice.due_at + timedelta(seconds=1))
    client = signed_in_as(team.liaison)
    words = text_of(client.get(reverse("notice", args=[notice.pk])))
    assert "A worker took it to send it" in words and "The mail server took it" in words
    assert notice.reference in text_of(client.get(reverse("notices"), {"state": "sent"}))
    assert client.get(reverse("notices"), {"state": "nonsense"}).status_code == 404


def test_a_notice_that_should_be_gone_says_so(team: Team) -> None:
    start_course(team, make_case(team))
    Notice.objects.update(due_at=real_now() - timedelta(hours=1))
    assert "should be gone" in text_of(signed_in_as(team.officer).get(reverse("notices")))


def test_the_mailbox_exists_in_the_demo_only(team: Team, settings: Any) -> None:
    MailboxMessage.objects.create(
        message_id="<1@x>", to="a@example.org", subject="Reminder ABC", text="t", received_at=real_now()
    )
    settings.DEMO = True
    assert "Reminder ABC" in text_of(signed_in_as(team.liaison).get(reverse("mailbox")))
    settings.DEMO = False
    assert signed_in_as(team.liaison).get(reverse("mailbox")).status_code == 404


def test_the_banner_of_the_demo_leads_to_the_mail_only_those_who_may_open_it(
    team: Team, settings: Any
) -> None:
    settings.DEMO = True
    link = f'href="{reverse("mailbox")}"'
    assert link in signed_in_as(team.liaison).get(reverse("clinics")).content.decode()
    assert link not in signed_in_as(team.member).get(reverse("clinics")).content.decode()


def test_the_clinic_list_gives_the_telephone_to_every_member_of_the_site(team: Team) -> None:
    html = signed_in_as(team.member).get(reverse("clinics")).content.decode()
    assert 'href="tel:0001"' in html and "never" in html
    assert "Test Clinic" not in text_of(signed_in_as(team.stranger).get(reverse("clinics")))


def test_the_liaison_confirms_the_stock_as_of_today(team: Team) -> None:
    url = reverse("clinic-confirm", args=[team.clinic.pk])
    said = {
        "vaccine": "yes",
        "immunoglobulin": "no",
        "phone": "000 2",
        "hours": "Mo-Fr 08:00-17:00",
        "active": "on",
    }
    page = signed_in_as(team.liaison).post(url, said, follow=True)
    clinic = Clinic.objects.get(pk=team.clinic.pk)
    assert clinic.confirmed_on == team.site.local_date(real_now()) and clinic.confirmed_by == team.liaison
    assert (clinic.vaccine, clinic.immunoglobulin, clinic.phone) == ("yes", "no", "000 2")
    assert "confirmed as of today" in text_of(page)
    assert signed_in_as(team.member).post(url, said).status_code == 403
    assert signed_in_as(team.stranger).post(url, said).status_code == 404


def test_stock_nobody_asked_about_for_a_week_asks_to_be_asked_again(team: Team) -> None:
    today = team.site.local_date(real_now())
    for days, stale in ((7, False), (8, True)):
        Clinic.objects.update(confirmed_on=today - timedelta(days=days))
        assert ("ask again" in text_of(signed_in_as(team.member).get(reverse("clinics")))) is stale


def test_a_clinic_is_added_once_to_the_own_site_only(team: Team) -> None:
    client, said = signed_in_as(team.liaison), {"site": team.site.pk, "name": "Hill Post", "phone": "000 3"}
    client.post(reverse("clinic-add"), said)
    assert Clinic.objects.get(name="Hill Post").vaccine == "unknown"
    assert client.post(reverse("clinic-add"), said).status_code == 409
    elsewhere = client.post(reverse("clinic-add"), said | {"site": team.other_site.pk, "name": "Far Post"})
    assert elsewhere.status_code == 400 and not Clinic.objects.filter(name="Far Post").exists()
