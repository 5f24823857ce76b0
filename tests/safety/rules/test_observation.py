"""Ten days for a dog or cat (WHO 2018, read in a secondary copy), 14 in one country; the exposure is day 0."""

from datetime import date

import pytest

from safety.rules.animal.observation import observation_ends_on
from staff.rules.regimen.values import RuleError


@pytest.mark.parametrize(
    ("started_on", "days", "ends_on"),
    [
        (date(2026, 3, 2), 10, date(2026, 3, 12)),
        (date(2026, 3, 2), 14, date(2026, 3, 16)),
        (date(2024, 2, 20), 10, date(2024, 3, 1)),
        (date(2025, 2, 20), 10, date(2025, 3, 2)),
        (date(2026, 12, 25), 10, date(2027, 1, 4)),
    ],
)
def test_the_last_day_is_that_many_days_after_the_exposure(
    started_on: date, days: int, ends_on: date
) -> None:
    assert observation_ends_on(started_on, days) == ends_on


@pytest.mark.parametrize("days", [0, -1])
def test_an_observation_of_no_days_is_refused(days: int) -> None:
    with pytest.raises(RuleError) as caught:
        observation_ends_on(date(2026, 3, 2), days)
    assert caught.value.field == "days"
