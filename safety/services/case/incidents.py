"""The birth of a case, by whichever door it comes."""

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
from safety.services.case.exposure_hold import incident_hold
from safety.services.case.incident_facts import CaseFacts, SpellReport, WoundReport
from safety.services.case.references import new_reference
from safety.services.notices.notices import notices_tell
from staff.models import Outing, Person, User
from staff.selectors.outing.on_crews import outing_of
from staff.services.audit import audit_write


@dataclass(frozen=True)
class Reported:
    incident: Incident
    made: bool = field(default=True)


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
            return same_again(known, digest)
        raise
    return Reported(incident)


def same_again(known: Incident, digest: str) -> Reported:
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
