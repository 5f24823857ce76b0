"""Where a clinic's answer and the record disagree. Asked back, never refused: the clinician decides."""

from datetime import date

from safety.rules.case.exposed_person import ImmuneStatus
from staff.ground.purposes import ForWhom, Purpose, courses_for


def regimen_disagrees(status: ImmuneStatus, *, purpose: Purpose, for_whom: str) -> bool:
    """Whether the table has the regimen for somebody else than the record shows (WHO 2018, ACIP 2010 and 2022).

    Soon after an earlier course tables disagree with each other, so nothing can disagree with them.
    """
    if status is ImmuneStatus.RECENT_COURSE:
        return False
    fitting = courses_for(status.value)
    return for_whom not in {ForWhom.ANYONE, status.value} or bool(fitting) and purpose not in fitting


def immunoglobulin_disagrees(*, given: bool, complete_on: date | None, immunocompromised: bool) -> bool:
    """None for the immunised: WHO position paper 2018 (secondary copy) and ACIP, MMWR 2010;59(RR-2)."""
    return given and complete_on is not None and not immunocompromised


def date_disagrees(said: date, due_on: date, latest_on: date) -> bool:
    """Any date in the dose's window agrees."""
    return not due_on <= said <= latest_on
