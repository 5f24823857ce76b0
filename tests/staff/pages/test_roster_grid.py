"""The roster as a grid: what a day offers, what is refused, the proposal, undo, crews and days asked for."""

from __future__ import annotations

import html
from datetime import date, datetime

import pytest
from django.test import Client
from django.urls import reverse

from staff.models import Assignment, DayWish, SiteRules
from staff.services.outing.roster import roster_assign
from staff.services.outing.roster_rules import wish_add
from staff.services.record.holds import hold_place
from tests.factories import Team, make_person
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.roster_scene import Field, make_field


@pytest.fixture
def field(team: Team) -> Field:
    return make_field(team, real_now(), each=2)


@pytest.fixture
def officer(team: Team) -> Client:
    return signed_in_as(team.officer)


def grid(field: Field) -> str:
    return f"{reverse('roster-grid')}?site={field.team.site.pk}&first={field.today}&days=7"


def cell(field: Field, name: str, number: int = 1) -> str:
    path = reverse("roster-cell", args=[field.people[name].pk, field.day(number).isoformat()])
    return f"{path}?site={field.team.site.pk}&first={field.today}&days=7"


def put_on(field: Field, name: str, number: int = 0, now: datetime | None = None) -> Assignment:
    crew = field.crew_of(number)
    return roster_assign(
        actor=field.team.officer,
        outing=crew.outing,
        crew=crew,
        person=field.people[name],
        role=name.split()[0],
        now=now or field.now,
    )


def seat(field: Field, role: str, number: int = 0) -> str:
    return f"{field.crew_of(number).pk}:{role}"


def shown(officer: Client, field: Field) -> str:
    return officer.get(grid(field)).content.decode()


def test_a_free_day_takes_a_place_and_leads_back_to_the_grid(officer: Client, field: Field) -> None:
    answer = officer.post(cell(field, "catcher 1"), {"act": "put-on", "seat": seat(field, "catcher")})
    anchor = f"#c-{field.people['catcher 1'].pk}-{field.day(1)}"
    assert answer.status_code == 302
    assert answer["Location"].endswith(anchor)
    assert Assignment.objects.get().proposed is False
    assert "catcher 1 is on the roster." in shown(officer, field)


@pytest.mark.parametrize(
    "value", ["", "x", "1", ":catcher", "x:catcher", "999999999999999999999:catcher", "1:queen"]
)
def test_a_place_that_is_none_is_refused_at_the_field(value: str, officer: Client, field: Field) -> None:
    answer = officer.post(cell(field, "catcher 1"), {"act": "put-on", "seat": value})
    assert answer.status_code == 400
    assert not Assignment.objects.exists()


@pytest.mark.parametrize("day", ["today", "2026-02-30", "99999-01-01", "0000-01-01"])
def test_a_day_that_is_none_is_not_found(day: str, officer: Client, field: Field) -> None:
    path = reverse("roster-cell", args=[field.people["catcher 1"].pk, day])
    assert officer.get(path).status_code == 404


@pytest.mark.parametrize("day", [date.min, date(1, 1, 2), date(9999, 12, 31)])
def test_the_ends_of_the_calendar_break_no_page(day: date, officer: Client, field: Field) -> None:
    path = reverse("roster-cell", args=[field.people["catcher 1"].pk, day.isoformat()])
    assert officer.get(path).status_code in {200, 404}
    site = field.team.site.pk
    for name in ("roster-grid", "roster-proposal"):
        answer = officer.get(reverse(name), {"site": site, "first": day.isoformat(), "days": 28})
        assert answer.status_code in {200, 302, 400}


def test_who_is_not_clear_is_offered_no_place_but_the_reason_and_the_date(
    officer: Client, field: Field
) -> None:
    person = field.people["catcher 1"]
    hold_place(
        actor=field.team.officer, person=person, starts_on=field.today, reason="hurt a foot", now=field.now
    )
    page = officer.get(cell(field, "catcher 1")).content.decode()
    assert "hurt a foot" in page
    assert "put-on" not in page
    answer = officer.post(cell(field, "catcher 1"), {"act": "put-on", "seat": seat(field, "catcher")})
    assert answer.status_code == 302
    assert not Assignment.objects.exists()
    assert "hurt a foot" in shown(officer, field)


def test_a_place_is_moved_handed_over_and_given_up(officer: Client, field: Field) -> None:
    field.people["catcher 1"].crew_roles.create(role="recorder")
    put_on(field, "catcher 1")
    officer.post(cell(field, "catcher 1"), {"act": "move", "seat": seat(field, "recorder")})
    assert Assignment.objects.get().role == "recorder"
    recorder = field.people["recorder 1"]
    officer.post(cell(field, "catcher 1"), {"act": "hand-over", "person": recorder.pk})
    assert Assignment.objects.get().person == recorder
    officer.post(cell(field, "recorder 1"), {"act": "take-off", "reason": ""})
    assert Assignment.objects.exists()
    officer.post(cell(field, "recorder 1"), {"act": "take-off", "reason": "ill"})
    assert not Assignment.objects.exists()


def test_nobody_of_another_site_takes_a_place_over(officer: Client, field: Field) -> None:
    held = put_on(field, "catcher 1")
    other = make_person(field.team.other_site, field.team.stranger, field.now, number="elsewhere")
    answer = officer.post(cell(field, "catcher 1"), {"act": "hand-over", "person": other.pk})
    assert answer.status_code == 400
    assert Assignment.objects.get() == held


def test_a_day_off_that_is_due_is_asked_back_and_kept_once_ticked(officer: Client, field: Field) -> None:
    SiteRules.objects.filter(site=field.team.site).update(longest_run=1)
    put_on(field, "catcher 1", 0)
    said = {"act": "put-on", "seat": seat(field, "catcher", 1)}
    answer = officer.post(cell(field, "catcher 1", 2), said)
    assert answer.status_code == 400
    assert "A day off is due" in answer.content.decode()
    officer.post(cell(field, "catcher 1", 2), said | {"over_run": "on"})
    assert Assignment.objects.count() == 2


def test_the_proposal_is_shown_kept_and_undone(officer: Client, field: Field) -> None:
    query = grid(field).split("?")[1]
    page = officer.get(f"{reverse('roster-proposal')}?{query}")
    assert page.context["proposal"].gaps == ()
    kept = officer.post(f"{reverse('roster-proposal')}?{query}", {"seen": page.context["seen"]}, follow=True)
    assert "6 places were filled as proposed." in kept.content.decode()
    assert "complete" in kept.content.decode()
    undone = officer.post(f"{reverse('roster-undo')}?{query}", follow=True)
    assert "Undone: 6 places were filled as proposed." in undone.content.decode()
    assert not Assignment.objects.exists()
    assert (
        "nothing to undo" in officer.post(f"{reverse('roster-undo')}?{query}", follow=True).content.decode()
    )


def test_another_officer_undoes_nothing_of_mine(officer: Client, field: Field) -> None:
    officer.post(cell(field, "catcher 1"), {"act": "put-on", "seat": seat(field, "catcher")})
    again = signed_in_as(field.team.officer)
    again.post(f"{reverse('roster-undo')}?{grid(field).split('?')[1]}")
    assert Assignment.objects.exists()


def test_an_empty_stretch_says_what_to_do(officer: Client, field: Field) -> None:
    page = officer.get(
        reverse("roster-grid"), {"site": field.team.site.pk, "first": field.day(100), "days": 7}
    )
    assert "No outing is planned on these days." in page.content.decode()


def test_a_member_asks_for_own_days_and_takes_them_back(field: Field) -> None:
    member = signed_in_as(field.team.member)
    path = reverse("wishes", args=[field.team.person.pk])
    said = {"kind": "cannot", "first_on": field.day(3), "last_on": field.day(2)}
    assert "The last day lies before the first." in member.post(path, said).content.decode()
    member.post(path, said | {"last_on": ""})
    wish = DayWish.objects.get()
    assert (wish.first_on, wish.last_on) == (field.day(3), field.day(3))
    member.post(reverse("wish-remove", args=[field.team.person.pk, wish.pk]))
    assert not DayWish.objects.exists()


def test_what_a_crew_needs_is_the_sites_own(officer: Client, field: Field) -> None:
    path = reverse("crew-shapes", args=[field.team.site.code])
    roles = {f"house-to-house-{role}": 0 for role in ("catcher", "vaccinator", "recorder", "driver", "lead")}
    none = officer.post(path, roles | {"method": "house-to-house"})
    assert none.status_code == 400
    officer.post(path, roles | {"method": "house-to-house", "house-to-house-driver": 2})
    assert "2 × driver" in shown(officer, field)


def test_who_cannot_come_and_is_on_the_roster_is_seen_by_the_officer(officer: Client, field: Field) -> None:
    put_on(field, "catcher 1")
    person = field.people["catcher 1"]
    wish_add(
        actor=field.team.officer,
        person=person,
        kind="cannot",
        first_on=field.day(1),
        last_on=None,
        now=field.now,
    )
    for page in (shown(officer, field), officer.get(cell(field, "catcher 1")).content.decode()):
        assert "can't come" in html.unescape(page)
    other = officer.get(reverse("outing", args=[field.outings[0].pk])).content.decode()
    assert "catcher 2" in other


def test_nobody_asked_off_or_due_for_a_day_off_takes_a_place_over(officer: Client, field: Field) -> None:
    put_on(field, "catcher 1")
    wish_add(
        actor=field.team.officer,
        person=field.people["catcher 2"],
        kind="cannot",
        first_on=field.day(1),
        last_on=None,
        now=field.now,
    )
    assert "hand-over" not in officer.get(cell(field, "catcher 1")).content.decode()
