"""Somebody is absent when the crew leaves: a cleared person goes instead, an uncleared one leaves everything as it was."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from safety.errors import Conflict, Invalid, Refused
from safety.models import Departure, Notice
from safety.selectors.crew_day.outing_day import absent_of, missing_of, offered_people
from safety.services.crew_day.crew_roll import Absent, Joining, Roll
from staff.ground.errors import NotCleared
from staff.models import Assignment, AuditEntry, Clearance, Person, Withdrawal
from staff.services.record.holds import hold_place
from tests.factories import give_doses, make_outing, make_person
from tests.safety.outing_day.scenes import Day, put_on

pytestmark = pytest.mark.django_db


def swap(day: Day, instead: Person, role: str = "catcher") -> Roll:
    gone = day.people[role]
    return Roll(day.here(gone), (Absent(gone.pk, "slept in", instead),))


def everything() -> list[object]:
    """All that a refused departure must leave as it was."""
    models = (Assignment, Withdrawal, Clearance, AuditEntry, Notice)
    rows = [list(model.objects.order_by("pk").values()) for model in models]
    return [*rows, list(Departure.everything.values())]


def refused(day: Day, act: Callable[[], object]) -> Refused:
    before = everything()
    with pytest.raises(Refused) as caught:
        act()
    assert everything() == before
    return caught.value


def test_a_cleared_person_takes_the_place_and_the_crew_role_in_one_step(day: Day) -> None:
    left = day.leave(roll=swap(day, day.spare))
    gone = day.people["catcher"]
    assert missing_of(left, absent_of(left)) == () and left.crew_whole
    assert day.crew.assignments.get(person=day.spare).role == "catcher"
    assert (Withdrawal.objects.get().person, Withdrawal.objects.get().withdrawn_by) == (gone, day.head)
    rows = {row.person: (row.present, row.instead_of) for row in left.people.all()}
    assert rows[gone] == (False, None) and rows[day.spare] == (True, gone)


def test_an_uncleared_person_is_refused_in_the_rosters_own_words_and_nothing_is_written(day: Day) -> None:
    late = make_person(day.team.site, day.team.officer, day.now, number="late", name="Too Few")
    give_doses(late, day.team.officer, day.now, 30, 23)
    answer = refused(day, lambda: day.leave(by=day.team.officer, roll=swap(day, late)))
    assert isinstance(answer, NotCleared) and "2 of 3" in answer.message


def test_a_crew_lead_is_told_that_somebody_is_not_clear_and_never_why(day: Day) -> None:
    hold_place(
        actor=day.team.officer,
        person=day.spare,
        starts_on=day.outing.date,
        reason="waits for a scan",
        now=day.now,
    )
    for actor in (day.head, day.team.lead):
        answer = refused(day, lambda actor=actor: day.leave(by=actor, roll=swap(day, day.spare)))  # type: ignore[misc]
        assert isinstance(answer, NotCleared) and "Test Spare is not clear" in answer.message
        assert not {"scan", "hold", "held"} & set(answer.message.casefold().split())
        assert not answer.reasons and answer.clear_from is None


def test_somebody_on_another_outing_of_the_day_stays_there(day: Day) -> None:
    other, crew = make_outing(day.team.site, day.team.officer, day.now, 0)
    put_on(day.team, crew, [("catcher", day.spare)], day.now)
    answer = refused(day, lambda: day.leave(roll=swap(day, day.spare)))
    assert answer.code == "booked-twice" and other.area in answer.message


def test_somebody_of_another_crew_of_the_same_outing_stays_there(day: Day) -> None:
    put_on(day.team, day.outing.crews.create(name="Crew 2"), [("catcher", day.spare)], day.now)
    assert refused(day, lambda: day.leave(roll=swap(day, day.spare))).code == "already-assigned"


def test_somebody_of_another_site_is_refused(day: Day) -> None:
    far = make_person(day.team.other_site, day.team.stranger, day.now, number="far")
    assert isinstance(refused(day, lambda: day.leave(roll=swap(day, far))), Invalid)


def test_who_is_not_listed_for_the_crew_role_does_not_take_it(day: Day) -> None:
    day.spare.crew_roles.exclude(role="driver").delete()
    assert isinstance(refused(day, lambda: day.leave(roll=swap(day, day.spare))), Invalid)


def test_an_absence_without_a_reason_is_refused(day: Day) -> None:
    gone = day.people["catcher"]
    roll = Roll(day.here(gone), (Absent(gone.pk, " ", day.spare),))
    assert list(refused(day, lambda: day.leave(roll=roll)).fields) == ["why"]


def test_one_person_takes_one_place(day: Day) -> None:
    gone = (day.people["catcher"], day.people["recorder"])
    roll = Roll(day.here(*gone), tuple(Absent(one.pk, "strike", day.spare) for one in gone))
    assert isinstance(refused(day, lambda: day.leave(roll=roll)), Conflict)


def test_nobody_is_absent_and_along_at_once(day: Day) -> None:
    gone = day.people["catcher"]
    roll = Roll(day.here(gone), (Absent(gone.pk, "late"),), (Joining(gone, "catcher"),))
    assert refused(day, lambda: day.leave(roll=roll)).code == "absent-and-here"


def test_what_is_missing_without_a_reason_undoes_the_swap_too(day: Day) -> None:
    assert isinstance(refused(day, lambda: day.leave(roll=swap(day, day.spare), kit=False)), Invalid)


def test_somebody_who_comes_along_fills_a_missing_crew_role(day: Day) -> None:
    gone = day.people["recorder"]
    Assignment.objects.get(person=gone).delete()
    del day.people["recorder"]
    left = day.leave(roll=Roll(day.here(), joining=(Joining(day.spare, "recorder"),)))
    assert left.crew_whole and day.crew.assignments.filter(person=day.spare, role="recorder").exists()
    assert [row.instead_of for row in left.people.filter(person=day.spare)] == [None]


def test_offered_is_who_is_clear_today_and_on_no_outing(day: Day) -> None:
    make_person(day.team.site, day.team.officer, day.now, number="late", name="Too Few")
    assert offered_people(day.outing) == [day.spare]
    other, crew = make_outing(day.team.site, day.team.officer, day.now, 1)
    put_on(day.team, crew, [("catcher", day.spare)], day.now)
    assert offered_people(day.outing) == [day.spare]
    assert other.date == day.outing.date + timedelta(days=1)
