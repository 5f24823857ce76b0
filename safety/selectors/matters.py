"""What a case still waits for, as the plan of notices sees it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from safety.models import Decision, Incident
from safety.rules.follow_up import Subject
from safety.selectors.cases import needs_clinic
from safety.selectors.course_titre import titre_missing
from safety.selectors.steps import course_short, courses_meant


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
    return [*_clinic(incident), *_short(incident), *_titres(incident)] if incident.is_open else []


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
    elif last.decision == Decision.COURSE and not courses_meant(incident):
        # A course that was ordered and isn't entered, or was entered in error, reminds nobody of its doses.
        yield Matter(Subject.DECISION, site.local_date(last.recorded_at))


def _short(incident: Incident) -> Iterator[Matter]:
    course = course_short(incident)
    if course is not None and course.ended_on is not None:
        yield Matter(Subject.DECISION, course.ended_on)


def _titres(incident: Incident) -> Iterator[Matter]:
    window = titre_missing(incident)
    if window is not None:
        yield Matter(Subject.TITRE, window.last_on)
