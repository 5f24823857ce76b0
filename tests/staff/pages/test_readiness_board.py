"""The board: who may go out on a date, why not, and from when."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from staff.models import AuditEntry, Dose, Person, PersonCrewRole
from staff.services.record.recompute import recompute_catch_up
from tests.factories import Team, give_doses, make_person
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as


def _rows(response: Any) -> dict[str, Any]:
    return {row.readiness.person.name: row for row in response.context["rows"]}


def test_the_board_says_who_is_clear_who_is_not_and_why(team: Team) -> None:
    clear_person(team)
    response = signed_in_as(team.officer).get(reverse("readiness"))
    rows = _rows(response)
    assert rows["Clear Person"].readiness.clear
    assert not rows["Test Member"].readiness.clear
    assert response.context["clear"] == 1
    assert response.context["not_clear"] == 1
    html = response.content.decode()
    assert "No dose on record; 3 are needed before field work." in html


def test_the_board_says_when_somebody_will_be_clear_if_doses_come_on_time(team: Team) -> None:
    """Days 0, 7 and 21: WHO position paper, WER 2018;93(16):201-220, read in a secondary copy."""
    give_doses(team.person, team.officer, real_now(), 7, 0)
    row = _rows(signed_in_as(team.officer).get(reverse("readiness")))["Test Member"]
    assert row.clear_from.on == team.site.local_date(real_now()) + timedelta(days=14)


def test_no_date_is_promised_while_something_else_stands_in_the_way(team: Team) -> None:
    client = signed_in_as(team.officer)
    today = team.site.local_date(real_now())
    client.post(reverse("hold-add", args=[team.person.pk]), {"starts_on": today, "reason": "fever"})
    row = _rows(client.get(reverse("readiness")))["Test Member"]
    assert row.clear_from.on is None


def test_another_date_gives_another_answer(team: Team) -> None:
    clear_person(team)
    client = signed_in_as(team.officer)
    before = team.site.local_date(real_now()) - timedelta(days=40)
    rows = _rows(client.get(reverse("readiness"), {"on": before.isoformat()}))
    assert not rows["Clear Person"].readiness.clear


def test_crew_role_and_state_narrow_the_board(team: Team) -> None:
    clear = clear_person(team)
    client = signed_in_as(team.officer)
    assert set(_rows(client.get(reverse("readiness"), {"state": "clear"}))) == {"Clear Person"}
    assert set(_rows(client.get(reverse("readiness"), {"state": "not-clear"}))) == {"Test Member"}
    PersonCrewRole.objects.filter(person=clear, role="driver").delete()
    assert set(_rows(client.get(reverse("readiness"), {"role": "driver"}))) == {"Test Member"}


def test_who_has_left_is_shown_only_when_asked_for(team: Team) -> None:
    today = team.site.local_date(real_now())
    Person.objects.filter(pk=team.person.pk).update(active_until=today - timedelta(days=1))
    client = signed_in_as(team.officer)
    assert _rows(client.get(reverse("readiness"))) == {}
    assert set(_rows(client.get(reverse("readiness"), {"state": "left"}))) == {"Test Member"}


def test_a_crew_lead_sees_the_state_and_no_reason(team: Team) -> None:
    response = signed_in_as(team.lead).get(reverse("readiness"))
    html = response.content.decode()
    assert "Test Member" in html
    assert "not clear" in html
    assert "No dose on record" not in html
    assert reverse("person", args=[team.person.pk]) not in html


def test_an_officer_sees_no_other_site(team: Team) -> None:
    stranger = signed_in_as(team.stranger)
    assert _rows(stranger.get(reverse("readiness"))) == {}
    assert stranger.get(reverse("readiness"), {"site": team.site.pk}).status_code == 400


def test_a_look_at_the_board_is_written_down_once(team: Team) -> None:
    signed_in_as(team.officer).get(reverse("readiness"))
    assert AuditEntry.objects.get(action="board.seen").site == team.site


def test_a_date_that_is_none_is_explained_at_its_field(team: Team) -> None:
    response = signed_in_as(team.officer).get(reverse("readiness"), {"on": "2026-02-30"})
    assert response.status_code == 400
    assert 'href="#id_on"' in response.content.decode()


def _crowd(team: Team, size: int) -> None:
    """People in bulk: the services would be right too, and slow."""
    now = real_now()
    today = team.site.local_date(now)
    people = Person.objects.bulk_create(
        Person(site=team.site, number=f"c{index}", name=f"Person {index:03}") for index in range(size)
    )
    PersonCrewRole.objects.bulk_create(PersonCrewRole(person=one, role="catcher") for one in people)
    Dose.objects.bulk_create(
        Dose(
            person=one,
            given_on=today - timedelta(days=days),
            route="IM",
            evidence="certificate-seen",
            recorded_by=team.officer,
            recorded_at=now,
            recorded_on=today,
        )
        for index, one in enumerate(people)
        for days in (60, 53, 39)[: index % 4]
    )
    recompute_catch_up(now=now)


@pytest.mark.parametrize("size", [4, 60])
def test_the_board_asks_the_database_as_often_for_many_people_as_for_few(
    team: Team, size: int, django_assert_max_num_queries: Any
) -> None:
    _crowd(team, size)
    client = signed_in_as(team.officer)
    with django_assert_max_num_queries(40):
        response = client.get(reverse("readiness"))
    assert response.context["clear"] == size // 4
    assert response.context["not_clear"] == size - size // 4 + 1


def test_the_number_of_clear_people_is_counted_for_each_crew_role(team: Team) -> None:
    clear_person(team)
    make_person(team.site, team.officer, real_now(), number="9", name="Not Clear")
    by_role = dict(signed_in_as(team.officer).get(reverse("readiness")).context["by_role"])
    assert by_role["catcher"] == 1
