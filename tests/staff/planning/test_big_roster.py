"""A big team over four weeks gets a roster, perhaps not the best one; the page is never left without an answer."""

from __future__ import annotations

from datetime import date, timedelta

from staff.planning.roster import plan_roster
from staff.planning.roster_values import Candidate, OpenCrew
from staff.rules.outing.rest_days import RestRules

ROLES = ("catcher", "vaccinator", "recorder")


def test_four_crews_a_day_over_four_weeks_from_two_hundred_people_are_planned() -> None:
    days = [date(2026, 12, 1) + timedelta(days=number) for number in range(28)]
    crews = [
        OpenCrew(number * 10 + crew, day, f"lane {crew}", dict.fromkeys(ROLES, 1))
        for number, day in enumerate(days)
        for crew in range(4)
    ]
    people = [Candidate(key, frozenset(ROLES), frozenset(days)) for key in range(200)]
    plan = plan_roster(crews=crews, people=people, rest=RestRules(6, 1))
    assert plan.filled
