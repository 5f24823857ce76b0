"""The schedule a course has by its record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from safety.models import Course, CourseFact
from safety.rules.course.changed_regimen import after_change
from safety.rules.course.free_dates import plan_free
from staff.models import Dose
from staff.rules.regimen.schedule import Schedule, plan_schedule
from staff.rules.regimen.values import LateRule, Regimen


@dataclass(frozen=True)
class CourseBasis:
    """What a course is planned by; called with the dates given it is the schedule.

    Without a regimen it rests on `dates`, which the clinic wrote. `kept` are doses that counted before the regimen was
    changed; `left` those that didn't, with why, which mark no date of the clinic's either. `starts_on` is day 0 until
    a dose is given.
    """

    regimen: Regimen | None
    dates: tuple[date, ...]
    kept: tuple[date, ...]
    left: tuple[tuple[date, str], ...]
    starts_on: date
    late_rule: LateRule
    restart_after_days: int | None

    def __call__(self, given: Sequence[date]) -> Schedule:
        if self.regimen is None:
            return self._free(given)
        schedule = self._scheduled(
            after_change(self.regimen, [day for day in self.kept if day in given]), given
        )
        if not self.kept or schedule.restarted_on is None:
            return schedule
        # What starts again starts on the regimen itself, not on the rest of it.
        afresh = self._scheduled(self.regimen, [day for day in given if day >= schedule.restarted_on])
        before = tuple(item for item in schedule.not_counted if item[0] < schedule.restarted_on)
        return replace(afresh, not_counted=before + afresh.not_counted, restarted_on=schedule.restarted_on)

    def _free(self, given: Sequence[date]) -> Schedule:
        left = tuple(item for item in self.left if item[0] in given)
        days = {day for day, _why in left}
        schedule = plan_free(dates=self.dates, given=[day for day in given if day not in days])
        return replace(schedule, not_counted=tuple(sorted(left + schedule.not_counted)))

    def _scheduled(self, regimen: Regimen, given: Sequence[date]) -> Schedule:
        return plan_schedule(
            regimen=regimen,
            day_zero=given[0] if given else self.starts_on,
            given=given,
            late_rule=self.late_rule,
            restart_after_days=self.restart_after_days if self.late_rule is LateRule.RESTART else None,
        )


def course_basis(course: Course) -> CourseBasis:
    """What the record plans the course by now; a course that isn't saved yet has no history."""
    changed = course.facts.filter(kind=CourseFact.Kind.REGIMEN).last() if course.pk else None
    doses = [(date.fromisoformat(day), why) for day, why in changed.doses] if changed else []
    return CourseBasis(
        regimen=course.regimen.as_rule() if course.regimen else None,
        dates=() if course.regimen else dates_of(course),
        kept=tuple(day for day, why in doses if not why),
        left=tuple((day, why) for day, why in doses if why),
        starts_on=course.starts_on,
        late_rule=LateRule(course.late_rule),
        restart_after_days=course.restart_after_days,
    )


def dates_of(course: Course) -> tuple[date, ...]:
    """The dates of a course by name as the clinic wrote them last, in order."""
    return tuple(course.dates.filter(replaced_at__isnull=True).values_list("due_on", flat=True))


def compute_schedule(course: Course, standing: Sequence[Dose]) -> Schedule:
    """Day 0 is the date of the first dose given; until there is one, the date it is expected on."""
    return course_basis(course)([dose.given_on for dose in standing])
