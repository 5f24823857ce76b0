"""Dogs and hours that rates are counted against: each once, whoever counted them."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from safety.models import HandledTally
from safety.selectors.lessons.denominators import Denominators, counted_by_phone, denominators
from safety.services.crew_day.returns import return_void
from staff.models import Outing, Person
from staff.services.record.holds import hold_place
from tests.factories import make_person
from tests.safety.outing_day.scenes import Day

pytestmark = pytest.mark.django_db


def counted(day: Day, sender: Person, task: str, count: int, outing: Outing | None = None) -> None:
    HandledTally.objects.create(
        site=sender.site,
        sender=sender,
        date=day.outing.date,
        task=task,
        count=count,
        outing=outing,
        made_at=day.now,
    )


def found(day: Day, first: date | None = None, last: date | None = None) -> Denominators:
    return denominators(day.team.site, first or day.outing.date, last or day.outing.date)


def test_dogs_by_task_and_hours_of_everybody_come_from_the_return(day: Day) -> None:
    day.back(hours=Decimal("5.5"), people=4, dogs=84, tallies={"netting": 80, "injecting": 84})
    assert found(day) == Denominators(84, {"netting": 80, "injecting": 84}, Decimal(22), 1, 0)


def test_a_return_takes_the_place_of_its_crews_phones(day: Day) -> None:
    counted(day, day.people["catcher"], "netting", 30)
    counted(day, day.people["vaccinator"], "injecting", 34, day.outing)
    assert counted_by_phone(day.crew) == {"netting": 30, "injecting": 34}
    assert found(day) == Denominators(34, {"netting": 30, "injecting": 34}, Decimal(0), 0, 1)
    row = day.back(dogs=40, tallies={"netting": 40})
    assert found(day) == Denominators(40, {"netting": 40}, Decimal(20), 1, 0)
    return_void(actor=day.head, crew_return=row, reason="wrong", now=day.now)
    assert found(day).dogs == 34


def test_two_senders_at_one_task_add_up_and_another_crew_keeps_its_own(day: Day) -> None:
    counted(day, day.people["catcher"], "netting", 10)
    counted(day, day.people["recorder"], "netting", 5)
    other = day.outing.crews.create(name="Crew 2")
    assert counted_by_phone(day.crew) == {"netting": 15} and counted_by_phone(other) == {}
    day.outing.assignments.filter(person=day.people["recorder"]).update(crew=other)
    day.back(dogs=12)
    assert (found(day).dogs, found(day).by_phone) == (17, 1)


def test_who_left_with_the_crew_was_on_it_whatever_the_roster_says_since(day: Day) -> None:
    day.leave()
    catcher = day.people["catcher"]
    today = day.team.site.local_date(day.now)
    hold_place(actor=day.team.officer, person=catcher, starts_on=today, reason="bitten", now=day.now)
    assert not day.crew.assignments.filter(person=catcher).exists()
    counted(day, catcher, "netting", 9)
    assert counted_by_phone(day.crew) == {"netting": 9}


def test_a_count_without_a_crew_gives_way_to_any_return_it_may_be_part_of(day: Day) -> None:
    visitor = make_person(day.team.site, day.team.officer, day.now, number="v", name="Visitor")
    counted(day, visitor, "holding", 7)
    assert (found(day).dogs, found(day).by_phone) == (7, 1)
    day.back(dogs=20)
    assert (found(day).dogs, found(day).by_phone) == (20, 0)


def test_a_count_for_an_outing_of_one_crew_is_that_crews(day: Day) -> None:
    counted(day, day.spare, "holding", 7, day.outing)
    assert counted_by_phone(day.crew) == {"holding": 7}


def test_the_dates_are_those_of_the_outings_both_ends_included_and_the_site_is_the_site(day: Day) -> None:
    day.back(dogs=20, now=day.now + timedelta(days=3))
    on, one = day.outing.date, timedelta(days=1)
    dogs = [
        found(day, *days).dogs for days in ((on - one, on - one), (on, on), (on - one, on), (on, on + one))
    ]
    assert dogs == [0, 20, 20, 20] and found(day, on + one, on + 4 * one).dogs == 0
    assert denominators(day.team.other_site, on, on) == Denominators(0, {}, Decimal(0), 0, 0)


def test_a_published_rate_comes_out_of_its_dogs(day: Day) -> None:
    """43 bites in 127,000 dogs are 0.339 per 1,000 (Am J Trop Med Hyg 2021;105(6):1582-1589)."""
    other = day.outing.crews.create(name="Crew 2")
    day.back(dogs=100_000)
    other.returns.create(
        hours=5, people=2, dogs=27_000, incidents=43, near_misses=0, none_said=False,
        sharps_disposed=True, sharps_note="clinic", recorded_by=day.team.officer, recorded_at=day.now,
    )  # fmt: skip
    assert round(1000 * 43 / found(day).dogs, 3) == 0.339
