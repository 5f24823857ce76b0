"""Dates of the clinic's side, checked against the calendar and the incident."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext as _

from safety.errors import Invalid
from safety.models import Incident
from staff.services.record.records import check_past_date


def check_since_incident(incident: Incident, field: str, value: date, today: date) -> None:
    """Raises `Invalid`, naming `field`, for a date in the future of `today` or before the incident."""
    check_past_date(field, value, today)
    check_not_before(incident, field, value)


def check_not_before(incident: Incident, field: str, value: date) -> None:
    if value < incident.site.local_date(incident.happened_at):
        raise Invalid({field: _("This lies before the incident; check both dates.")})
