"""Asked again at the moment of sending: is this notice still wanted?"""

from __future__ import annotations

from datetime import datetime

from safety.models import Notice
from safety.selectors.case.cases import courses_behind
from safety.services.course.plan import course_plan
from safety.services.notices.digests import digest_check
from safety.services.notices.notices import still_true


def still_wanted(notice: Notice, now: datetime) -> bool:
    if notice.gathers:
        return digest_check(digest=notice, wanted=lambda row: still_wanted(row, now), now=now)
    # A dose may be on record before anybody has planned what follows from it.
    if notice.course_id and courses_behind().filter(pk=notice.course_id).exists():
        course_plan(course_id=notice.course_id, now=now)
    return still_true(notice, now)
