"""Which regimens a course may run on."""

from __future__ import annotations

from django.db.models import QuerySet

from safety.models import Incident
from staff.ground.purposes import COURSES
from staff.models import Regimen
from staff.selectors.regimen.regimens import approved_at


def course_regimens(incident: Incident) -> QuerySet[Regimen]:
    """Those for after an exposure that the authority of the case's site has approved and not withdrawn."""
    return approved_at(incident.site, *COURSES).distinct()
