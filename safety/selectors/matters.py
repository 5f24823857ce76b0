"""What a case still waits for, as the plan of notices sees it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from safety.models import Incident, Notice, Observation, PlannedDose
from safety.rules.follow_up import Subject
from safety.rules.needs import NEEDS
from safety.rules.notice_kinds import ANIMAL, OF_A_CASE
from safety.selectors.case_facts import clinic_has_seen
from safety.selectors.cases import needs_clinic
from safety.selectors.needs import case_asks, with_needs


@dataclass(frozen=True)
class Matter:
    """Something nobody has recorded yet, and the site's date on which it was due."""

    what: Subject
    due_on: date


def incidents_open() -> QuerySet[Incident]:
    """Open cases with everything their matters are derived from."""
    return with_needs(Incident.objects.filter(closed_at__isnull=True)).order_by("pk")


def waits_for_visit(incident: Incident) -> bool:
    """Whether nobody at a clinic has seen the person about what is known now."""
    return incident.is_open and needs_clinic(incident) and not clinic_has_seen(incident)


def matters_of(incident: Incident) -> list[Matter]:
    """Those of the case's needs that the plan of notices tells of, but for doses. Empty for a closed case."""
    asked = ((NEEDS[each.code].subject, each.due_on) for each in case_asks(incident))
    return [Matter(subject, due_on) for subject, due_on in asked if subject is not None]


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
    if first.kind.startswith(ANIMAL):
        return _animal_stands(first.incident)
    incident = incidents_open().filter(notices=first.pk).first()
    if incident is None:
        return False
    if first.kind in OF_A_CASE:
        return any(f"{matter.what}-" in first.kind for matter in matters_of(incident))
    return waits_for_visit(incident) if first.kind == "new-report" else True


def _animal_stands(incident: Incident) -> bool:
    """What a laboratory says may come after the case was closed; of an observation that was voided nothing stands."""
    return Observation.objects.filter(incident=incident, voided_at__isnull=True).exists()


def _still_due(notice: Notice) -> bool:
    if notice.step is None or notice.when_on is None:
        return False
    return PlannedDose.objects.filter(
        course=notice.course_id, number=notice.step, due_on=notice.when_on, given_on__isnull=True
    ).exists()
