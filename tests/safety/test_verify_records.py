"""`manage.py verify_records`: nothing on a healthy database; each kind of row that is broken by SQL is named."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date, datetime, timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from safety.models import Course, Notice, PlannedDose
from safety.services.notices.notices import notices_reconcile
from staff import guards
from staff.models import Assignment, Clearance, Dose, DoseStanding, PersonDue, SiteRules
from staff.selectors.record.documents import path_of
from staff.services.outing.roster import roster_assign
from staff.services.record.certificates import certificate_add
from staff.services.record.recompute import recompute_catch_up
from staff.services.record.records import dose_record, dose_void
from staff.services.site.site_rules import site_rules_change
from tests.documents import picture
from tests.factories import Team, also_member, give_doses, make_outing, make_person
from tests.safety.outbox.samples import make_course

pytestmark = pytest.mark.django_db
SQLITE = connection.vendor == "sqlite"


@pytest.fixture
def healthy(team: Team, now: datetime, monkeypatch: pytest.MonkeyPatch) -> Team:
    """Everything there is to verify; two people on an outing, a third under way, a course with its notices."""
    monkeypatch.setattr(timezone, "now", lambda: now)
    outing, crew = make_outing(team.site, team.officer, now)
    for number in ("a", "b"):
        person = make_person(team.site, team.officer, now, number=number)
        give_doses(person, team.officer, now, 40, 33, 12)
        roster_assign(actor=team.officer, outing=outing, crew=crew, person=person, role="catcher", now=now)
    give_doses(make_person(team.site, team.officer, now, number="c"), team.officer, now, 6)
    rules = SiteRules.objects.get(site=team.site)
    site_rules_change(
        actor=team.officer, rules=rules, changes={"settling_days": 1}, reason="letter 2", now=now
    )
    recompute_catch_up(now=now)
    make_course(team, now)
    notices_reconcile(now=now)
    return team


def said() -> str:
    """What the command prints; ends in an error exactly when something differs."""
    out = StringIO()
    try:
        call_command("verify_records", stdout=out)
    except CommandError as error:
        assert "differ" in str(error)
        return out.getvalue()
    assert "Nothing differs." in out.getvalue()
    return ""


def sql(statement: str, *values: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


def broken(act: Callable[[], None]) -> list[str]:
    """The lines after `act` on a database without its guards; the missing guards' own lines aside."""
    guards.remove(connection)
    act()
    return [line for line in said().splitlines() if not line.startswith("guard ")]


def one(model: type) -> int:
    return int(model.objects.order_by("pk").values_list("pk", flat=True)[0])  # type: ignore[attr-defined]


def test_a_healthy_database_differs_in_nothing(healthy: Team) -> None:
    assert said() == ""


def test_missing_guards_are_named(healthy: Team) -> None:
    guards.remove(connection)
    assert "staff_assignment_guard" in said()


def test_a_clearance_that_was_stretched_is_named(healthy: Team) -> None:
    row = Clearance.objects.get(pk=one(Clearance))
    lines = broken(
        lambda: sql("UPDATE staff_clearance SET starts_on = %s WHERE id = %s", "2020-01-01", row.pk)
    )
    assert len(lines) == 1 and lines[0].startswith(f"clearance of person {row.person_id} (")
    assert "stored 2020-01-01" in lines[0]


def test_a_clearance_that_was_made_up_or_lost_is_named(healthy: Team, now: datetime) -> None:
    person = healthy.person
    lines = broken(
        lambda: sql(
            "INSERT INTO staff_clearance (person_id, starts_on, computed_at) VALUES (%s, %s, %s)",
            person.pk,
            "2026-01-01",
            now,
        )
    )
    assert [line.split(":")[0] for line in lines] == [f"clearance of person {person.pk} ({person.number})"]


def test_an_assignment_on_somebody_elses_clearance_is_named(healthy: Team) -> None:
    first, second = Assignment.objects.order_by("pk")
    lines = broken(
        lambda: sql(
            "UPDATE staff_assignment SET clearance_id = %s WHERE id = %s", second.clearance_id, first.pk
        )
    )
    assert len(lines) == 1 and lines[0].startswith(f"assignment {first.pk} of person {first.person_id}")


def test_an_assignment_on_a_cancelled_outing_is_named(healthy: Team, now: datetime) -> None:
    row = Assignment.objects.order_by("pk")[0]
    lines = broken(
        lambda: sql(
            "UPDATE staff_outing SET cancelled_at = %s, cancel_reason = 'x' WHERE id = %s", now, row.outing_id
        )
    )
    assert {line.split(" of ")[0] for line in lines if not line.startswith("notice ")} == {
        f"assignment {key}" for key in Assignment.objects.values_list("pk", flat=True)
    }


def test_a_superseded_clearance_under_a_coming_outing_is_named(healthy: Team, now: datetime) -> None:
    row = Assignment.objects.order_by("pk")[0]
    lines = broken(
        lambda: sql(
            "UPDATE staff_clearance SET superseded_on = %s WHERE id = %s", now.date(), row.clearance_id
        )
    )
    assert any(line.startswith(f"assignment {row.pk} ") for line in lines)
    assert any(line.startswith(f"clearance of person {row.person_id} ") for line in lines)


def test_a_dose_that_was_moved_shows_in_what_rests_on_it(healthy: Team) -> None:
    dose = Dose.objects.filter(person__number="a").latest("given_on")
    lines = broken(lambda: sql("UPDATE staff_dose SET given_on = %s WHERE id = %s", "2026-03-02", dose.pk))
    assert any(line.startswith(f"clearance of person {dose.person_id} ") for line in lines)


def test_a_dose_after_the_day_it_was_recorded_is_named(healthy: Team) -> None:
    dose = Dose.objects.filter(person__number="c").get()

    def act() -> None:
        if SQLITE:
            sql("PRAGMA ignore_check_constraints = ON")
        else:
            sql("SET CONSTRAINTS ALL IMMEDIATE")  # else the foreign keys still to be checked forbid the next
            sql("ALTER TABLE staff_dose DROP CONSTRAINT dose_not_in_the_future")
        sql("UPDATE staff_dose SET given_on = %s WHERE id = %s", "2026-12-24", dose.pk)
        if SQLITE:
            sql("PRAGMA ignore_check_constraints = OFF")

    assert any(line.startswith(f"dose {dose.pk}: stored given 2026-12-24") for line in broken(act))


def test_two_doses_of_a_day_are_named(healthy: Team) -> None:
    first, second, _third = Dose.objects.filter(person__number="a").order_by("given_on")

    def act() -> None:
        sql("DROP INDEX dose_once_a_day")
        sql("UPDATE staff_dose SET given_on = %s WHERE id = %s", first.given_on, second.pk)

    lines = broken(act)
    assert (
        f"doses of person {first.person_id} on {first.given_on}: stored 2 unvoided, by the record 1" in lines
    )


def test_a_dose_said_to_count_is_named(healthy: Team) -> None:
    row = DoseStanding.objects.order_by("pk")[0]
    lines = broken(lambda: sql("UPDATE staff_dosestanding SET step = 9 WHERE id = %s", row.pk))
    assert [line.split(":")[0] for line in lines] == [f"standing of dose {row.dose_id}"]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE staff_persondue SET due_on = '2030-01-01' WHERE id = %s",
        "DELETE FROM staff_persondue WHERE id = %s",
    ],
)
def test_a_due_date_that_is_wrong_or_lost_is_named(statement: str, healthy: Team) -> None:
    due = PersonDue.objects.get(person__number="c")
    lines = broken(lambda: sql(statement, due.pk))
    assert len(lines) == 1 and lines[0].startswith(f"due dates of person {due.person_id} (c)")
    assert "by the record dose 2026-03-03" in lines[0]


def test_a_recompute_that_is_not_through_is_named(healthy: Team, now: datetime) -> None:
    change = site_rules_change(
        actor=healthy.officer,
        rules=SiteRules.objects.get(site=healthy.site),
        changes={"doses_required": 2},
        reason="letter 3",
        now=now,
    )
    waiting = change.pending.count()
    line = (
        f"rules change {change.pk} of site {healthy.site.pk}: stored {waiting} of {change.total} people wait"
    )
    assert any(found.startswith(line) for found in said().splitlines())
    recompute_catch_up(now=now)
    assert said() == ""


def test_a_recompute_that_lost_its_marks_is_named(healthy: Team, now: datetime) -> None:
    change = site_rules_change(
        actor=healthy.officer,
        rules=SiteRules.objects.get(site=healthy.site),
        changes={"doses_required": 2},
        reason="letter 3",
        now=now,
    )
    lines = broken(lambda: sql("DELETE FROM staff_clearancepending"))
    assert any(line.startswith(f"rules change {change.pk} ") and "nobody waits" in line for line in lines)


def test_a_planned_dose_on_another_day_is_named(healthy: Team) -> None:
    row = PlannedDose.objects.order_by("pk")[1]
    lines = broken(
        lambda: sql("UPDATE safety_planneddose SET due_on = %s WHERE id = %s", "2026-03-30", row.pk)
    )
    assert [line.split(":")[0] for line in lines] == [f"planned doses of course {row.course_id}"]


def test_a_course_behind_the_record_is_named(healthy: Team) -> None:
    key = one(Course)
    lines = broken(lambda: sql("UPDATE safety_course SET planned_recorded = 7 WHERE id = %s", key))
    assert lines == [f"course {key}: stored not planned since the last fact, by the record to be planned"]


def test_a_notice_at_another_hour_is_named(healthy: Team) -> None:
    row = Notice.objects.filter(state="waiting").order_by("pk")[0]
    later = row.due_at + timedelta(hours=5)
    lines = broken(lambda: sql("UPDATE safety_notice SET due_at = %s WHERE id = %s", later, row.pk))
    assert [line.split(":")[0] for line in lines] == [f"notice {row.pk}"]


def test_a_notice_of_a_course_that_has_ended_is_named(healthy: Team) -> None:
    key = one(Course)
    waiting = Notice.objects.filter(course=key, state="waiting").count()
    lines = broken(
        lambda: sql(
            "UPDATE safety_course SET ended_on = %s, end_reason = 'x' WHERE id = %s", "2026-03-02", key
        )
    )
    assert waiting and sum("the course has ended" in line for line in lines) == waiting


@pytest.mark.parametrize(("column", "word"), [("state", "sideways"), ("kind", "pigeon")])
def test_a_notice_in_no_known_state_or_of_no_known_kind_is_named(
    healthy: Team, column: str, word: str
) -> None:
    row = Notice.objects.filter(state="waiting").order_by("pk")[0]
    lines = broken(lambda: sql(f"UPDATE safety_notice SET {column} = %s WHERE id = %s", word, row.pk))
    assert any(line.startswith(f"notice {row.pk}: stored {column} {word}") for line in lines)


@pytest.mark.parametrize(
    ("damage", "told"),
    [
        (lambda path: path.unlink(), "no file"),
        (lambda path: os.truncate(path, 1), "another file than was sent"),
    ],
)
def test_a_document_whose_file_is_gone_or_another_is_named(
    healthy: Team, now: datetime, damage: Callable[[Path], None], told: str
) -> None:
    row = certificate_add(
        actor=healthy.officer, person=healthy.person, kind="certificate", content=picture(), now=now
    )
    assert said() == ""
    lines = broken(lambda: damage(path_of(row.key)))
    assert [line.partition(",")[0] for line in lines] == [f"document {row.pk}: stored {told}"]


def test_a_dose_of_who_turns_out_to_be_the_person_is_named_until_it_is_voided(
    healthy: Team, now: datetime
) -> None:
    dose = give_doses(healthy.person, healthy.officer, now, 40)[0]
    dose_record(
        actor=healthy.officer, person=healthy.person, given_on=date(2026, 1, 5), evidence="none", now=now
    )
    also_member(healthy, healthy.officer)
    assert said().splitlines() == [
        f"dose {dose.pk}: stored recorded by the person themself, by the record somebody else's to record"
    ]
    dose_void(actor=healthy.liaison, dose=dose, reason="recorded anew", now=now)
    assert said() == ""
