"""A referral to a clinic: made, and voided when it was entered in error."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext_lazy

from safety.models import Clinic, Incident, Referral
from safety.services.case.closing import lock_open_case
from safety.services.clinic.clinics import need_own_clinic
from staff.ground.transactions import retried
from staff.models import User
from staff.services.audit import audit_write
from staff.services.voiding import VoidRule, void


@retried
def referral_make(*, actor: User, incident: Incident, clinic: Clinic, now: datetime) -> Referral:
    """Send the person to a clinic of the site; more than one referral is allowed."""
    need_own_clinic(incident, clinic)
    with transaction.atomic():
        lock_open_case(incident)
        referral = Referral.objects.create(
            incident=incident, clinic=clinic, referred_at=now, referred_by=actor
        )
        audit_write(
            actor=actor, action="referral.made", now=now, person=incident.person, target=incident.reference
        )
    return referral


REFERRAL_VOID = VoidRule(
    model=Referral,
    action="referral.voided",
    twice=gettext_lazy("This referral is voided already."),
    lock=lambda act: lock_open_case(act.row.incident),
    about=lambda row: {"person": row.incident.person, "target": row.incident.reference, "row": row.pk},
    # The next step of the case follows from the referrals that stand.
    follow=lambda _act, _locked: None,
)


def referral_void(*, actor: User, referral: Referral, reason: str, now: datetime) -> None:
    """Mark a referral as entered in error; it stays readable and counts nowhere. Refuses as `void` does, and in a
    closed case."""
    void(actor=actor, row=referral, reason=reason, now=now, rule=REFERRAL_VOID)
