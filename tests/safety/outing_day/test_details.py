"""Start, meeting place, telephone and note of an outing: kept whole or refused, and shown to its crews alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from staff.ground.errors import Conflict, Invalid
from staff.models import AuditEntry, Outing, OutingChange, User
from staff.rules.outing.outing_details import OutingDetails, instant_of
from staff.selectors.outing.outing_words import detail_rows, start_words
from staff.services.outing.crews import crew_left_set
from staff.services.outing.outing_details import outing_change
from staff.services.outing.outings import outing_cancel, outing_create, outing_move
from tests.factories import Team, make_user
from tests.safety.feed.test_feed import fetch
from tests.safety.outing_day.scenes import Day, clear_person, make_day, put_on

pytestmark = pytest.mark.django_db
DETAILS = OutingDetails(
    start_time=time(7, 30),
    meeting_place="Gate of the lower market",
    meeting_latitude=-1.2864,
    meeting_longitude=36.8172,
    day_phone="+000 111",
    note="Bring the long net.\nThe bridge is closed.",
)


@pytest.fixture(autouse=True)
def _stopped_clock(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    monkeypatch.setattr(timezone, "now", lambda: now)


def change(day: Day, details: OutingDetails = DETAILS, **values: Any) -> Outing:
    return outing_change(
        actor=day.team.officer, outing=day.outing, details=replace(details, **values), now=day.now
    )


def page(user: User, name: str, *args: object) -> str:
    client = Client()
    client.force_login(user)
    return client.get(reverse(name, args=args)).content.decode()


def test_a_change_is_kept_whole_with_what_stood_before(day: Day) -> None:
    change(day)
    change(day, day_phone="+000 222")
    day.outing.refresh_from_db()
    assert day.outing.details == replace(DETAILS, day_phone="+000 222")
    assert [row.details for row in OutingChange.objects.all()] == [OutingDetails(), DETAILS]
    entry = AuditEntry.objects.filter(action="outing.changed").latest("pk")
    assert (entry.detail["old"]["day_phone"], entry.detail["new"]["day_phone"]) == ("+000 111", "+000 222")
    assert entry.detail["new"]["start_time"] == "07:30:00"


def test_the_same_details_again_change_nothing(day: Day) -> None:
    change(day)
    change(day, note=f"  {DETAILS.note} ")
    assert OutingChange.objects.count() == 1


WRONG: dict[str, dict[str, Any]] = {
    "note": {"note": "x" * 1001},
    "meeting_place": {"meeting_place": "x" * 201},
    "day_phone": {"day_phone": "0" * 41},
    "meeting_latitude": {"meeting_latitude": 90.1},
    "meeting_longitude": {"meeting_longitude": None},
}


@pytest.mark.parametrize("field", WRONG)
def test_what_cant_be_is_refused_with_a_sentence_and_nothing_is_cut(day: Day, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        change(day, **WRONG[field])
    assert set(refused.value.fields) == {field} and refused.value.fields[field].endswith((".", ")."))
    day.outing.refresh_from_db()
    assert day.outing.details == OutingDetails() and not OutingChange.objects.exists()


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_position_is_a_number(day: Day, value: float) -> None:
    with pytest.raises(Invalid):
        change(day, meeting_latitude=value)


def test_of_nothing_nothing_is_shown(day: Day) -> None:
    assert detail_rows(day.outing) == []
    change(day)
    assert change(day, OutingDetails(note=" ")).details == OutingDetails()
    assert "outing-details" not in page(day.head, "outing", day.outing.pk)


def test_a_cancelled_outing_and_one_that_is_over_say_what_they_said(day: Day) -> None:
    with pytest.raises(Conflict) as over:
        outing_change(
            actor=day.team.officer, outing=day.outing, details=DETAILS, now=day.now + timedelta(days=1)
        )
    outing_cancel(actor=day.team.officer, outing=day.outing, reason="storm", now=day.now)
    with pytest.raises(Conflict) as cancelled:
        change(day)
    assert (over.value.code, cancelled.value.code) == ("outing-over", "outing-cancelled")


def test_once_every_crew_has_left_only_the_telephone_and_the_note_change(day: Day) -> None:
    change(day)
    crew_left_set(crew=day.crew, left_at=day.now)
    with pytest.raises(Conflict) as refused:
        change(day, start_time=time(9))
    assert refused.value.code == "crew-left"
    assert change(day, note="Come back by four.").note == "Come back by four."


def test_the_pages_of_the_crew_show_it_and_lead_there(day: Day) -> None:
    change(day)
    for name, args in (("outing", (day.outing.pk,)), ("kit", (day.outing.pk,)), ("me", ())):
        html = page(day.head, name, *args)
        assert "Gate of the lower market" in html and 'href="geo:-1.28640,36.81720"' in html, name
        assert 'href="tel:+000111"' in html and "The bridge is closed." in html, name
    person = day.people["catcher"]
    html = page(day.team.officer, "roster-cell", person.pk, day.outing.date.isoformat())
    assert "Gate of the lower market" in html
    assert "7:30" in page(day.team.officer, "outings")


def test_the_lead_of_another_outing_reads_neither_telephone_nor_place(day: Day) -> None:
    change(day)
    other = make_day_of(day, "other")
    client = Client()
    client.force_login(other)
    assert client.get(reverse("outing", args=[day.outing.pk])).status_code == 404
    said = client.get("/phone/crew/").content.decode()
    assert "+000 111" not in said and "lower market" not in said


def make_day_of(day: Day, name: str) -> User:
    """The account of somebody who leads an outing of their own that day."""
    user = make_user(name)
    person = clear_person(day.team, day.now, name, f"Test {name}")
    person.user = user
    person.save(update_fields=["user"])
    outing = outing_create(
        actor=day.team.officer,
        site_id=day.team.site.pk,
        date=day.outing.date,
        area="Elsewhere",
        method="house-to-house",
        now=day.now,
    )
    put_on(day.team, outing.crews.get(), [("lead", person)], day.now)
    return user


def test_the_phone_takes_it_along_for_the_lead(day: Day) -> None:
    change(day)
    client = Client()
    client.force_login(day.head)
    (told,) = client.get("/phone/crew/").json()["outings"]
    assert told["area"] == "Test Area"
    assert [row["href"] for row in told["rows"] if row["href"]] == ["geo:-1.28640,36.81720", "tel:+000111"]
    assert any("long net" in row["words"] for row in told["rows"])


def test_who_was_taken_off_reads_it_no_more(day: Day) -> None:
    change(day)
    outing_move(
        actor=day.team.officer, outing=day.outing, date=day.outing.date + timedelta(days=1), now=day.now
    )
    assert detail_rows(Outing.objects.get(pk=day.outing.pk))[0].words.startswith("07:30")
    outing_cancel(actor=day.team.officer, outing=day.outing, reason="storm", now=day.now)
    client = Client()
    client.force_login(day.head)
    assert client.get(reverse("outing", args=[day.outing.pk])).status_code == 404


# Calendar (RFC 5545: 3.8.2.4 DTSTART, 3.8.7.4 SEQUENCE)


def test_the_calendar_says_the_hour_and_nothing_else_and_counts_on(day: Day) -> None:
    (event,) = fetch(day.head, day.now)
    assert (event.dtstart.value, event.sequence.value) == (day.outing.date, "0")
    change(day)
    (event,) = fetch(day.head, day.now)
    at = datetime.combine(day.outing.date, time(7, 30), day.team.site.zone)
    assert (event.dtstart.value, event.sequence.value) == (at, "1")
    assert "market" not in str(event) and "000" not in event.summary.value
    outing_move(
        actor=day.team.officer, outing=day.outing, date=day.outing.date + timedelta(days=1), now=day.now
    )
    (event,) = fetch(day.head, day.now)
    assert (event.dtstart.value, event.sequence.value) == (at + timedelta(days=1), "2")
    change(day, OutingDetails())
    assert [event.dtstart.value for event in fetch(day.head, day.now)] == [day.outing.date]


# Berlin leaves 02:00 to 03:00 out on 29 March 2026 (tz database: Rule EU).


def berlin(team: Team) -> None:
    team.site.time_zone = "Europe/Berlin"
    team.site.save(update_fields=["time_zone"])


def test_a_time_the_clocks_leave_out_is_refused_that_day(team: Team, now: datetime) -> None:
    berlin(team)
    day = make_day(team, now, days_ahead=27)
    assert day.outing.date == date(2026, 3, 29)
    with pytest.raises(Invalid, match="") as refused:
        change(day, start_time=time(2, 30))
    assert set(refused.value.fields) == {"start_time"}


def test_moved_onto_such_a_day_it_starts_when_the_clocks_have_jumped(team: Team, now: datetime) -> None:
    berlin(team)
    day = make_day(team, now, days_ahead=26)
    change(day, start_time=time(2, 30))
    outing_move(actor=team.officer, outing=day.outing, date=date(2026, 3, 29), now=now)
    moved = Outing.objects.select_related("site").get(pk=day.outing.pk)
    assert moved.starts_at == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert start_words(moved).startswith("03:30")


def test_of_an_hour_the_clocks_repeat_the_first_counts(team: Team) -> None:
    berlin(team)
    at = instant_of(date(2026, 10, 25), time(2, 30), team.site.zone)
    assert at == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


# Doors


def test_the_officer_plans_and_changes_it_by_page(team: Team, now: datetime) -> None:
    client = Client()
    client.force_login(team.officer)
    said = {"site": team.site.pk, "date": "2026-03-05", "area": "North", "method": "fixed-post", "crews": 1}
    said |= {"dogs_expected": 1, "start_time": "06:15", "meeting_place": "Bridge"}
    client.post(reverse("outing-add"), said)
    outing = Outing.objects.get()
    assert outing.details == OutingDetails(start_time=time(6, 15), meeting_place="Bridge")
    url = reverse("outing-details", args=[outing.pk])
    assert 'value="06:15"' in client.get(url).content.decode()
    refused = client.post(url, {"start_time": "06:15", "meeting_latitude": "5", "note": "x" * 1001})
    html = refused.content.decode()
    assert refused.status_code == 400 and 'href="#id_note"' in html and "1001" in html
    half = client.post(url, {"meeting_latitude": "5"})
    assert half.status_code == 400 and 'href="#id_meeting_longitude"' in half.content.decode()
    assert client.post(url, {"day_phone": "+000 1"}).status_code == 302
    outing.refresh_from_db()
    assert outing.details == OutingDetails(day_phone="+000 1")
