"""The schedule a course has by its record."""

from __future__ import annotations

from collections.abc import Sequence

from safety.models import Course
from staff.models import Dose
from staff.rules.schedule import Schedule, plan_schedule
from staff.rules.values import LateRule


def compute_schedule(course: Course, standing: Sequence[Dose]) -> Schedule:
    """Day 0 is the date of the first dose given; until there is one, the date it is expected on."""
    given = [dose.given_on for dose in standing]
    return plan_schedule(
        regimen=course.regimen.as_rule(),
        day_zero=given[0] if given else course.starts_on,
        given=given,
        late_rule=LateRule(course.late_rule),
        restart_after_days=course.restart_after_days if course.late_rule == LateRule.RESTART else None,
    )
