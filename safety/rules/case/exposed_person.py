"""Who it is that was exposed, as post-exposure tables ask, and what may be put before the clinician.

Nothing here proposes a treatment: where tables disagree, or the person's immune system is weak, nothing is listed.
"""

from collections.abc import Iterable
from datetime import date
from enum import StrEnum

from safety.rules.case.category import Category
from staff.ground.dates import add_months
from staff.ground.purposes import COURSES, Purpose, courses_for
from staff.rules.regimen.values import DoseFact

# A new exposure this soon after post-exposure doses: one table asks for wound care only (WHO position paper 2018,
# from memory), another for two doses whatever the gap (ACIP, from memory); so nothing is listed.
RECENT_MONTHS = 3


class ImmuneStatus(StrEnum):
    NOT_IMMUNISED = "not-immunised"
    IMMUNISED = "immunised"
    RECENT_COURSE = "recent-course"
    IMMUNOCOMPROMISED = "immunocompromised"


# For the others tables disagree, whatever purposes there are.
_LISTED = frozenset({ImmuneStatus.NOT_IMMUNISED, ImmuneStatus.IMMUNISED})


def immune_status(
    *, complete_on: date | None, doses: Iterable[DoseFact], immunocompromised: bool, exposed_on: date
) -> ImmuneStatus:
    """`complete_on` and `doses` are those of the record before `exposed_on`; only doses that stand are given.

    Immunised means a documented complete series or course; anything short of it is "not immunised".
    """
    if immunocompromised:
        return ImmuneStatus.IMMUNOCOMPROMISED
    if any(
        dose.purpose in COURSES and exposed_on < add_months(dose.given_on, RECENT_MONTHS) for dose in doses
    ):
        return ImmuneStatus.RECENT_COURSE
    return ImmuneStatus.IMMUNISED if complete_on is not None else ImmuneStatus.NOT_IMMUNISED


def purposes_listed(status: ImmuneStatus, *, exposed: bool) -> frozenset[Purpose]:
    """The purposes whose approved regimens may be listed for the clinician's decision; without one none is.

    `exposed` whatever the category: an exposure nobody can rule out, and a needlestick, have none of their own.
    """
    return courses_for(status.value) if exposed and status in _LISTED else frozenset()


class Known(StrEnum):
    """What is known of the record of whoever was exposed, to whom the choice of a clinic is shown."""

    IMMUNISED = "immunised"
    NOT_IMMUNISED = "not-immunised"
    IMMUNOCOMPROMISED = "immunocompromised"
    UNKNOWN = "unknown"


def known_of(*, complete_on: date | None, immunocompromised: bool) -> Known:
    if immunocompromised:
        return Known.IMMUNOCOMPROMISED
    return Known.IMMUNISED if complete_on is not None else Known.NOT_IMMUNISED


def immunoglobulin_may_be_asked(*, category: Category | None, exposed: bool, known: Known) -> bool:
    """Whether a clinician may order immunoglobulin, so that the choice of a clinic asks where it is.

    None for the immunised (WHO position paper 2018, read in a secondary copy; ACIP, MMWR 2010;59(RR-2)). In category
    II only for the immunodeficient (WHO 2018, table 1, secondary copy); whoever isn't known not to be is taken for one.
    """
    if not exposed or known is Known.IMMUNISED:
        return False
    return known is not Known.NOT_IMMUNISED or category is not Category.II
