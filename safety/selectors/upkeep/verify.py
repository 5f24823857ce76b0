"""Planned doses and notices compared with what the records say."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import partial
from zoneinfo import ZoneInfo

from safety import registry
from safety.models import Course, Notice
from safety.rules.notices.follow_up import Audience
from safety.rules.notices.local_time import clocks_of, due_at
from safety.selectors.case.cases import courses_behind, doses_of
from safety.selectors.course.schedules import compute_schedule
from staff.selectors.record.verify import Difference, readable


def differences() -> Iterator[Difference]:
    """Every difference in plans and notices. A course that is behind is named as such: the next tick plans it."""
    behind = set(courses_behind().values_list("pk", flat=True))
    for course in Course.objects.select_related("regimen", "incident__site__rules").order_by("pk"):
        if course.pk in behind:
            yield Difference(f"course {course.pk}", "not planned since the last fact", "to be planned")
        else:
            yield from readable(f"course {course.pk}", partial(_plan, course))
    yield from _notices()
    yield from _of_origins()


def _plan(course: Course) -> Iterator[Difference]:
    stored = [
        (dose.number, dose.due_on, dose.latest_on, dose.given_on) for dose in course.planned_doses.all()
    ]
    computed = [
        (step.number, step.due_on, step.latest_on, step.given_on)
        for step in compute_schedule(course, list(doses_of(course))).steps
    ]
    if stored != computed:
        yield Difference(f"planned doses of course {course.pk}", _show(stored), _show(computed))


Step = tuple[int, date, date, date | None]


def _show(steps: list[Step]) -> str:
    return "; ".join(f"{number}: due {due}, given {given}" for number, due, _latest, given in steps) or "none"


def _notices() -> Iterator[Difference]:
    """Waiting notices whose instant no longer follows from their local date, hour and zone."""
    waiting = Notice.objects.filter(state=Notice.State.WAITING)
    for notice in waiting.select_related("site", "course", "user", "person__user"):
        yield from readable(f"notice {notice.pk}", partial(_instant, notice))
    for notice in Notice.objects.exclude(state__in=Notice.State.values):
        yield Difference(
            f"notice {notice.pk}", f"state {notice.state}", "a state of the outbox; it is never sent"
        )
    for notice in Notice.objects.exclude(kind__in=[kind.name for kind in registry.kinds()]):
        yield Difference(
            f"notice {notice.pk}", f"kind {notice.kind}", "a kind this release knows; it is never sent"
        )
    for notice in Notice.objects.filter(state=Notice.State.CLAIMED, lease_until__isnull=True):
        yield Difference(f"notice {notice.pk}", "claimed without a lease", "claimed until an instant")
    for notice in Notice.objects.filter(state=Notice.State.GATHERED).select_related("digest"):
        if notice.digest is None or notice.digest.state not in (Notice.State.WAITING, Notice.State.CLAIMED):
            yield Difference(
                f"notice {notice.pk}", "in a mail with others that is settled", "sent with it or waiting"
            )


def _of_origins() -> Iterator[Difference]:
    """What each origin of notices finds in its own rows."""
    for origin in registry.origins():
        for name, stored, computed in origin.differences():
            yield Difference(name, stored, computed)


def _instant(notice: Notice) -> Iterator[Difference]:
    zone = _zone_of(notice)
    when = due_at(local_date=notice.send_on, hour=notice.send_hour, zone=ZoneInfo(zone))
    if notice.zone != zone or notice.due_at != when:
        yield Difference(f"notice {notice.pk}", f"due {notice.due_at.isoformat()}", f"due {when.isoformat()}")


def _zone_of(notice: Notice) -> str:
    """Whose clocks it follows: the reader's, or those of the site or, for the member, of where the course goes on."""
    elsewhere = notice.course.time_zone if notice.course and notice.audience == Audience.MEMBER else ""
    account = notice.user or (notice.person.user if notice.person else None)
    return clocks_of(
        local_date=notice.send_on,
        hour=notice.send_hour,
        reader=account.time_zone if account else "",
        site=elsewhere or notice.site.time_zone,
    )
