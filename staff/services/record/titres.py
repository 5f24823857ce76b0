"""Titres: measured antibodies, recorded with the paper that shows them, voided when entered in error."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from staff.ground.errors import Conflict, Invalid
from staff.ground.transactions import retried
from staff.models import Person, Titre, TitreEvidence, User
from staff.services.audit import audit_write
from staff.services.record.clearance import clearance_refresh, lock_person
from staff.services.record.own_record import need_somebody_else
from staff.services.record.records import check_past_date
from staff.services.voiding import Voiding, VoidRule, lock_record, refresh_record, void

# IU/mL. Above this a slipped decimal point is likelier than the value, so the report is looked at again (decided here).
TITRE_DOUBTED = 100


def _lock_anothers(act: Voiding[Titre]) -> Person:
    """Voiding a low one may clear the person, so that nobody voids their own."""
    need_somebody_else(actor=act.actor, person=act.row.person)
    return lock_record(act)


TITRE_VOID = VoidRule(
    model=Titre,
    action="titre.voided",
    twice=gettext_lazy("This titre is voided already."),
    lock=_lock_anothers,
    about=lambda row: {
        "person": row.person,
        "target": f"titre:{row.pk}",
        "taken_on": row.taken_on.isoformat(),
    },
    follow=refresh_record,
)


def titre_void(*, actor: User, titre: Titre, reason: str, now: datetime) -> Titre:
    """Mark a titre as entered in error; refuses as `void` does, and `NotAllowed` for one's own."""
    return void(actor=actor, row=titre, reason=reason, now=now, rule=TITRE_VOID)


@retried
def titre_record(
    *,
    actor: User,
    person: Person,
    taken_on: date,
    iu_per_ml: Decimal,
    now: datetime,
    laboratory: str = "",
    evidence: str = TitreEvidence.REPORT,
    as_reported: bool = False,
) -> Titre:
    """Add a titre in IU/mL; raises `Invalid` for an impossible date or value, `Conflict` for a second on one day.

    Above `TITRE_DOUBTED` it is refused unless told that the report says so.
    """
    if not (iu_per_ml.is_finite() and 0 <= iu_per_ml <= 10_000):
        raise Invalid({"iu_per_ml": _("Give the titre in IU/mL as a number from 0 to 10,000.")})
    if iu_per_ml > TITRE_DOUBTED and not as_reported:
        words = _("More than %(n)d IU/mL is rare: look at the report again, and tick this if it says so.")
        raise Invalid({"as_reported": words % {"n": TITRE_DOUBTED}})
    with transaction.atomic():
        locked = lock_person(person.pk)
        need_somebody_else(actor=actor, person=locked)
        today = locked.site.local_date(now)
        check_past_date("taken_on", taken_on, today)
        if locked.titres.filter(taken_on=taken_on).exists():
            message = _("A titre of that day is on record already; void it first if it is wrong.")
            raise Conflict(message, code="titre-on-record", fields={"taken_on": message})
        titre = Titre.objects.create(
            person=locked,
            taken_on=taken_on,
            iu_per_ml=iu_per_ml,
            laboratory=laboratory,
            evidence=evidence,
            recorded_by=actor,
            recorded_at=now,
            recorded_on=today,
        )
        audit_write(actor=actor, action="titre.recorded", now=now, person=locked, target=f"titre:{titre.pk}")
        clearance_refresh(person=locked, now=now)
    return titre
