"""What is asked back about immunoglobulin before it is kept. Recorded as the clinic wrote it, never computed."""

from collections.abc import Iterable
from datetime import date
from enum import StrEnum

from safety.rules.case.answer_doubts import immunoglobulin_disagrees
from staff.ground.dates import add_days

# Up to and including day 7 after the first vaccine dose: WHO position paper 2018 (secondary copy) and ACIP,
# MMWR 2010;59(RR-2); later the body's own answer to the vaccine has begun.
LAST_DAY = 7


class ImmunoglobulinDoubt(StrEnum):
    LATE = "late"
    IMMUNISED = "immunised"
    TWICE = "twice"


def last_day_for(first_dose_on: date | None) -> date | None:
    """The last date tables give immunoglobulin on; None while no vaccine dose is given, for it hasn't begun to run."""
    return add_days(first_dose_on, LAST_DAY) if first_dose_on else None


def immunoglobulin_doubts(
    *,
    given_on: date,
    first_dose_on: date | None,
    given_before: Iterable[date],
    complete_on: date | None,
    immunocompromised: bool,
) -> tuple[ImmunoglobulinDoubt, ...]:
    """Why a gift of immunoglobulin on `given_on` is asked back about; the clinic's paper may still say so.

    `complete_on`: since when the record is a complete series, as of the exposure. `given_before`: the other dates
    on which it is on record for this exposure.
    """
    last_day = last_day_for(first_dose_on)
    found = {
        ImmunoglobulinDoubt.LATE: last_day is not None and given_on > last_day,
        ImmunoglobulinDoubt.IMMUNISED: immunoglobulin_disagrees(
            given=True, complete_on=complete_on, immunocompromised=immunocompromised
        ),
        ImmunoglobulinDoubt.TWICE: any(True for _ in given_before),
    }
    return tuple(doubt for doubt, holds in found.items() if holds)
