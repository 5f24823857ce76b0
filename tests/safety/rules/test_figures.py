"""Counting what became of doses. The definitions are this program's own: common practice, no source."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from safety.rules.lessons.figures import BANDS, DueDose, Fate, dose_figures, fate_of, twelve_months

TODAY = date(2028, 3, 1)
DAY = timedelta(days=1)


@pytest.mark.parametrize(
    ("dose", "fate", "days_late"),
    [
        (DueDose(TODAY, TODAY, TODAY), Fate.ON_TIME, 0),
        (DueDose(TODAY - 3 * DAY, TODAY - DAY, TODAY - DAY), Fate.ON_TIME, 0),  # the window's last day
        (DueDose(TODAY - 3 * DAY, TODAY - DAY, TODAY), Fate.LATE, 1),
        (DueDose(date(2028, 2, 28), date(2028, 2, 28), date(2028, 3, 1)), Fate.LATE, 2),  # over 29 February
        (DueDose(TODAY - DAY, TODAY - DAY, None), Fate.CHASED, 0),
        (DueDose(TODAY, TODAY, None), Fate.TO_COME, 0),
        (DueDose(TODAY + DAY, TODAY + DAY, None), Fate.TO_COME, 0),
        (DueDose(TODAY - DAY, TODAY - DAY, None, ended=True), Fate.CLOSED, 0),
        (DueDose(TODAY - DAY, TODAY - DAY, TODAY, ended=True), Fate.LATE, 1),
    ],
)
def test_every_dose_has_one_fate(dose: DueDose, fate: Fate, days_late: int) -> None:
    assert (fate_of(dose, TODAY), dose.days_late) == (fate, days_late)


DATES = st.dates(date(2027, 1, 1), date(2028, 12, 31))
DOSES = st.builds(
    lambda due, window, given, ended: DueDose(due, due + window * DAY, given, ended),
    DATES,
    st.integers(0, 14),
    st.none() | DATES,
    st.booleans(),
)


@given(doses=st.lists(DOSES, max_size=12))
@settings(suppress_health_check=[HealthCheck.too_slow])  # the first date is drawn slowly on a busy machine
def test_no_dose_is_counted_twice_or_left_out(doses: list[DueDose]) -> None:
    found = dose_figures(doses, today=TODAY)
    assert found.due == len(doses) == sum(found.fates.values()) == sum(m.due for m in found.months)
    assert sum(band.doses for band in found.late) == found.fates[Fate.LATE]
    assert sum(m.on_time for m in found.months) == found.fates[Fate.ON_TIME]
    assert [m.first for m in found.months] == sorted({dose.due_on.replace(day=1) for dose in doses})


def test_the_bands_of_days_follow_each_other_without_a_gap() -> None:
    for (_first, last), (following, _last) in zip(BANDS, BANDS[1:], strict=False):
        assert last is not None and following == last + 1
    assert BANDS[0][0] == 1 and BANDS[-1][1] is None


@pytest.mark.parametrize(
    ("today", "first"),
    [
        (date(2026, 3, 2), date(2025, 3, 3)),
        (date(2028, 2, 29), date(2027, 3, 1)),
        (date(2029, 2, 28), date(2028, 2, 29)),
    ],
)
def test_twelve_months_end_today(today: date, first: date) -> None:
    assert twelve_months(today) == (first, today)
