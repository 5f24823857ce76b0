"""One briefing for several people: found, ticked, recorded together and once."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from staff.models import AuditEntry, Briefing, Person, SiteRules
from staff.selectors.record.readiness import readiness_of
from staff.services.outing.roster import roster_assign
from tests.factories import Team, give_doses, make_outing, make_person
from tests.staff.pages.scenes import clear_person, real_now, signed_in_as

URL = reverse("briefings-add")


@pytest.fixture
def asking(team: Team) -> Team:
    """The team's site asks for a briefing a year; three more people, each clear but for that."""
    SiteRules.objects.filter(site=team.site).update(briefing_months=12)
    for number in ("20", "21", "22"):
        person = make_person(team.site, team.officer, real_now(), number=number, name=f"Person {number}")
        give_doses(person, team.officer, real_now(), 60, 53, 39)
    return team


def _today(team: Team) -> date:
    return team.site.local_date(real_now())


def _keys(team: Team, *numbers: str) -> list[int]:
    return list(team.site.people.filter(number__in=numbers).values_list("pk", flat=True))


def _post(team: Team, client: Client | None = None, **data: Any) -> Any:
    sent = {"site": team.site.pk, "held_on": _today(team), "held_by": "Trainer", "do": "record"} | data
    return (client or signed_in_as(team.officer)).post(URL, sent)


def _rows(answer: Any) -> dict[str, bool]:
    """Whether each person shown is ticked, by number."""
    return {row.person.number: ticked for row, ticked in answer.context["rows"]}


def test_everybody_ticked_is_briefed_and_clear_and_nobody_else_is(asking: Team) -> None:
    answer = _post(asking, people=_keys(asking, "20", "21"))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("readiness"))
    clear = {
        person.number: readiness_of(person, _today(asking)).clear
        for person in Person.objects.filter(site=asking.site, number__in=("20", "21", "22"))
    }
    assert clear == {"20": True, "21": True, "22": False}
    assert set(Briefing.objects.values_list("person__number", "held_by")) == {
        ("20", "Trainer"),
        ("21", "Trainer"),
    }
    entries = AuditEntry.objects.filter(action="briefing.recorded")
    assert {entry.person.number for entry in entries if entry.person} == {"20", "21"}
    assert {entry.detail["held_on"] for entry in entries} == {_today(asking).isoformat()}


def test_sent_twice_it_is_recorded_once_and_said(asking: Team) -> None:
    people = _keys(asking, "20", "21")
    _post(asking, people=people)
    kept = list(Briefing.objects.values_list("pk", "held_by"))
    client = signed_in_as(asking.officer)
    page = client.get(_post(asking, client, people=people, held_by="Somebody else")["Location"])
    assert "2 people had it on record already. Nothing was added." in page.content.decode()
    assert list(Briefing.objects.values_list("pk", "held_by")) == kept
    page = client.get(_post(asking, client, people=_keys(asking, "20", "22"))["Location"])
    assert "on record for 1 person; clearance follows it. 1 person had it" in page.content.decode()


@pytest.mark.parametrize("days", [1, 2, 400])
def test_a_briefing_ahead_is_refused_whole_and_the_ticks_stay(asking: Team, days: int) -> None:
    answer = _post(asking, people=_keys(asking, "20"), held_on=_today(asking) + timedelta(days=days))
    assert answer.status_code == 400
    page = answer.content.decode()
    assert "is in the future; record it on the day it happens" in page
    assert 'href="#id_held_on"' in page
    assert _rows(answer)["20"] and not _rows(answer)["21"]
    assert not Briefing.objects.exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"held_on": "2026-02-30"}, "held_on"), ({"held_on": ""}, "held_on"), ({"people": []}, "people_0")],
)
def test_what_is_missing_or_impossible_is_named(asking: Team, changes: dict[str, Any], field: str) -> None:
    answer = _post(asking, **({"people": _keys(asking, "20")} | changes))
    assert answer.status_code == 400
    page = answer.content.decode()
    assert f'href="#id_{field}"' in page and f'id="id_{field}"' in page
    assert not Briefing.objects.exists()


@pytest.mark.parametrize("foreign", ["0", "999999", "x", "other site"])
def test_somebody_of_another_site_is_refused_and_nobody_is_recorded(asking: Team, foreign: str) -> None:
    if foreign == "other site":
        other = make_person(asking.other_site, asking.stranger, real_now(), number="90")
        foreign = str(other.pk)
    answer = _post(asking, people=[*_keys(asking, "20"), foreign])
    assert answer.status_code == 400
    assert "nothing was recorded" in answer.content.decode() or "of this site" in answer.content.decode()
    assert not Briefing.objects.exists()


def test_a_site_of_somebody_else_is_refused(asking: Team) -> None:
    answer = _post(asking, site=asking.other_site.pk, people=_keys(asking, "20"))
    assert answer.status_code == 400
    assert 'href="#id_site"' in answer.content.decode()
    assert asking.other_site.name not in answer.content.decode()
    assert not Briefing.objects.exists()


def test_people_are_found_by_name_number_and_what_they_lack(asking: Team) -> None:
    client = signed_in_as(asking.officer)
    _post(asking, client, people=_keys(asking, "20"))

    def shown(**asked: str) -> set[str]:
        return set(_rows(client.get(URL, asked)))

    assert shown() == {"7", "20", "21", "22"}
    assert shown(text="pErSoN 2") == {"20", "21", "22"}
    assert shown(text="21") == {"21"}
    assert shown(lacking="1") == {"7", "21", "22"}
    assert shown(text="nobody at all") == set()
    Person.objects.filter(number="22").update(active_until=_today(asking) - timedelta(days=1))
    assert shown() == {"7", "20", "21"}


def test_everybody_on_an_outing_can_be_ticked_and_ticks_survive_another_search(team: Team) -> None:
    """Nothing is recorded before the last button is pressed."""
    on, off = clear_person(team, "20", "On It"), clear_person(team, "21", "Off It")
    outing, crew = make_outing(team.site, team.officer, real_now())
    roster_assign(actor=team.officer, outing=outing, crew=crew, person=on, role="catcher", now=real_now())
    client = signed_in_as(team.officer)
    ticked = client.post(URL, {"site": team.site.pk, "outing": outing.pk, "do": "tick"})
    assert _rows(ticked) == {"20": True}
    then = client.post(URL, {"site": team.site.pk, "text": "off", "people": [on.pk], "do": "show"})
    assert _rows(then) == {"20": True, "21": False}
    everybody = client.post(URL, {"site": team.site.pk, "people": [off.pk], "do": "tick"})
    assert _rows(everybody) == {"7": True, "20": True, "21": True}
    nobody = client.post(URL, {"site": team.site.pk, "people": [on.pk], "do": "untick"})
    assert set(_rows(nobody).values()) == {False}
    assert not Briefing.objects.exists()


def test_an_outing_of_another_site_is_not_offered(team: Team) -> None:
    outing, _crew = make_outing(team.other_site, team.stranger, real_now())
    answer = signed_in_as(team.officer).get(URL, {"outing": outing.pk})
    assert answer.status_code == 400
    assert outing.area not in answer.content.decode()


def test_the_date_written_is_kept_while_looking_for_others(team: Team) -> None:
    day = (_today(team) - timedelta(days=3)).isoformat()
    answer = signed_in_as(team.officer).post(
        URL, {"site": team.site.pk, "held_on": day, "held_by": "Trainer", "do": "show"}
    )
    page = answer.content.decode()
    assert answer.status_code == 200
    assert f'value="{day}"' in page and 'value="Trainer"' in page


def test_the_board_leads_the_officer_here_while_somebody_lacks_a_briefing(asking: Team) -> None:
    link = f"{URL}?site={asking.site.pk}&amp;lacking=1"
    board = reverse("readiness")
    assert link in signed_in_as(asking.officer).get(board).content.decode()
    assert link not in signed_in_as(asking.liaison).get(board).content.decode()
    _post(asking, people=list(asking.site.people.values_list("pk", flat=True)))
    assert link not in signed_in_as(asking.officer).get(board).content.decode()


def test_a_thousand_people_and_more_are_recorded_in_one_form(team: Team) -> None:
    many = [Person(site=team.site, number=f"M{n}", name=f"Many {n}", language="en") for n in range(1100)]
    Person.objects.bulk_create(many)
    people = list(team.site.people.filter(number__startswith="M").values_list("pk", flat=True))
    assert _post(team, people=people).status_code == 302
    assert Briefing.objects.count() == 1100


def test_the_page_asks_the_database_as_often_for_many_people_as_for_few(
    asking: Team, django_assert_max_num_queries: Any
) -> None:
    client = signed_in_as(asking.officer)
    with django_assert_max_num_queries(30):
        assert client.get(URL).status_code == 200
