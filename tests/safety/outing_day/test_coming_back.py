"""A crew is back: dogs, hours, what happened or "none", and the sharps, on the day or within a week."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from safety.errors import Conflict, Invalid, NotAllowed
from safety.models import CrewReturn
from safety.services.crew_day.returns import return_void
from staff.models import AuditEntry
from staff.services.outing.outings import outing_cancel
from tests.factories import Team
from tests.safety.outing_day.scenes import Day, make_day

pytestmark = pytest.mark.django_db


def test_what_a_crew_brings_back_is_kept(day: Day) -> None:
    row = day.back(hours=Decimal("5.25"), tallies={"netting": 80, "injecting": 84, "holding": 0})
    assert (row.hours, row.people, row.dogs, row.none_said) == (Decimal("5.25"), 4, 84, True)
    assert {tally.task: tally.dogs for tally in row.tallies.all()} == {"netting": 80, "injecting": 84}
    assert AuditEntry.objects.get(action="return.recorded").actor == day.head


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"none_said": False}, "none_said"),
        ({"incidents": 1}, "none_said"),
        ({"near_misses": 1}, "none_said"),
        ({"incidents": -1, "near_misses": 2}, "incidents"),
        ({"hours": Decimal(0)}, "hours"),
        ({"hours": Decimal("24.25")}, "hours"),
        ({"people": 0}, "people"),
        ({"sharps_note": " "}, "sharps_note"),
        ({"sharps_disposed": False, "sharps_note": ""}, "sharps_note"),
        ({"dogs": 83, "tallies": {"netting": 84}}, "dogs"),
        ({"dogs": -1}, "dogs"),
        ({"tallies": {"petting": 1}}, "dogs"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_field(
    day: Day, changes: dict[str, object], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        day.back(**changes)
    assert list(refused.value.fields) == [field] and not CrewReturn.everything.exists()


def test_an_empty_answer_is_never_none(day: Day) -> None:
    with pytest.raises(Invalid, match="isn't “none”"):
        day.back(none_said=False)
    assert day.back(none_said=False, near_misses=2).near_misses == 2


@pytest.mark.parametrize(("days", "kept"), [(-1, False), (0, True), (7, True), (8, False)])
def test_it_is_recorded_on_the_day_or_within_a_week(day: Day, days: int, kept: bool) -> None:
    at = day.now + timedelta(days=days)
    if kept:
        assert day.back(now=at).recorded_at == at
        return
    with pytest.raises(Conflict) as refused:
        day.back(now=at)
    assert refused.value.code in ("outing-ahead", "outing-over")


def test_the_week_ends_at_the_sites_midnight(team: Team, now: datetime) -> None:
    """Nairobi is three hours ahead of UTC (tz database): 9 March ends there at 21:00 UTC."""
    day = make_day(team, now)
    ends = datetime(2026, 3, 9, 21, tzinfo=UTC)
    with pytest.raises(Conflict):
        day.back(now=ends)
    day.back(now=ends - timedelta(seconds=1))


def test_nobody_comes_back_from_a_cancelled_outing(day: Day) -> None:
    outing_cancel(actor=day.team.officer, outing=day.outing, reason="rain", now=day.now)
    with pytest.raises(Conflict) as refused:
        day.back(by=day.team.officer)
    assert refused.value.code == "outing-cancelled"


def test_only_who_leads_or_keeps_the_crew_records_it(day: Day) -> None:
    for actor in (day.team.member, day.team.liaison, day.team.stranger):
        with pytest.raises(NotAllowed):
            day.back(by=actor)
    for actor in (day.head, day.team.lead, day.team.officer):
        return_void(actor=actor, crew_return=day.back(by=actor), reason="again", now=day.now)


def test_a_return_is_recorded_once_and_anew_after_a_void(day: Day) -> None:
    first = day.back()
    with pytest.raises(Conflict) as refused:
        day.back(by=day.team.officer)
    assert refused.value.code == "back-already"
    return_void(actor=day.head, crew_return=first, reason="dogs of two crews", now=day.now)
    assert day.back(dogs=40) == CrewReturn.objects.get()
    with pytest.raises(Conflict, match="voided already"):
        return_void(actor=day.head, crew_return=first, reason="again", now=day.now)
    assert CrewReturn.everything.count() == 2


def test_after_the_week_only_an_officer_voids_and_a_void_says_why(day: Day) -> None:
    row, later = day.back(), day.now + timedelta(days=8)
    with pytest.raises(Invalid):
        return_void(actor=day.head, crew_return=row, reason="", now=day.now)
    for actor in (day.head, day.team.lead, day.team.stranger):
        with pytest.raises(NotAllowed):
            return_void(actor=actor, crew_return=row, reason="x", now=later)
    return_void(actor=day.team.officer, crew_return=row, reason="x", now=later)


def test_the_database_refuses_silence_and_two_returns(day: Day) -> None:
    kept = day.back()
    for changes in ({"pk": None}, {"none_said": False}, {"incidents": 1}, {"hours": 0}, {"sharps_note": ""}):
        row = CrewReturn.objects.get(pk=kept.pk)
        for name, value in changes.items():
            setattr(row, name, value)
        with pytest.raises(IntegrityError), transaction.atomic():
            row.save()
