"""`manage.py verify_records` on rows no rule can read: each is named, and hides nothing that stands after it."""

from __future__ import annotations

from datetime import datetime
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from staff import guards
from staff.models import Person
from tests.factories import Team, give_doses, make_person
from tests.safety.outbox.samples import make_course

pytestmark = pytest.mark.django_db

# What is done to the record of %(person)s, and how the line begins that names it.
DAMAGED = {
    "purpose of a dose": (
        "UPDATE staff_dose SET purpose = 'x' WHERE person_id = %(person)s",
        "record of person ",
    ),
    "route of a dose": (
        "UPDATE staff_dose SET route = 'XX' WHERE person_id = %(person)s",
        "record of person ",
    ),
    "hold that ends before it begins": (
        "UPDATE staff_hold SET starts_on = '2026-03-02', ends_on = '2026-03-01' WHERE person_id = %(person)s",
        "record of person ",
    ),
    "late rule of a course": ("UPDATE safety_course SET late_rule = 'x'", "course "),
    "time zone of a site": ("UPDATE staff_site SET time_zone = 'No/Where'", "rosters of site "),
}


@pytest.fixture
def two(team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch) -> tuple[Person, Person]:
    """The first is damaged by each test; the second, after it, has a stored clearance that is wrong."""
    monkeypatch.setattr(timezone, "now", lambda: now)
    people = [make_person(team.site, team.officer, now, number=number) for number in ("a", "b")]
    for person in people:
        give_doses(person, team.officer, now, 40, 33, 12)
        person.holds.create(
            starts_on="2026-01-01",
            ends_on="2026-01-02",
            reason="x",
            source="officer",
            placed_by=team.officer,
            placed_at=now,
        )
    make_course(team, now)
    guards.remove(connection)
    return people[0], people[1]


def said() -> list[str]:
    out = StringIO()
    with pytest.raises(CommandError, match="differ"):
        call_command("verify_records", stdout=out)
    return out.getvalue().splitlines()


@pytest.mark.parametrize("what", DAMAGED)
def test_a_row_no_rule_can_read_is_named_and_hides_no_other(what: str, two: tuple[Person, Person]) -> None:
    statement, named = DAMAGED[what]
    damaged, wrong = two
    with connection.cursor() as cursor:
        cursor.execute("UPDATE staff_clearance SET starts_on = '2020-01-01' WHERE person_id = %s", [wrong.pk])
        cursor.execute(statement, {"person": damaged.pk} if "%(" in statement else None)
    lines = said()
    assert any(line.startswith(named) and "what can't be read" in line for line in lines)
    assert any(line.startswith(f"clearance of person {wrong.pk} (b): stored 2020-01-01") for line in lines)


def test_a_site_without_rules_is_named_by_each_of_its_people(two: tuple[Person, Person]) -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM staff_siterules")
    lines = said()
    for person in two:
        assert any(line.startswith(f"record of person {person.pk} ") for line in lines)


def test_a_regimen_without_steps_is_named_and_the_courses_are_still_looked_at(
    two: tuple[Person, Person],
) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM staff_regimenstep WHERE regimen_id = (SELECT id FROM staff_regimen"
            " WHERE code = 'prep-im-0-7-21' AND version = 1)"
        )
        cursor.execute("UPDATE safety_course SET planned_recorded = 7")
    lines = said()
    assert any("prep-im-0-7-21" in line and "no steps" in line for line in lines)
    assert any(line.startswith("course ") and "to be planned" in line for line in lines)
