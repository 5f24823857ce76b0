"""The head of a case's page: what happened, how urgent it is, what it needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from safety.letter.facts import letter_facts
from safety.letter.words import urgency_words
from safety.models import Incident
from safety.pages.case.parts.remarks import case_remarks, record_words, reporter_words
from safety.pages.case.step_links import need_url
from safety.selectors.case.cases import (
    incidents_of_same_day,
    suggestion_of,
)
from safety.selectors.case.need import Need
from safety.selectors.case.urgency import urgency_of
from safety.selectors.phone.phone import messages_of
from safety.words import case_state, category_reasons, category_word, cause_words
from staff.models import User
from staff.selectors.access import OFFICER as OFFICER_ROLE
from staff.selectors.access import has_role


@dataclass(frozen=True)
class NeedLink:
    need: Need
    url: str


def head_part(
    incident: Incident, needs: Sequence[Need], user: User, now: datetime, *, follows: bool
) -> dict[str, Any]:
    """Whose case it is, what happened, and what it needs."""
    suggestion = suggestion_of(incident)
    return {
        "incident": incident,
        "site": incident.site,
        "follows": follows,
        "own": incident.person.user_id == user.pk,
        "category": category_word(suggestion),
        "category_reasons": category_reasons(suggestion),
        "urgency": urgency_line(incident),
        "causes": cause_words(incident),
        "reporter": reporter_words(incident),
        "remarks": case_remarks(incident, now),
        "record": record_words(letter_facts(incident, None, now)),
        "same_day": incidents_of_same_day(user, incident),
        "phone_messages": messages_of(incident) if has_role(user, incident.site, OFFICER_ROLE) else [],
        "state": case_state(incident, late=any(need.late for need in needs)),
        "needs": [NeedLink(need, need_url(incident, need, user)) for need in needs],
    }


def urgency_line(incident: Incident) -> str:
    """What raises the urgency, in words; nothing where nothing calls for a clinic."""
    reasons = urgency_of(incident)
    return "" if reasons is None else urgency_words(reasons)
