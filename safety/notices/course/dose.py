"""The doses of a running course, by the site's plan: before they are due, on the day, and until they are on record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety import registry
from safety.models import Course, Notice
from safety.models import PlannedDose as DoseRow
from safety.notices.rows import by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.follow_up import Audience, PlannedDose, PlanRow, WantedNotice, wanted_notices
from safety.rules.notices.forecast import forecast
from safety.selectors.case.cases import courses_running
from safety.selectors.notices.plans import plan_of
from safety.selectors.notices.recipients import Recipient, audience_of
from staff.models import Site


def _subjects(_now: datetime) -> QuerySet[Course]:
    return courses_running().filter(planned_recorded__isnull=False).prefetch_related("planned_doses")


def wanted_of(course: Course, now: datetime) -> tuple[WantedNotice, ...]:
    plan, doses = plan_of(course.incident.site), _doses(course)
    return tuple(
        wanted
        for today, here in _todays(course, now)
        for wanted in wanted_notices(doses=doses, plan=plan, today=today, ended=course.ended_on is not None)
        if (wanted.audience == Audience.MEMBER) is here
    )


def _doses(course: Course) -> list[PlannedDose]:
    return [
        PlannedDose(step=dose.number, due_on=dose.due_on, given_on=dose.given_on, latest_on=dose.latest_on)
        for dose in course.planned_doses.all()
    ]


def _todays(course: Course, now: datetime) -> tuple[tuple[date, bool], ...]:
    """The date where the course goes on, for the member, and the site's, for the desk: each date then comes for each
    reader."""
    return (course.local_date(now), True), (course.incident.site.local_date(now), False)


def _foreseen(site: Site, now: datetime, plan: Sequence[PlanRow], days: int) -> Iterator[registry.Coming]:
    for course in _subjects(now).filter(incident__site=site):
        for today, here in _todays(course, now):
            for each in forecast(doses=_doses(course), plan=plan, today=today, ended=False, days=days):
                if (each.notice.audience == Audience.MEMBER) is here:
                    yield course.incident, course, each


def _wanted(course: Course, now: datetime) -> dict[str, Notice]:
    readers = {
        audience: audience_of(course.incident, audience, now, place_zone=course.time_zone)
        for audience in Audience
    }
    return by_key(
        _row(course, wanted, reader, now)
        for wanted in wanted_of(course, now)
        for reader in readers[wanted.audience]
    )


def _row(course: Course, wanted: WantedNotice, reader: Recipient, now: datetime) -> Notice:
    incident = course.incident
    key = f"course-{course.pk}:{wanted.step}:{wanted.due_on}:{wanted.stage}:{wanted.send_on}:{reader.mark}"
    return new_notice(
        key=key,
        kind=wanted.stage,
        site=incident.site,
        reader=reader,
        send_on=wanted.send_on,
        hour=wanted.hour,
        when_on=wanted.due_on,
        reference=incident.reference,
        path=f"/cases/{incident.reference}/",
        audience=wanted.audience,
        now=now,
        incident=incident,
        course=course,
        step=wanted.step,
    )


def _standing(course: Course, _now: datetime) -> QuerySet[Notice]:
    return Notice.objects.filter(course=course, kind__in=registry.names_of(DOSES))


def _stands(notice: Notice) -> bool:
    """Whether the dose is still to be given on that date."""
    course = notice.course
    if course is None or course.ended_on is not None or notice.step is None or notice.when_on is None:
        return False
    return DoseRow.objects.filter(
        course=course, number=notice.step, due_on=notice.when_on, given_on__isnull=True
    ).exists()


def _differences() -> Iterable[registry.Differing]:
    ended = Notice.objects.filter(state=Notice.State.WAITING, course__ended_on__isnull=False)
    for notice in ended:
        yield f"notice {notice.pk}", "waiting", "none: the course has ended"


DOSES = Origin(
    name="notices of doses",
    subjects=_subjects,
    subject_of=lambda notice: notice.course,
    wanted=_wanted,
    standing=_standing,
    differences=_differences,
    foreseen=_foreseen,
)

# A stage of the plan (safety.rules.notices.site_plan) is a kind; whether its mail asks to be seen.
_STAGES = (
    ("days-before", _("a dose is due in some days"), None),
    ("day-before", _("a dose is due tomorrow"), None),
    ("day-of", _("a dose is due today"), _stands),
    ("day-after", _("a dose was due yesterday and isn't recorded"), _stands),
    ("overdue", _("a dose is overdue"), _stands),
)
KINDS = tuple(
    NoticeKind(
        name=name,
        word=word,
        template="dose",
        origin=DOSES,
        asks=asks,
        may_share=True,
        counted_as=Counted.ALONE,
    )
    for name, word, asks in _STAGES
)
