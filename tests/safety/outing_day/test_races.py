"""Two leads at the same crew, or at the same replacement, at the same moment."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from threading import Barrier

import pytest
from django.db import connection

from safety.models import CrewReturn, Departure, DeparturePerson, Notice
from safety.services.crew_day.crew_roll import Absent, Roll
from staff.ground.errors import Refused
from staff.models import Assignment, Withdrawal
from tests.factories import make_team
from tests.safety.outing_day.scenes import Day, clear_person, make_day, put_on

pytestmark = pytest.mark.usefixtures("real_transactions")


def together(*acts: Callable[[], object]) -> list[str]:
    """What each is answered: "kept" or the code of the refusal."""
    barrier = Barrier(len(acts))

    def run(act: Callable[[], object]) -> str:
        try:
            barrier.wait(timeout=30)
            act()
            return "kept"
        except Refused as refused:
            return refused.code
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return sorted(future.result(timeout=120) for future in [pool.submit(run, act) for act in acts])


@pytest.fixture
def real_day(now: datetime) -> Day:
    return make_day(make_team(now), now)


def test_two_leads_at_once_record_one_departure_and_one_notice(real_day: Day) -> None:
    gone = real_day.people["catcher"]
    roll = Roll(real_day.here(gone), (Absent(gone.pk, "slept in", real_day.spare),))

    def leave(by: object) -> Callable[[], object]:
        return lambda: real_day.leave(by=by, roll=roll, kit=False, missing_reason="no soap")  # type: ignore[arg-type]

    answers = together(leave(real_day.head), leave(real_day.team.lead))
    assert (
        "kept" in answers
        and set(answers) <= {"kept", "left-already", "crew-changed"}
        and len(set(answers)) == 2
    )
    assert Departure.everything.count() == Withdrawal.objects.count() == 1
    assert DeparturePerson.objects.count() == 5
    assert Notice.objects.filter(kind="left-without").count() == 1


def test_two_crews_that_want_the_same_replacement_get_it_once(real_day: Day, now: datetime) -> None:
    team = real_day.team
    other = real_day.outing.crews.create(name="Crew 2")
    own = {
        role: clear_person(team, now, f"d{role}", f"Other {role}")
        for role in ("catcher", "vaccinator", "recorder")
    }
    put_on(team, other, own.items(), now)
    second = Day(team, real_day.outing, other, own, team.lead, real_day.spare, now)

    def leave(day: Day) -> Callable[[], object]:
        gone = day.people["catcher"]
        roll = Roll(day.here(gone), (Absent(gone.pk, "slept in", real_day.spare),))
        return lambda: day.leave(by=team.lead, roll=roll)

    answers = together(leave(real_day), leave(second))
    assert answers == ["already-assigned", "kept"]
    assert Departure.everything.count() == Withdrawal.objects.count() == 1
    assert Assignment.objects.filter(person=real_day.spare).count() == 1


def test_two_returns_at_once_are_one(real_day: Day) -> None:
    answers = together(lambda: real_day.back(), lambda: real_day.back(by=real_day.team.lead))
    assert answers == ["back-already", "kept"] and CrewReturn.everything.count() == 1
