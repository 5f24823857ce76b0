"""Immunocompromised people: the mark on the record, and the clinician's letters that clear them."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from staff.ground.errors import Conflict, Invalid
from staff.ground.transactions import retried
from staff.models import Certificate, ClearanceLetter, DocumentKind, Person, User
from staff.services.audit import audit_write
from staff.services.record.certificates import certificate_add
from staff.services.record.clearance import clearance_refresh, lock_person, need_reason
from staff.services.record.document_files import file_drop
from staff.services.record.own_record import need_somebody_else
from staff.services.record.records import check_past_date
from staff.services.voiding import VoidRule, lock_record, refresh_record, void


@retried
def immunocompromised_set(
    *, actor: User, person: Person, immunocompromised: bool, reason: str, now: datetime
) -> Person:
    """Mark a person as immunocompromised, or take the mark away; clearance follows. Raises `Invalid` without a
    reason, `Conflict` when it is so already, `NotAllowed` for who takes away their own."""
    reason = need_reason(reason)
    with transaction.atomic():
        locked = lock_person(person.pk)
        if locked.immunocompromised == immunocompromised:
            raise Conflict(_("It is noted so already."), code="nothing-changes")
        if not immunocompromised:
            need_somebody_else(actor=actor, person=locked, field="immunocompromised")
        locked.immunocompromised = immunocompromised
        locked.save(update_fields=["immunocompromised"])
        audit_write(
            actor=actor,
            action="immunocompromised.set",
            now=now,
            person=locked,
            old=not immunocompromised,
            new=immunocompromised,
            reason=reason,
        )
        clearance_refresh(person=locked, now=now)
    return locked


@retried
def letter_record(
    *,
    actor: User,
    person: Person,
    clinician: str,
    signed_on: date,
    valid_until: date,
    document: Certificate,
    now: datetime,
) -> ClearanceLetter:
    """Add a clinician's clearance letter for the dates from `signed_on` to `valid_until`, both included.

    It counts once a second person has checked its document against these dates. Raises `Invalid` for dates that
    can't be, or a document that is no letter of this person or was checked before the dates were entered.
    """
    with transaction.atomic():
        locked = lock_person(person.pk)
        need_somebody_else(actor=actor, person=locked)
        today = locked.site.local_date(now)
        check_past_date("signed_on", signed_on, today)
        if valid_until < signed_on:
            raise Invalid({"valid_until": _("The last day lies before the day it was signed.")})
        if document.person_id != locked.pk or document.kind != DocumentKind.LETTER:
            raise Invalid({"content": _("Send a clearance letter of this person.")})
        if Certificate.objects.filter(pk=document.pk, verified_at__isnull=False).exists():
            raise Invalid({"content": _("This document was checked without these dates; send it again.")})
        row = ClearanceLetter.objects.create(
            person=locked,
            clinician=clinician,
            signed_on=signed_on,
            valid_until=valid_until,
            document=document,
            recorded_by=actor,
            recorded_at=now,
            recorded_on=today,
        )
        audit_write(actor=actor, action="letter.recorded", now=now, person=locked, target=f"letter:{row.pk}")
        clearance_refresh(person=locked, now=now)
    return row


@retried
def letter_add(
    *,
    actor: User,
    person: Person,
    clinician: str,
    signed_on: date,
    valid_until: date,
    content: bytes,
    now: datetime,
) -> ClearanceLetter:
    """Keep the letter's file and record its dates, both or neither. Refuses as `letter_record` does."""
    with transaction.atomic():
        document = certificate_add(
            actor=actor, person=person, kind=DocumentKind.LETTER, content=content, now=now
        )
        try:
            return letter_record(
                actor=actor,
                person=person,
                clinician=clinician,
                signed_on=signed_on,
                valid_until=valid_until,
                document=document,
                now=now,
            )
        except BaseException:
            file_drop(document.key)  # its row is undone with this transaction; raised again below
            raise


LETTER_VOID = VoidRule(
    model=ClearanceLetter,
    action="letter.voided",
    twice=gettext_lazy("This clearance letter is voided already."),
    lock=lock_record,
    about=lambda row: {"person": row.person, "target": f"letter:{row.pk}"},
    follow=refresh_record,
)


def letter_void(*, actor: User, letter: ClearanceLetter, reason: str, now: datetime) -> ClearanceLetter:
    """Mark a letter as entered in error or taken back by the clinician; refuses as `void` does."""
    return void(actor=actor, row=letter, reason=reason, now=now, rule=LETTER_VOID)
