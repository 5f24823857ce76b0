"""What a typed report may say, and what contradicts itself."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from safety.errors import Invalid
from safety.models.case.choices import Animal, Cause, ContactKind, Kind, Task
from safety.rules.case.contradictions import CLOCK_SLACK, LONGEST_SPELL
from safety.services.case.incident_facts import IncidentReport
from staff.services.record.records import EARLIEST_DATE

_ANY_CONTACT = tuple(value for value in ContactKind.values if value != ContactKind.NONE)
# What may be said of the contact in a report of each kind; a kind that isn't named takes every answer.
_CONTACTS_OF: dict[str, tuple[str, ...]] = {
    Kind.BITE: (ContactKind.BITTEN, ContactKind.NIBBLED, ContactKind.UNKNOWN),
    Kind.SCRATCH: (ContactKind.SCRATCHED, ContactKind.BITTEN, ContactKind.NIBBLED, ContactKind.UNKNOWN),
    Kind.LICK: _ANY_CONTACT,
    Kind.SPLASH: (ContactKind.SPLASHED, ContactKind.LICKED_BROKEN, ContactKind.BITTEN, ContactKind.UNKNOWN),
    Kind.NEEDLESTICK: _ANY_CONTACT,
}


def report_check(report: IncidentReport, now: datetime) -> None:
    """Refuse what can't be, naming fields."""
    wrong: dict[str, str] = {}
    for name, value, choices in (
        ("kind", report.kind, Kind),
        ("animal", report.animal, Animal),
        ("task", report.task, Task),
    ):
        if value not in choices.values:
            wrong[name] = _("Choose one of the answers.")
    if any(cause not in Cause.values for cause in report.causes):
        wrong["causes"] = _("Choose from the causes listed.")
    if report.happened_at.tzinfo is None:
        wrong["happened_at"] = _("Give the time with its zone.")
    elif report.happened_at > now + CLOCK_SLACK:
        wrong["happened_at"] = _("This lies in the future; check the date and the time.")
    elif report.happened_at.date() < EARLIEST_DATE:
        wrong["happened_at"] = _("This can't be right; check the year.")
    if report.washed_minutes is not None and not 0 <= report.washed_minutes <= 180:
        wrong["washed_minutes"] = _("Give the minutes of washing as a number from 0 to 180.")
    if report.wash_started_at:
        wrong |= _check_clock(report, report.wash_started_at, now)
    if any(contradicts(report.kind, wound.contact) for wound in report.wounds):
        wrong["contact"] = _("This contact doesn't fit what happened; check both answers.")
    if wrong:
        raise Invalid(wrong)


def _check_clock(report: IncidentReport, started_at: datetime, now: datetime) -> dict[str, str]:
    """A minute on the clock must not be counted a second time as a minute typed in."""
    if report.washed_minutes is not None:
        return {"washed_minutes": _("The wash clock was used: leave the minutes empty.")}
    stopped_at = report.wash_stopped_at or started_at
    if started_at > now + CLOCK_SLACK or stopped_at > now + CLOCK_SLACK:
        return {"wash_started_at": _("The wash clock lies in the future; give the minutes instead.")}
    if stopped_at < started_at or stopped_at - started_at > LONGEST_SPELL:
        return {"wash_stopped_at": _("The wash clock can't be right; give the minutes instead.")}
    return {}


def contradicts(kind: str, contact: str) -> bool:
    """A report of contact must not be made harmless by an answer that denies it."""
    return contact not in _CONTACTS_OF.get(kind, (contact,))
