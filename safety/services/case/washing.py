"""The wash clock: start, stop, write down afterwards, void what is wrong."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.errors import Conflict, Invalid
from safety.models import Answer, Incident, WashSpell
from safety.rules.case.contradictions import CLOCK_SLACK, LONGEST_SPELL
from staff.models import User
from staff.services.audit import audit_write
from staff.services.voiding import VoidRule, void


def wash_start(
    *, actor: User, incident: Incident, now: datetime, started_at: datetime | None = None
) -> WashSpell:
    """Start the clock; refused while it runs."""
    started_at = started_at or now
    if started_at > now + CLOCK_SLACK:
        raise Invalid({"started_at": _("This lies in the future; check the time.")})
    if now - started_at > LONGEST_SPELL:
        raise Invalid(
            {
                "started_at": _(
                    "The clock can't run for more than three hours; write the washing down instead."
                )
            }
        )
    try:
        with transaction.atomic():
            spell = WashSpell.objects.create(incident=incident, started_at=started_at, recorded_by=actor)
            audit_write(
                actor=actor, action="wash.started", now=now, person=incident.person, target=incident.reference
            )
    except IntegrityError as error:
        raise Conflict(_("The wash clock is running already."), code="wash-running") from error
    return spell


def wash_stop(*, actor: User, incident: Incident, now: datetime, soap: str = Answer.UNKNOWN) -> WashSpell:
    """Stop the running clock; refused when none runs."""
    with transaction.atomic():
        spell = incident.wash_spells.select_for_update().filter(stopped_at__isnull=True).first()
        if spell is None:
            raise Conflict(_("No wash clock is running."), code="wash-not-running")
        if now - spell.started_at > LONGEST_SPELL:
            # Forgotten, not washing: stopping it now would turn a short wash into a long one.
            raise Conflict(
                _("The clock ran for over three hours: void it and write down how long was really washed."),
                code="wash-forgotten",
            )
        spell.stopped_at, spell.soap = max(now, spell.started_at), soap
        spell.save(update_fields=["stopped_at", "soap"])
        audit_write(
            actor=actor, action="wash.stopped", now=now, person=incident.person, target=incident.reference
        )
    return spell


def wash_add(
    *, actor: User, incident: Incident, started_at: datetime, stopped_at: datetime, soap: str, now: datetime
) -> WashSpell:
    """Write down a spell afterwards."""
    if stopped_at <= started_at:
        raise Invalid({"stopped_at": _("Washing must stop after it starts.")})
    if stopped_at > now + CLOCK_SLACK:
        raise Invalid({"stopped_at": _("This lies in the future; check the time.")})
    if stopped_at - started_at > LONGEST_SPELL:
        raise Invalid({"stopped_at": _("More than three hours can't be right; check the times.")})
    with transaction.atomic():
        spell = WashSpell.objects.create(
            incident=incident, started_at=started_at, stopped_at=stopped_at, soap=soap, recorded_by=actor
        )
        audit_write(
            actor=actor, action="wash.recorded", now=now, person=incident.person, target=incident.reference
        )
    return spell


WASH_VOID = VoidRule(
    model=WashSpell,
    action="wash.voided",
    twice=gettext_lazy("This washing is voided already."),
    # What was washed is added up from the spells that stand when it is looked at.
    lock=lambda _act: None,
    about=lambda row: {"person": row.incident.person, "target": row.incident.reference, "spell": row.pk},
    follow=lambda _act, _locked: None,
)


def wash_void(*, actor: User, spell: WashSpell, reason: str, now: datetime) -> None:
    """Mark a spell as entered in error; it stays readable and no longer counts. Refuses as `void` does."""
    void(actor=actor, row=spell, reason=reason, now=now, rule=WASH_VOID)
