"""Random but lawful regimens and records for the property tests."""

from datetime import date
from typing import Any

from hypothesis import strategies as st

from staff.ground.dates import month_end
from staff.rules.regimen.values import DoseFact, Purpose, Regimen, Route, Step
from tests.staff.rules.samples import on


@st.composite
def regimens(draw: st.DrawFn) -> Regimen:
    """One to four steps within five weeks, any smallest gap up to the planned one, sometimes a later dose."""
    gaps = draw(st.lists(st.integers(1, 9), max_size=3))
    later = draw(st.integers(0, 1)) if gaps else 0
    steps = [Step(1, 0, draw(st.integers(0, 2)), 0, draw(st.integers(1, 2)))]
    for index, gap in enumerate(gaps):
        day = steps[-1].day + gap
        steps.append(
            Step(
                number=index + 2,
                day=day,
                latest_day=day + draw(st.integers(0, 5)),
                smallest_gap=draw(st.integers(0, gap)),
                injections=draw(st.integers(1, 2)),
                later=bool(later) and index == len(gaps) - 1,
            )
        )
    routes = draw(st.sets(st.sampled_from(Route), min_size=1))
    return Regimen("random", 1, Purpose.PRE_EXPOSURE, frozenset(routes), tuple(steps))


def dose_facts(purposes: st.SearchStrategy[Purpose], last_day: int = 40) -> st.SearchStrategy[DoseFact]:
    """Doses within `last_day` days: most can count; some are voided, unverified, written ahead or known by month."""
    return st.builds(
        _dose,
        month_only=st.sampled_from([False] * 5 + [True]),
        given_on=st.integers(0, last_day).map(on),
        route=st.sampled_from([None, *Route]),
        purpose=purposes,
        injections=st.sampled_from([None, 1, 2]),
        voided=st.sampled_from([False, False, False, True]),
        verified=st.sampled_from([True, True, True, False]),
        recorded_on=st.none() | st.integers(0, last_day).map(on),
        regimen_code=st.sampled_from([None, "course-a", "course-b"]),
        course_key=st.sampled_from([None, "bite-1", "bite-2"]),
        id=st.integers(1, 9),
    )


def _dose(*, given_on: date, month_only: bool, **facts: Any) -> DoseFact:
    return DoseFact(month_end(given_on) if month_only else given_on, month_only=month_only, **facts)
