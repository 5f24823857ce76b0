"""Reporting what happened and the washing."""

from __future__ import annotations

import hashlib
import json
import uuid
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from safety.errors import Invalid, KeyReused
from safety.models import Answer, Incident, PhoneLink, WashSpell, Wound
from safety.models.choices import Animal, Cause, ContactKind, Kind, Task
from safety.rules.contradictions import CLOCK_SLACK, LONGEST_SPELL
from safety.selectors.case_facts import clinic_has_seen
from safety.selectors.cases import needs_clinic
from safety.services.incident_notices import incident_notices_add
from safety.services.references import new_reference
from staff.models import Outing, Person, User
from staff.services.audit import audit_write
from staff.services.records import EARLIEST_DATE, hold_place
from staff.services.transactions import retried

_ANY_CONTACT = tuple(value for value in ContactKind.values if value != ContactKind.NONE)
# What may be said of the contact in a report of each kind; a kind that isn't named takes every answer.
_CONTACTS_OF: dict[str, tuple[str, ...]] = {
    Kind.BITE: (ContactKind.BITTEN, ContactKind.NIBBLED, ContactKind.UNKNOWN),
    Kind.SCRATCH: (ContactKind.SCRATCHED, ContactKind.BITTEN, ContactKind.NIBBLED, ContactKind.UNKNOWN),
    Kind.LICK: _ANY_CONTACT,
    Kind.SPLASH: (ContactKind.SPLASHED, ContactKind.LICKED_BROKEN, ContactKind.BITTEN, ContactKind.UNKNOWN),
    Kind.NEEDLESTICK: _ANY_CONTACT,
}


@dataclass(frozen=True)
class WoundReport:
    contact: str = ContactKind.UNKNOWN
    body_site: str = "unknown"
    broke_skin: str = Answer.UNKNOWN
    bled: str = Answer.UNKNOWN
    deep: str = Answer.UNKNOWN


@dataclass(frozen=True)
class IncidentReport:
    """What a report says. Instants are aware; `washed_minutes` None means not recorded, 0 not washed.

    `wash_started_at` comes from a wash clock instead of minutes; without `wash_stopped_at` it still runs.
    """

    kind: str
    happened_at: datetime
    wounds: tuple[WoundReport, ...] = ()
    animal: str = Animal.UNKNOWN
    task: str = Task.UNKNOWN
    causes: tuple[str, ...] = ()
    narrative: str = ""
    washed_minutes: int | None = None
    soap: str = Answer.UNKNOWN
    wash_started_at: datetime | None = None
    wash_stopped_at: datetime | None = None

    def digest(
        self,
        *,
        person: Person,
        actor: User | None,
        outing: Outing | None = None,
        link: PhoneLink | None = None,
    ) -> str:
        """Same report by the same account, or a link of the same person, on the same outing: same digest."""
        body = asdict(self) | {
            "person": person.pk,
            "actor": actor.pk if actor else None,
            "outing": outing.pk if outing else None,
        }
        if link is not None:
            body["link_of"] = link.person_id
        return hashlib.sha256(json.dumps(body, sort_keys=True, default=str).encode()).hexdigest()


@dataclass(frozen=True)
class Reported:
    incident: Incident
    made: bool = field(default=True)


def _check(report: IncidentReport, now: datetime) -> None:
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


@retried
def incident_report(
    *,
    actor: User | None,
    person: Person,
    key: uuid.UUID,
    report: IncidentReport,
    now: datetime,
    outing: Outing | None = None,
    link: PhoneLink | None = None,
) -> Reported:
    """Store a report once. The same key again answers the same row; with another body it is refused.

    It comes from an account (`actor`) or by a personal `link`, whose holder it is then about.

    Whoever was exposed (category II or III, or unsure) is held off the roster until a clinic visit is recorded.
    Raises `Invalid` naming fields, `KeyReused` for the same key with another body.
    """
    digest = report.digest(person=person, actor=actor, outing=outing, link=link)
    if known := Incident.objects.filter(key=key).first():
        return _again(known, digest)
    _check(report, now)
    by: dict[str, Any] = {"by_link": link.pk, "link_of": link.person_id} if link else {}
    try:
        with transaction.atomic():
            incident = Incident.objects.create(
                key=key,
                body_digest=digest,
                reference=new_reference(),
                site=person.site,
                person=person,
                outing=outing,
                reported_by=actor,
                reported_through=link,
                reported_at=now,
                details_at=now,
                kind=report.kind,
                happened_at=report.happened_at,
                animal=report.animal,
                task=report.task,
                causes=list(report.causes),
                narrative=report.narrative[:2000],
                not_washed=report.washed_minutes == 0,
            )
            _write_parts(incident, report, actor, now)
            audit_write(
                actor=actor,
                action="incident.reported",
                now=now,
                person=person,
                target=incident.reference,
                **by,
            )
            incident_hold(incident, actor, now)
            incident_notices_add(incident=incident, now=now)
    except IntegrityError:
        # Sent twice at once: the other one made the row.
        if known := Incident.objects.filter(key=key).first():
            return _again(known, digest)
        raise
    return Reported(incident)


def _again(known: Incident, digest: str) -> Reported:
    if known.body_digest != digest:
        raise KeyReused(
            _("A different report was sent under this key before; send this one under a new key.")
        )
    return Reported(known, made=False)


def _write_parts(incident: Incident, report: IncidentReport, actor: User | None, now: datetime) -> None:
    Wound.objects.bulk_create(Wound(incident=incident, **asdict(wound)) for wound in report.wounds)
    if report.washed_minutes:
        stopped = min(now, report.happened_at + timedelta(minutes=report.washed_minutes))
        WashSpell.objects.create(
            incident=incident,
            started_at=stopped - timedelta(minutes=report.washed_minutes),
            stopped_at=stopped,
            soap=report.soap,
            recorded_by=actor,
        )
    elif report.wash_started_at:
        WashSpell.objects.create(
            incident=incident,
            started_at=report.wash_started_at,
            stopped_at=report.wash_stopped_at,
            soap=report.soap,
            recorded_by=actor,
        )


def hold_source(incident: Incident) -> str:
    return f"incident:{incident.key}"


def incident_hold(incident: Incident, actor: User | None, now: datetime, *, moved: bool = False) -> None:
    """Keep whoever was exposed, or may have been, off the roster until a clinic visit is recorded.

    `moved`: the case was somebody else's until now, so a visit on record may not be this person's.
    """
    seen = clinic_has_seen(incident) and not moved
    if incident.site.rules.hold_after_exposure and needs_clinic(incident) and not seen:
        hold_place(
            actor=actor,
            person=incident.person,
            starts_on=incident.site.local_date(min(incident.happened_at, now)),
            reason=_("exposure %(reference)s, clinic visit not recorded") % {"reference": incident.reference},
            now=now,
            source=hold_source(incident),
        )
