"""What doses and regimens are for: one row a purpose, and everything the program asks of one.

Their words stand in staff.models.regimen.regimen. A row with a part too few, or a purpose without a row, fails at start.
"""

from dataclasses import dataclass
from enum import StrEnum


class Purpose(StrEnum):
    PRE_EXPOSURE = "pre-exposure"
    POST_EXPOSURE = "post-exposure"
    POST_EXPOSURE_IMMUNISED = "post-exposure-immunised"
    BOOSTER = "booster"


class ForWhom(StrEnum):
    """Whom tables mean a regimen for."""

    ANYONE = "anyone"
    NOT_IMMUNISED = "not-immunised"
    IMMUNISED = "immunised"
    IMMUNOCOMPROMISED = "immunocompromised"


@dataclass(frozen=True)
class PurposeRow:
    """`series`: its regimens, approved at a site, make the series that clearance asks for, and sessions plan them.
    `course`: it follows an exposure, and its regimens are planned as courses.
    `proves`: a complete documented course of it is a complete series by itself.
    `given_to`: whom a course of it is for, where tables tell people apart by what is on record; None for others.
    `by_list`: its doses may come in by a staff list. One that may not is refused there with a word of its own.
    `list_words`: how a staff list may call it, in lower case without hyphens.
    `unread`: why no series reads a dose of it that stands, as `DoseReason` has it.
    """

    purpose: Purpose
    series: bool
    course: bool
    proves: bool
    given_to: ForWhom | None
    by_list: bool
    list_words: tuple[str, ...]
    unread: str


PURPOSES = {
    row.purpose: row
    for row in (
        PurposeRow(
            Purpose.PRE_EXPOSURE,
            series=True,
            course=False,
            proves=False,
            given_to=None,
            by_list=True,
            list_words=("pre exposure", "prep"),
            unread="no-approved-regimen",
        ),
        PurposeRow(
            Purpose.POST_EXPOSURE,
            series=False,
            course=True,
            proves=True,
            given_to=ForWhom.NOT_IMMUNISED,
            by_list=False,
            list_words=("post exposure", "pep"),
            unread="regimen-not-stated",
        ),
        PurposeRow(
            Purpose.POST_EXPOSURE_IMMUNISED,
            series=False,
            course=True,
            # The short course for the already immunised proves nothing by itself.
            proves=False,
            given_to=ForWhom.IMMUNISED,
            by_list=False,
            list_words=(),
            unread="immunised-course",
        ),
        PurposeRow(
            Purpose.BOOSTER,
            series=False,
            course=False,
            proves=False,
            given_to=None,
            by_list=True,
            list_words=("booster",),
            unread="booster",
        ),
    )
}
if missing := set(Purpose) - set(PURPOSES):
    raise RuntimeError(f"purposes without a row: {', '.join(sorted(missing))}")

SERIES = frozenset(row.purpose for row in PURPOSES.values() if row.series)
COURSES = frozenset(row.purpose for row in PURPOSES.values() if row.course)
PROVING = frozenset(row.purpose for row in PURPOSES.values() if row.proves)


def courses_for(whom: str) -> frozenset[Purpose]:
    """The purposes of the courses that tables have for such people; none where no table tells them apart."""
    return frozenset(row.purpose for row in PURPOSES.values() if row.given_to == whom)


def check_rows() -> None:
    """Raises where the rows contradict each other: each staff list's word means one purpose."""
    words = [word for row in PURPOSES.values() for word in row.list_words]
    if len(words) != len(set(words)):
        raise RuntimeError("two purposes go by one word in staff lists")
    for row in PURPOSES.values():
        if row.series and row.course or row.proves and not row.course or bool(row.given_to) != row.course:
            raise RuntimeError(f"the row of {row.purpose} contradicts itself")


check_rows()
