"""What nobody would type: the new pages answer it with 400 or 404, never with a fault of the service."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from staff.models import AuditEntry, Site
from staff.services.outing.roster import roster_assign
from staff.services.record.holds import hold_place
from tests.factories import Team
from tests.staff.field_scenes import campaign_of
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.roster_scene import Field, make_field

pytestmark = pytest.mark.django_db
HUGE = str(10**30)
EDGES = ["0001-01-01", "0001-01-03", "9999-12-31", "9999-12-25", "2028-02-29", "20261201", "2026-W50-1"]


@pytest.fixture
def field(team: Team) -> Field:
    return make_field(team, real_now(), each=2)


@pytest.fixture
def officer(field: Field) -> Client:
    client = signed_in_as(field.team.officer)
    client.raise_request_exception = False
    return client


def cell(field: Field, name: str, day: str) -> str:
    return reverse("roster-cell", args=[field.people[name].pk, day])


@pytest.mark.parametrize("day", EDGES)
def test_a_day_at_the_edge_of_the_calendar_is_no_fault(day: str, field: Field, officer: Client) -> None:
    assert officer.get(cell(field, "catcher 1", day)).status_code < 500


@pytest.mark.parametrize("day", EDGES)
@pytest.mark.parametrize("page", ["roster-grid", "roster-proposal"])
def test_a_roster_at_the_edge_of_the_calendar_is_no_fault(
    day: str, page: str, field: Field, officer: Client
) -> None:
    asked = {"site": field.team.site.pk, "first": day, "days": 28}
    assert officer.get(reverse(page), asked).status_code < 500


@pytest.mark.parametrize(
    "asked", [{"days": "999"}, {"days": HUGE}, {"site": HUGE}, {"first": ""}, {"site": "x", "days": "-1"}]
)
@pytest.mark.parametrize("page", ["roster-grid", "roster-proposal"])
def test_a_roster_asked_for_oddly_is_no_fault(
    asked: dict[str, str], page: str, field: Field, officer: Client
) -> None:
    said = {"site": field.team.site.pk, "first": field.today.isoformat(), "days": 14, **asked}
    assert officer.get(reverse(page), said).status_code < 500


@pytest.mark.parametrize("seat", ["", "1", "x:catcher", "1:2:3", f"{HUGE}:catcher", ":", "\x00"])
@pytest.mark.parametrize("act", ["put-on", "move"])
def test_a_place_that_is_none_is_no_fault(seat: str, act: str, field: Field, officer: Client) -> None:
    page = cell(field, "catcher 1", field.day(1).isoformat())
    assert officer.post(page, {"act": act, "seat": seat}).status_code < 500


@pytest.mark.parametrize("person", ["", "x", HUGE, "-1", "\x00"])
def test_a_hand_over_to_nobody_is_no_fault(person: str, field: Field, officer: Client) -> None:
    crew = field.crew_of(0)
    roster_assign(
        actor=field.team.officer,
        outing=crew.outing,
        crew=crew,
        person=field.people["catcher 1"],
        role="catcher",
        now=field.now,
    )
    page = cell(field, "catcher 1", field.day(1).isoformat())
    assert officer.post(page, {"act": "hand-over", "person": person}).status_code == 400


@pytest.mark.parametrize("back", [("x", "1"), ("0001-01-01", HUGE), ("9999-12-31", "9" * 5000)])
def test_a_way_back_that_is_none_is_no_fault(back: tuple[str, str], field: Field, officer: Client) -> None:
    page = cell(field, "catcher 1", field.day(1).isoformat())
    assert officer.get(page, {"first": back[0], "days": back[1]}).status_code < 500


@pytest.mark.parametrize("outings", ["x", HUGE, "-1", "\x00"])
def test_outings_told_together_that_are_none_are_no_fault(
    outings: str, field: Field, officer: Client
) -> None:
    campaign = campaign_of(field.team, field.now)
    said = {"outings": [outings], "told_on": field.today, "who": "owners", "how": "visit"}
    assert officer.post(reverse("campaign-field-told", args=[campaign.pk]), said).status_code < 500


@pytest.mark.parametrize("day", EDGES[:4])
def test_told_at_the_edge_of_the_calendar_is_no_fault(day: str, field: Field, officer: Client) -> None:
    said = {"told_on": day, "who": "owners", "how": "visit"}
    assert officer.post(reverse("outing-told", args=[field.outings[0].pk]), said).status_code < 500


@pytest.mark.parametrize("day", EDGES[:4])
def test_a_move_to_the_edge_of_the_calendar_is_no_fault(day: str, field: Field, officer: Client) -> None:
    outing = field.outings[0]
    assert officer.post(reverse("outing-move", args=[outing.pk]), {"date": day}).status_code < 500
    for page in (reverse("outing", args=[outing.pk]), reverse("outings"), reverse("kit", args=[outing.pk])):
        assert officer.get(page).status_code < 500


@pytest.mark.parametrize(
    "ticked_at",
    [
        "0001-01-01T00:00:00+03:00",
        "0001-01-01T00:00:00Z",
        "0001-01-01T00:00",
        "9999-12-31T23:59:59-11:00",
        "x",
    ],
)
@pytest.mark.parametrize("zone", ["Africa/Nairobi", "America/Lima"])
def test_a_tick_at_the_edge_of_the_calendar_is_no_fault(
    ticked_at: str, zone: str, field: Field, officer: Client
) -> None:
    Site.objects.filter(pk=field.team.site.pk).update(time_zone=zone)
    said = {"crew": field.crew_of(0).pk, "item": "soap", "there": "yes", "ticked_at": ticked_at}
    page = reverse("kit-tick", args=[field.outings[0].pk])
    answer = officer.post(page, said, headers={"Accept": "application/json"})
    assert answer.status_code < 500


@pytest.mark.parametrize("odd", [{"crew": HUGE}, {"crew": "x"}, {"item": "\x00"}, {"account": HUGE}])
def test_a_tick_of_nothing_is_no_fault(odd: dict[str, str], field: Field, officer: Client) -> None:
    said = {"crew": field.crew_of(0).pk, "item": "soap", "there": "yes", **odd}
    page = reverse("kit-tick", args=[field.outings[0].pk])
    assert officer.post(page, said, headers={"Accept": "application/json"}).status_code < 500


@pytest.mark.parametrize("days", [("0001-01-01", ""), ("9999-12-31", "9999-12-31"), ("9999-12-31", "")])
def test_wishes_at_the_edge_of_the_calendar_are_no_fault(
    days: tuple[str, str], field: Field, officer: Client
) -> None:
    page = reverse("wishes", args=[field.people["catcher 1"].pk])
    said = {"kind": "cannot", "first_on": days[0], "last_on": days[1]}
    assert officer.post(page, said).status_code < 500
    assert officer.get(page).status_code < 500
    assert officer.get(reverse("roster-grid")).status_code < 500


@pytest.mark.parametrize("day", EDGES[:4])
def test_an_area_at_the_edge_of_the_calendar_is_no_fault(day: str, field: Field, officer: Client) -> None:
    campaign = campaign_of(field.team, field.now)
    said = {
        "name": "Mill Lane",
        "method": "house-to-house",
        "first_on": field.today,
        "days": 2,
        "crews": 1,
        "adults": 9,
        "puppies": 2,
        "riders": 0,
    }
    officer.post(reverse("campaign-area-add", args=[campaign.pk]), said)
    area = campaign.areas.get()
    page = reverse("campaign-area-change", args=[campaign.pk, area.pk])
    assert officer.post(page, said | {"first_on": day}).status_code < 500
    shown = officer.get(reverse("campaign-field", args=[campaign.pk]), {"weekdays": ["0", "6"]})
    assert shown.status_code < 500


def test_the_reasons_why_somebody_is_not_clear_are_read_on_record(field: Field, officer: Client) -> None:
    person = field.people["catcher 1"]
    hold_place(actor=field.team.officer, person=person, reason="hurt", now=field.now, starts_on=field.today)
    before = AuditEntry.objects.filter(action__endswith="seen").count()
    page = officer.get(cell(field, "catcher 1", field.day(1).isoformat())).content.decode()
    assert "not clear" in page
    assert AuditEntry.objects.filter(action__endswith="seen").count() > before


def test_a_hand_over_that_takes_a_day_off_away_is_asked_back_as_putting_on_is(
    field: Field, officer: Client
) -> None:
    team = field.team
    rules = team.site.rules
    rules.longest_run, rules.rest_days = 1, 1
    rules.save()
    first, second = field.crew_of(0), field.crew_of(1)
    for crew, name in ((first, "catcher 2"), (second, "catcher 1")):
        roster_assign(
            actor=team.officer,
            outing=crew.outing,
            crew=crew,
            person=field.people[name],
            role="catcher",
            now=field.now,
        )
    page = cell(field, "catcher 1", field.day(2).isoformat())
    answer = officer.post(page, {"act": "hand-over", "person": field.people["catcher 2"].pk})
    assert answer.status_code == 400
