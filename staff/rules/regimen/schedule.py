"""The dates of a course: what was given, and when the rest is due."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from staff.ground.dates import add_days
from staff.rules.regimen.values import LateRule, Regimen, RuleError

TOO_EARLY, SAME_DAY, EXTRA, RESTARTED = "too-early", "same-day", "extra", "restarted"


@dataclass(frozen=True)
class PlannedStep:
    """One visit with its date. `days_late` counts whole days past `latest_on`; 0 while it is not given."""

    number: int
    day: int
    due_on: date
    latest_on: date
    given_on: date | None
    days_late: int
    injections: int


@dataclass(frozen=True)
class Schedule:
    """Every step in order; `not_counted` pairs a date with too-early, same-day, extra or restarted."""

    steps: tuple[PlannedStep, ...]
    complete_on: date
    not_counted: tuple[tuple[date, str], ...]
    restarted_on: date | None


def plan_schedule(
    *,
    regimen: Regimen,
    day_zero: date,
    given: Iterable[date],
    late_rule: LateRule = LateRule.KEEP_GAPS,
    restart_after_days: int | None = None,
) -> Schedule:
    """Date every step from day 0 (the date on which the first dose was or will be given) and the doses given.

    keep-gaps: each step is due its planned gap after the step before, as given or else as due (ACIP 2010 with
    its published answers: five doses, day 7 given on day 10, so the next are due on days 17 and 31).
    keep-calendar: each step stays on its own day from day 0, or falls on the day after the step before it when
    that day has passed; a dose counts from its calendar date, or from its smallest gap if that comes sooner.
    restart: as keep-gaps, but a dose more than `restart_after_days` after the end of its window is a new day 0.
    A later dose never restarts anything: the series it keeps is already complete (decided here).

    A dose before its smallest gap never counts. `complete_on` is the date, given or due, of the last step
    that makes the series complete. Raises RuleError for `day_zero` when it is not the first date given, and
    for `restart_after_days` when restarting and it is not 1 or more.
    """
    dates = sorted(given)
    if dates and dates[0] != day_zero:
        raise RuleError(
            "day_zero", f"Day 0 is {day_zero}, but the first dose was given on {dates[0]}.", "not-first-dose"
        )
    if late_rule is LateRule.RESTART and (restart_after_days is None or restart_after_days < 1):
        raise RuleError(
            "restart_after_days", "Starting again needs a number of days, 1 or more.", "restart-days-needed"
        )
    course = _Course(regimen, day_zero, late_rule, restart_after_days)
    for day in dates:
        course.give(day)
    return course.finish()


class _Course:
    """The steps dated so far; the last of them is what the next one is measured from."""

    def __init__(
        self, regimen: Regimen, day_zero: date, late_rule: LateRule, restart_after_days: int | None
    ) -> None:
        self.regimen = regimen
        self.day_zero = day_zero
        self.late_rule = late_rule
        self.restart_after_days = restart_after_days
        self.steps: list[PlannedStep] = []
        self.not_counted: list[tuple[date, str]] = []
        self.restarted_on: date | None = None

    def give(self, day: date) -> None:
        """Place one date given; dates come in order."""
        if self.steps and self.steps[-1].given_on == day:
            self.not_counted.append((day, SAME_DAY))
        elif len(self.steps) == len(self.regimen.steps):
            self.not_counted.append((day, EXTRA))
        elif day < self._counts_from():
            self.not_counted.append((day, TOO_EARLY))
        else:
            if self._starts_again(day):
                self._restart(day)
            self._add(given_on=day)

    def finish(self) -> Schedule:
        """Date the steps that remain."""
        while len(self.steps) < len(self.regimen.steps):
            self._add(given_on=None)
        last = self.steps[len(self.regimen.primary_steps) - 1]
        return Schedule(
            steps=tuple(self.steps),
            complete_on=last.given_on or last.due_on,
            not_counted=tuple(sorted(self.not_counted)),
            restarted_on=self.restarted_on,
        )

    def _add(self, given_on: date | None) -> None:
        step = self.regimen.steps[len(self.steps)]
        due_on, latest_on = self._window()
        days_late = max(0, (given_on - latest_on).days) if given_on else 0
        self.steps.append(
            PlannedStep(step.number, step.day, due_on, latest_on, given_on, days_late, step.injections)
        )

    def _window(self) -> tuple[date, date]:
        index = len(self.steps)
        step = self.regimen.steps[index]
        if index == 0:
            return self.day_zero, add_days(self.day_zero, step.window_days)
        if self.late_rule is LateRule.KEEP_CALENDAR:
            due_on = max(add_days(self.day_zero, step.day), add_days(self._before(), 1))
            return due_on, max(due_on, add_days(self.day_zero, step.latest_day))
        due_on = add_days(self._before(), self.regimen.planned_gap(index))
        return due_on, add_days(due_on, step.window_days)

    def _counts_from(self) -> date:
        index = len(self.steps)
        if index == 0:
            return self.day_zero
        step = self.regimen.steps[index]
        by_gap = add_days(self._before(), step.gap)
        if self.late_rule is LateRule.KEEP_CALENDAR:
            by_calendar = add_days(self.day_zero, step.day)
            return max(add_days(self._before(), 1), min(by_gap, by_calendar))
        return by_gap

    def _before(self) -> date:
        before = self.steps[-1]
        return before.given_on or before.due_on

    def _starts_again(self, day: date) -> bool:
        if self.late_rule is not LateRule.RESTART or self.restart_after_days is None or not self.steps:
            return False
        if self.regimen.steps[len(self.steps)].later:
            return False
        return (day - self._window()[1]).days > self.restart_after_days

    def _restart(self, day: date) -> None:
        self.not_counted += [(step.given_on, RESTARTED) for step in self.steps if step.given_on]
        self.steps = []
        self.day_zero = day
        self.restarted_on = day
