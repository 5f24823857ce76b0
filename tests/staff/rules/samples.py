"""The shipped regimens by code, and short ways to write dates and doses."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from staff.rules.regimen.schedule import Schedule, plan_schedule
from staff.rules.regimen.values import DoseFact, Purpose, Regimen, Route, Step
from staff.services.regimen.regimen_drafts import RegimenFacts
from staff.services.regimen.regimen_file import FileRow, file_read

FILE = Path(__file__).parents[3] / "fixtures" / "regimens.json"


@dataclass(frozen=True)
class RegimenSample:
    """A regimen as the rules take it, and the row it comes from."""

    regimen: Regimen
    facts: RegimenFacts


def _sample(row: FileRow) -> RegimenSample:
    facts = row.facts
    routes = frozenset(Route(route) for route in facts.routes)
    return RegimenSample(Regimen(row.code, row.version, Purpose(facts.purpose), routes, facts.steps), facts)


SAMPLES = {row.code: _sample(row) for row in file_read(content=FILE.read_bytes())}

MONDAY = date(2026, 3, 2)


def sample(code: str) -> RegimenSample:
    return SAMPLES[code]


def regimen(code: str) -> Regimen:
    return SAMPLES[code].regimen


def on(day: int) -> date:
    """Day `day` of a course whose day 0 is MONDAY."""
    return MONDAY + timedelta(days=day)


def doses(
    *days: int, route: Route | None = Route.IM, purpose: Purpose = Purpose.PRE_EXPOSURE
) -> list[DoseFact]:
    return [DoseFact(on(day), route=route, purpose=purpose) for day in days]


def course(code: str, *days: int, key: str | None = None) -> list[DoseFact]:
    """Doses of a post-exposure course on the regimen `code`."""
    return [
        DoseFact(on(day), purpose=Purpose.POST_EXPOSURE, regimen_code=code, course_key=key) for day in days
    ]


def planned(code: str, given: Iterable[int] = ()) -> Schedule:
    return plan_schedule(regimen=regimen(code), day_zero=MONDAY, given=[on(day) for day in given])


def due_days(schedule: Schedule) -> list[int]:
    """The due dates as days from MONDAY."""
    return [(step.due_on - MONDAY).days for step in schedule.steps]


def as_table(code: str) -> list[tuple[int, int, int]]:
    """(due, last day of the window, injections) of every step, as planned with nothing given."""
    steps = planned(code).steps
    return [((s.due_on - MONDAY).days, (s.latest_on - MONDAY).days, s.injections) for s in steps]


def short_regimen(code: str, *days: int, later: int | None = None) -> Regimen:
    """One injection on each day, planned gaps as smallest gaps, and a later dose on day `later` (to 2 days on)."""
    steps = [Step(i + 1, day, day, day - days[i - 1] if i else 0) for i, day in enumerate(days)]
    if later is not None:
        steps.append(Step(len(days) + 1, later, later + 2, later - days[-1] - 2, later=True))
    return Regimen(code, 1, Purpose.PRE_EXPOSURE, frozenset(Route), tuple(steps))
