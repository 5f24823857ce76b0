"""When somebody immunocompromised has blood taken after a course."""

from dataclasses import dataclass
from datetime import date

from staff.ground.dates import add_days

# ACIP 2010 (MMWR 59(RR-2)): 7 to 14 days after the last dose of an immunocompromised person's course.
FIRST_DAY, LAST_DAY = 7, 14


@dataclass(frozen=True)
class TitreWindow:
    """Both dates included."""

    first_on: date
    last_on: date


def titre_window(last_dose_on: date) -> TitreWindow:
    return TitreWindow(add_days(last_dose_on, FIRST_DAY), add_days(last_dose_on, LAST_DAY))
