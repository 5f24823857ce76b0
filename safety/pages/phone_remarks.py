"""What a case says about how it came in from a phone."""

from __future__ import annotations

from django.utils.translation import gettext as _

from safety.models import Incident
from safety.selectors.phone import messages_of
from safety.services.phone.outcome import held_words


def reporter_words(incident: Incident) -> str:
    if incident.reported_by is not None:
        return str(incident.reported_by)
    through = incident.reported_through
    return _("by the phone link of %(name)s") % {"name": through.person if through else ""}


def phone_remarks(incident: Incident) -> list[str]:
    """Sentences for whoever follows the case: what is still to come, and what is to be asked."""
    remarks = []
    if incident.details_at is None:
        remarks.append(
            _("The details follow: so far only that washing began, or a part of the answers, has come.")
        )
    through = incident.reported_through
    if through is not None and through.ended_at is not None and through.ended_at <= incident.reported_at:
        remarks.append(_("It was sent with an ended link: ask the person."))
    reasons = {code for row in messages_of(incident) for code in row.reason.split()} - {"ended-link"}
    return remarks + [held_words(code) for code in sorted(reasons)]
