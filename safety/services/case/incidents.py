"""The birth of a case, by whichever door it comes, and the hold it puts on the person."""

from __future__ import annotations

import uuid
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from safety.errors import KeyReused
from safety.models import Incident, PhoneLink, WashSpell, Wound
from safety.notices.case.report import REPORTS
from safety.selectors.case.case_facts import clinic_has_seen
from safety.selectors.case.cases import needs_clinic
from safety.services.case.incident_checks import report_check
from safety.services.case.incident_facts import CaseFacts, IncidentReport, SpellReport, WoundReport
from safety.services.case.references import new_reference
from safety.services.notices.notices import notices_tell
from staff.ground.transactions import retried
from staff.models import Outing, Person, User
from staff.selectors.outing.on_crews import outing_of
from staff.services.audit import audit_write
from staff.services.record.records import hold_place


@dataclass(frozen=True)
class Reported:
    incident: Incident
    made: bool = field(default=True)


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
    """A report that was typed. The same key again answers the same row; with another body it is refused.

    It comes from an account (`actor`) or by a personal `link`, whose holder it is then about. Without an `outing` the
    case belongs to the one the person was on. Raises `Invalid` naming fields, `KeyReused` for the same key with another
    body.
    """
    # The outing that was named: one that is found is no part of what was sent.
    digest = report.digest(person=person, actor=actor, outing=outing, link=link)
    if known := Incident.objects.filter(key=key).first():
        return _again(known, digest)
    report_check(report, now)
    return incident_born(
        key=key,
        digest=digest,
        person=person,
        facts=report.facts(now),
        outing=outing,
        actor=actor,
        link=link,
        now=now,
    )


def incident_born(
    *,
    key: uuid.UUID,
    digest: str,
    person: Person,
    facts: CaseFacts,
    actor: User | None,
    link: PhoneLink | None,
    now: datetime,
    outing: Outing | None = None,
) -> Reported:
    """Every case is born here: its row, wounds and washing, the trail, the hold, and who is told, all or nothing.

    Whoever was exposed (category II or III, or unsure) is held off the roster until a clinic visit is recorded.
    The same key and digest again answer the same row; another digest raises `KeyReused`.
    """
    try:
        with transaction.atomic():
            incident = Incident.objects.create(
                key=key,
                body_digest=digest,
                reference=new_reference(),
                site=person.site,
                person=person,
                outing=outing or outing_of(person, facts.happened_at),
                reported_by=actor,
                reported_through=link,
                reported_at=now,
                not_washed=facts.washing.not_washed,
                antiseptic=facts.washing.antiseptic,
                **facts.columns(now),
            )
            wounds_write(incident, facts.wounds)
            _spells_write(incident, facts, actor)
            audit_write(
                actor=actor,
                action="incident.reported",
                now=now,
                person=person,
                target=incident.reference,
                complete=facts.complete,
                spells=len(facts.washing.spells),
                **_by(link),
            )
            incident_hold(incident, actor, now)
            notices_tell(origin=REPORTS, subject=incident, now=now)
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


def _by(link: PhoneLink | None) -> dict[str, Any]:
    """A link isn't the account of its holder."""
    return {"by_link": link.pk, "link_of": link.person_id} if link else {}


def wounds_write(incident: Incident, wounds: tuple[WoundReport, ...]) -> None:
    Wound.objects.bulk_create(Wound(incident=incident, **asdict(wound)) for wound in wounds)


def _spells_write(incident: Incident, facts: CaseFacts, actor: User | None) -> None:
    # Those that are over come first, so that the one clock that may run is free for the last.
    for spell in sorted(facts.washing.spells, key=lambda spell: (spell.stopped_at is None, spell.started_at)):
        spell_add(incident, spell, actor)


def spell_add(incident: Incident, spell: SpellReport, actor: User | None) -> WashSpell | None:
    """None while another clock of the case runs: the message that stops this spell brings it along."""
    runs = incident.wash_spells.filter(stopped_at__isnull=True, voided_at__isnull=True)
    if spell.stopped_at is None and runs.exists():
        return None
    return WashSpell.objects.create(
        incident=incident,
        started_at=spell.started_at,
        stopped_at=spell.stopped_at,
        soap=spell.soap,
        running_water=spell.running_water,
        recorded_by=actor,
    )


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
