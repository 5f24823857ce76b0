"""Properties of the series rule, and a search of every reading of a record beside it."""

from datetime import date, timedelta
from itertools import pairwise
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from staff.rules.record.series import DoseReason, evaluate_series
from staff.rules.regimen.values import DoseFact, Purpose, Regimen
from tests.staff.rules.samples import on
from tests.staff.rules.search import earliest_by_search
from tests.staff.rules.strategies import dose_facts, regimens

PRE = st.just(Purpose.PRE_EXPOSURE)
RECORDS = st.lists(dose_facts(PRE), max_size=7)
TODAY = st.integers(0, 45).map(on)


@given(regimens(), RECORDS, TODAY)
def test_no_other_choice_of_doses_completes_the_series_sooner(
    regimen: Regimen, record: list[DoseFact], today: date
) -> None:
    result = evaluate_series(regimen=regimen, doses=record, on=today)
    primary = len(regimen.primary_steps)
    assert result.complete_on == earliest_by_search(record, regimen, today, primary)
    for count in range(1, len(regimen.steps) + 1):
        reached = earliest_by_search(record, regimen, today, count) is not None
        assert reached == (result.valid_doses >= count)


@given(regimens(), RECORDS, TODAY, st.randoms())
def test_the_order_of_entry_never_matters(
    regimen: Regimen, record: list[DoseFact], today: date, random: Random
) -> None:
    shuffled = random.sample(record, len(record))
    assert evaluate_series(regimen=regimen, doses=record, on=today) == evaluate_series(
        regimen=regimen, doses=shuffled, on=today
    )


@given(regimens(), RECORDS, TODAY)
def test_no_dose_counts_before_its_smallest_gap(
    regimen: Regimen, record: list[DoseFact], today: date
) -> None:
    counted = [d for d in evaluate_series(regimen=regimen, doses=record, on=today).doses if d.counts]
    assert [dose.step for dose in counted] == list(range(1, len(counted) + 1))
    for before, after in pairwise(counted):
        assert after.step is not None
        gap = (after.dose.given_on - before.dose.given_on).days
        assert gap >= max(1, regimen.steps[after.step - 1].smallest_gap)


@given(regimens(), RECORDS, TODAY)
def test_every_dose_is_accounted_for_with_a_step_or_a_reason(
    regimen: Regimen, record: list[DoseFact], today: date
) -> None:
    result = evaluate_series(regimen=regimen, doses=record, on=today)
    assert len(result.doses) == len(record)
    for dose in result.doses:
        assert dose.counts == (dose.reason is None) == (dose.step is not None)
        assert (dose.days is not None) == (dose.reason in {DoseReason.TOO_EARLY, DoseReason.DATE_UNCERTAIN})


@given(regimens(), RECORDS, TODAY)
def test_a_dose_on_the_earliest_date_counts_and_one_the_day_before_does_not(
    regimen: Regimen, record: list[DoseFact], today: date
) -> None:
    result = evaluate_series(regimen=regimen, doses=record, on=today)
    counted = [dose.dose for dose in result.doses if dose.counts]
    if result.next is None or not counted:
        return
    earliest = result.next.earliest_on
    for given_on, gained in ((earliest, 1), (earliest - timedelta(days=1), 0)):
        again = evaluate_series(regimen=regimen, doses=[*counted, DoseFact(given_on)], on=date.max)
        assert again.valid_doses == len(counted) + gained
