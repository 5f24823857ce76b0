"""By which regimen somebody's doses are read where several give the same dates; decided here, no source."""

from datetime import date

import pytest

from staff.rules.record.series_reasons import choose_regimen
from staff.rules.regimen.values import Route
from tests.staff.rules.samples import doses, regimen

BY_MUSCLE, BY_SKIN = regimen("prep-im-0-7-21"), regimen("prep-id-0-7-21")


@pytest.mark.parametrize(("route", "chosen"), [(Route.IM, BY_MUSCLE), (Route.ID, BY_SKIN)])
@pytest.mark.parametrize("days", [(0,), (0, 7), (0, 7, 28)])
def test_of_two_that_are_complete_the_same_day_the_one_of_the_route_that_was_used(
    route: Route, chosen: object, days: tuple[int, ...]
) -> None:
    found = choose_regimen(doses(*days, route=route), [BY_SKIN, BY_MUSCLE], date.max, mixed=True)
    assert found is not None and found[0] == chosen
