"""The page of one record, and who is on the team."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from staff.models import Person, RegimenApproval
from staff.services.record.records import dose_record, dose_void
from tests.factories import Team, give_doses
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as


def _page(team: Team, person: Person) -> tuple[object, str]:
    response = signed_in_as(team.officer).get(reverse("person", args=[person.pk]))
    return response.context["shown"], response.content.decode()


def test_titres_become_cards_on_a_phone_and_unknown_dates_of_the_team_are_said_in_words(team: Team) -> None:
    now = real_now()
    facts = {"taken_on": team.site.local_date(now), "iu_per_ml": "0.70", "evidence": "report-seen"}
    signed_in_as(team.officer).post(reverse("titre-add", args=[team.person.pk]), facts)
    Person.objects.filter(pk=team.person.pk).update(active_from=None, active_until=None)
    _shown, html = _page(team, team.person)
    section = html[html.index('id="titres-title"') :]
    assert '<table class="stack">' in section[: section.index("</section>")]
    assert "0.70" in section
    assert "first day not noted, no last day" in " ".join(html.split())


def test_the_explanation_calls_no_letter_met_that_was_never_asked_for(team: Team) -> None:
    html = signed_in_as(team.officer).get(reverse("person-clearance", args=[team.person.pk])).content.decode()
    assert "not asked of this person" in html


def test_a_dose_a_day_too_early_is_shown_as_not_counting_and_why(team: Team) -> None:
    """No grace for rabies vaccine: CDC CDSi supporting data 4.64, antigen Rabies."""
    give_doses(team.person, team.officer, real_now(), 20, 14)
    shown, html = _page(team, team.person)
    assert [line.counts for line in shown.lines] == [True, False]
    assert "1 day too early." in html


def test_a_voided_dose_stays_readable_with_its_reason(team: Team) -> None:
    dose = give_doses(team.person, team.officer, real_now(), 20)[0]
    dose_void(actor=team.officer, dose=dose, reason="another person's certificate", now=real_now())
    shown, html = _page(team, team.person)
    assert [line.counts for line in shown.lines] == [False]
    assert "another person&#x27;s certificate" in html


def test_the_doses_still_to_come_are_dated_from_the_last_that_counts(team: Team) -> None:
    give_doses(team.person, team.officer, real_now(), 3)
    shown, _html = _page(team, team.person)
    today = team.site.local_date(real_now())
    assert [(dose.number, dose.due_on) for dose in shown.outlook.doses] == [
        (2, today + timedelta(days=4)),
        (3, today + timedelta(days=18)),
    ]
    assert shown.clear_from.on == today + timedelta(days=18)


def test_an_overdue_dose_can_be_given_today_at_the_earliest_and_is_called_overdue(team: Team) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53)
    shown, html = _page(team, team.person)
    assert [dose.due_on for dose in shown.outlook.doses] == [team.site.local_date(real_now())]
    assert "overdue" in html


def test_a_clear_person_has_clear_dates_and_nothing_to_come(team: Team) -> None:
    shown, html = _page(team, clear_person(team))
    assert shown.readiness.clear
    assert shown.outlook is None
    assert [span.starts_on for span in shown.intervals] == [
        team.site.local_date(real_now()) - timedelta(days=39)
    ]
    assert "No dose before field work is missing." in html


def test_without_an_approved_regimen_no_dose_is_judged_and_the_page_says_so(team: Team) -> None:
    give_doses(team.person, team.officer, real_now(), 60, 53, 39)
    RegimenApproval.objects.update(
        withdrawn_at=real_now(), withdrawn_by=team.officer, withdraw_reason="letter 9"
    )
    shown, html = _page(team, team.person)
    assert [line.counts for line in shown.lines] == [None, None, None]
    assert "No pre-exposure regimen is approved for this site" in html


def test_doses_of_a_documented_course_count_under_their_own_regimen(team: Team) -> None:
    """Five doses on days 0, 3, 7, 14 and 28: WHO position paper, WER 2010;85(32):309-320."""
    today = team.site.local_date(real_now())
    for days in (100, 97, 93, 86, 72):
        dose_record(
            actor=team.officer,
            person=team.person,
            given_on=today - timedelta(days=days),
            purpose="post-exposure",
            regimen=team.post_exposure,
            now=real_now(),
        )
    shown, _html = _page(team, team.person)
    assert [line.step for line in shown.lines] == [1, 2, 3, 4, 5]
    assert shown.readiness.clear


def test_the_drawing_and_the_tables_hold_the_same_things(team: Team) -> None:
    person = clear_person(team)
    response = signed_in_as(team.officer).get(reverse("person", args=[person.pk]))
    for drawing in response.context["drawings"]:
        assert [mark.text for mark in drawing.marks if mark.kind == "counts"] == ["1", "2", "3"]
        xs = [mark.x for mark in drawing.marks]
        assert xs == sorted(xs)
        assert all(drawing.sheet.left <= x <= drawing.sheet.right for x in xs)
        assert [bar.kind for bar in drawing.bars] == ["clear"]
    assert response.content.decode().count("counts as dose") == 3


def test_a_member_reads_the_own_record_and_is_offered_no_change(team: Team) -> None:
    html = signed_in_as(team.member).get(reverse("me")).content.decode()
    assert "No dose on record; 3 are needed before field work." in html
    assert reverse("dose-add", args=[team.person.pk]) not in html
    assert "Local health authorities and clinicians decide treatment" in html
    assert 'href="tel:000"' in html


def test_somebody_without_a_record_has_no_page_of_their_own(team: Team) -> None:
    assert signed_in_as(team.officer).get(reverse("me")).status_code == 403


def test_a_person_is_added_and_the_officer_is_told(team: Team) -> None:
    response = signed_in_as(team.officer).post(
        reverse("person-add"),
        {"site": team.site.pk, "number": "N1", "name": "New Person", "crew_roles": ["catcher"]},
        follow=True,
    )
    person = Person.objects.get(number="N1")
    assert [held.role for held in person.crew_roles.all()] == ["catcher"]
    assert "The person is on the team." in response.content.decode()


@pytest.mark.parametrize(
    ("changes", "status", "field"),
    [({"number": "7"}, 409, "number"), ({"name": ""}, 400, "name"), ({"active_until": "2020-01-01"}, 400, "active_until")],
)  # fmt: skip
def test_what_is_wrong_with_a_new_person_is_said_at_its_field(
    team: Team, changes: dict[str, str], status: int, field: str
) -> None:
    data = {"site": team.site.pk, "number": "N1", "name": "New", "active_from": "2021-01-01", **changes}
    response = signed_in_as(team.officer).post(reverse("person-add"), data)
    assert response.status_code == status
    assert f'href="#id_{field}"' in response.content.decode()
    assert not Person.objects.filter(name="New").exists()


def test_an_officer_adds_nobody_to_another_site(team: Team) -> None:
    data = {"site": team.other_site.pk, "number": "N1", "name": "New"}
    assert signed_in_as(team.officer).post(reverse("person-add"), data).status_code == 400
    assert not Person.objects.filter(name="New").exists()


def test_leaving_the_team_takes_the_clearance_away(team: Team) -> None:
    person = clear_person(team)
    yesterday = team.site.local_date(real_now()) - timedelta(days=1)
    url = reverse("person-edit", args=[person.pk])
    data = {"name": person.name, "language": "en", "active_until": yesterday.isoformat()}
    response = signed_in_as(team.officer).post(url, data)
    assert response["Location"] == reverse("person", args=[person.pk])
    shown, _html = _page(team, person)
    assert not shown.readiness.clear
