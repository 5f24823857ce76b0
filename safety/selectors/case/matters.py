"""What a case still waits for, as the plan of notices sees it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from safety.models import Incident
from safety.rules.case.needs import NEEDS
from safety.rules.notices.follow_up import Subject
from safety.selectors.case.case_facts import clinic_has_seen
from safety.selectors.case.cases import needs_clinic
from safety.selectors.case.needs import case_asks, with_needs


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
