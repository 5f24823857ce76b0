"""The hold an exposure puts on a person: placed with the report, ended by a clinic visit, placed again without one."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import Max
from django.utils.translation import gettext as _

from safety.models import Incident
from safety.selectors.case.case_facts import clinic_has_seen, first_seen_on
from safety.selectors.case.cases import needs_clinic
from staff.models import Hold, Person, User
from staff.services.record.holds import hold_place, hold_release


def hold_source(incident: Incident) -> str:
    return f"incident:{incident.key}"


def incident_hold(incident: Incident, actor: User | None, now: datetime, *, anew: bool = False) -> None:
    """Keep whoever was exposed, or may have been, off the roster until a clinic visit is recorded.

    `anew`: although a visit stands; who asks for it says through which day the hold lasts.
    """
    seen = clinic_has_seen(incident) and not anew
    if incident.site.rules.hold_after_exposure and needs_clinic(incident) and not seen:
        hold_place(
            actor=actor,
            person=incident.person,
            starts_on=incident.site.local_date(min(incident.happened_at, now)),
            reason=_("exposure %(reference)s, clinic visit not recorded") % {"reference": incident.reference},
            now=now,
            source=hold_source(incident),
        )


def release_if_seen(actor: User, incident: Incident, last_day: date, now: datetime) -> None:
    """A visit of before a late report answers nothing that is known now: the hold stays."""
    # Read anew: the caller's row may have been read before this visit, or before the report.
    if clinic_has_seen(Incident.objects.select_related("site").get(pk=incident.pk)):
        _release(actor, incident, last_day, now)


def _release(actor: User, incident: Incident, last_day: date, now: datetime) -> None:
    for hold in Hold.objects.filter(source=hold_source(incident), released_at__isnull=True):
        hold_release(actor=actor, hold=hold, last_day=last_day, note=_("Clinic visit recorded."), now=now)


def release_from(incident: Incident, person: Person, actor: User | None, now: datetime) -> None:
    """The case was never this person's: the hold goes with it."""
    hold = Hold.objects.filter(person=person, source=hold_source(incident), released_at__isnull=True).first()
    if hold is not None:
        note = f"{incident.reference}: the report says it was somebody else"
        hold_release(actor=actor, hold=hold, last_day=person.site.local_date(now), note=note, now=now)


def hold_again(actor: User, incident: Incident, now: datetime) -> None:
    """Nobody stays clear on the strength of a voided visit: the hold lasts through the first that stands."""
    first_on = first_seen_on(incident)
    if first_on is None:
        incident_hold(incident, actor, now)
        return
    holds = Hold.objects.filter(source=hold_source(incident), person=incident.person)
    ended_on = holds.aggregate(last=Max("ends_on"))["last"]
    if ended_on is not None and ended_on < first_on:
        incident_hold(incident, actor, now, anew=True)
        _release(actor, incident, first_on, now)
