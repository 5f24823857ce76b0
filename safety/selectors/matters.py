"""What a case still waits for, as the plan of notices sees it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import QuerySet

from safety.models import Course, Decision, Incident, Notice, PlannedDose
from safety.rules.follow_up import Subject
from safety.rules.notice_kinds import OF_A_CASE
from safety.selectors.cases import needs_clinic

# After the last dose of a course of somebody immunocompromised; MMWR 2010;59(RR-2): blood taken 7 to 14 days after.
TITRE_DAYS = timedelta(days=14)


@dataclass(frozen=True)
class Matter:
    """Something nobody has recorded yet, and the site's date on which it was due."""

    what: Subject
    due_on: date


def incidents_open() -> QuerySet[Incident]:
    """Open cases with everything their matters are derived from."""
    return (
        Incident.objects.filter(closed_at__isnull=True)
        .select_related("site__rules", "person__user")
        .prefetch_related("wounds", "visits", "courses__planned_doses", "person__titres")
        .order_by("pk")
    )


def waits_for_visit(incident: Incident) -> bool:
    """Whether nobody at a clinic has seen the person; what was seen before a late report came is no answer to it."""
    since = incident.late_report_at
    seen = any(since is None or visit.recorded_at >= since for visit in incident.visits.all())
    return incident.is_open and not seen and needs_clinic(incident)


def matters_of(incident: Incident) -> list[Matter]:
    """Empty for a closed case."""
    return [*_clinic(incident), *_titres(incident)] if incident.is_open else []


def _clinic(incident: Incident) -> Iterator[Matter]:
    site = incident.site
    if waits_for_visit(incident):
        yield Matter(Subject.VISIT, site.local_date(incident.late_report_at or incident.reported_at))
        return
    visits = list(incident.visits.all())
    if not visits or not needs_clinic(incident):
        return
    last = visits[-1]
    if last.decision == Decision.REFERRED_ON:
        yield Matter(Subject.VISIT, site.local_date(last.recorded_at))
    elif last.decision == Decision.PENDING:
        yield Matter(Subject.DECISION, site.local_date(last.recorded_at))
    elif last.decision == Decision.COURSE and not incident.courses.all():
        # A course that was ordered and isn't entered reminds nobody of its doses.
        yield Matter(Subject.DECISION, site.local_date(last.recorded_at))


def _titres(incident: Incident) -> Iterator[Matter]:
    if not incident.person.immunocompromised:
        return
    given = [last for course in incident.courses.all() if (last := _last_given(course)) is not None]
    if not given:
        return
    last = max(given)
    titres = incident.person.titres.all()
    if not any(titre.voided_at is None and titre.taken_on > last for titre in titres):
        yield Matter(Subject.TITRE, last + TITRE_DAYS)


def _last_given(course: Course) -> date | None:
    """The date of the last dose of a course whose every dose was given."""
    days = [dose.given_on for dose in course.planned_doses.all()]
    return max((day for day in days if day), default=None) if None not in days else None


def root_of(notice: Notice) -> Notice:
    """The notice at the beginning: of one that passes another on, the one nobody answered first."""
    while notice.about is not None:
        notice = notice.about
    return notice


def matter_stands(notice: Notice) -> bool:
    """Whether what a notice, perhaps of days ago, was about is still open."""
    first = root_of(notice)
    if first.course is not None:
        return first.course.ended_on is None and _still_due(first)
    if first.incident is None:
        return True
    incident = incidents_open().filter(notices=first.pk).first()
    if incident is None:
        return False
    if first.kind in OF_A_CASE:
        return any(f"{matter.what}-" in first.kind for matter in matters_of(incident))
    return waits_for_visit(incident) if first.kind == "new-report" else True


def _still_due(notice: Notice) -> bool:
    if notice.step is None or notice.when_on is None:
        return False
    return PlannedDose.objects.filter(
        course=notice.course_id, number=notice.step, due_on=notice.when_on, given_on__isnull=True
    ).exists()
