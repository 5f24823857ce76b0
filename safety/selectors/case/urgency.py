"""How urgent an exposure is, by what was reported."""

from __future__ import annotations

from safety.models import Incident
from safety.rules.case.category import Answer
from safety.rules.case.urgency import UrgencyReason, WoundFact, urgency_reasons
from safety.selectors.case.cases import needs_clinic


def urgency_of(incident: Incident) -> tuple[UrgencyReason, ...] | None:
    """What raises it above the same day, perhaps nothing; None when nothing reported calls for a clinic."""
    if not needs_clinic(incident):
        return None
    wounds = [
        WoundFact(contact=wound.as_fact(), body_site=wound.body_site, deep=Answer(wound.deep))
        for wound in incident.wounds.all()
    ]
    return urgency_reasons(wounds=wounds, species=incident.animal)
