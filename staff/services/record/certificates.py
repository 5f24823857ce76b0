"""Documents behind the record: keeping one, and what a second person has read in it."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.ground.transactions import retried
from staff.models import Certificate, DocumentKind, Dose, DoseVerification, Evidence, Person, User
from staff.services.audit import audit_write
from staff.services.record.clearance import clearance_refresh, lock_person
from staff.services.record.document_files import content_type_of, file_drop, file_keep
from staff.services.record.own_record import need_somebody_else


@retried
def certificate_add(*, actor: User, person: Person, kind: str, content: bytes, now: datetime) -> Certificate:
    """Keep a document of a person. It proves nothing until a second person has checked it.

    Raises `Invalid` for a file that is no PDF or picture or too big, `Conflict` for one that is kept already.
    """
    content_type, key = content_type_of(content), uuid.uuid4()
    digest = hashlib.sha256(content).hexdigest()
    file_keep(key, content)
    try:
        with transaction.atomic():
            locked = lock_person(person.pk)
            again = locked.certificates.exclude(kind=DocumentKind.LETTER).filter(sha256=digest)
            if kind != DocumentKind.LETTER and again.exists():
                message = _("This file is on the record already.")
                raise Conflict(message, code="certificate-on-record", fields={"content": message})
            row = Certificate.objects.create(
                key=key,
                person=locked,
                kind=kind,
                content_type=content_type,
                size=len(content),
                sha256=digest,
                uploaded_by=actor,
                uploaded_at=now,
            )
            audit_write(
                actor=actor,
                action="certificate.added",
                now=now,
                person=locked,
                target=f"certificate:{row.pk}",
            )
    except BaseException:
        file_drop(key)  # no row names it; raised again below
        raise
    return row


@retried
def certificate_verify(
    *, actor: User, certificate: Certificate, doses: Iterable[Dose], now: datetime
) -> Certificate:
    """Note that a second person has checked the document and read `doses` in it; clearance follows.

    The checker may be neither who sent the document, nor who recorded one of the doses, nor the person it is
    about: raises `NotAllowed`. Raises `Conflict` when it is checked already, `Invalid` for a dose of another
    person, a voided one or one whose document was seen before.
    """
    with transaction.atomic():
        person = lock_person(certificate.person_id)
        locked = Certificate.objects.select_for_update().get(pk=certificate.pk)
        if locked.verified_at is not None:
            raise Conflict(_("This document is checked already."), code="certificate-verified")
        _check_second_person(actor, locked, person)
        shown = [_checked_dose(dose, person, actor) for dose in doses]
        changed = Certificate.objects.filter(pk=locked.pk, verified_at__isnull=True)
        changed.update(verified_by=actor, verified_at=now)
        DoseVerification.objects.bulk_create(
            DoseVerification(dose=dose, certificate=locked, verified_by=actor, verified_at=now)
            for dose in shown
        )
        audit_write(
            actor=actor,
            action="certificate.verified",
            now=now,
            person=person,
            target=f"certificate:{locked.pk}",
            doses=[dose.pk for dose in shown],
        )
        clearance_refresh(person=person, now=now)
    certificate.refresh_from_db()
    return certificate


def _check_second_person(actor: User, certificate: Certificate, person: Person) -> None:
    if certificate.uploaded_by_id == actor.pk:
        raise NotAllowed(
            _("You sent this document; somebody else has to check it."), code="needs-a-second-person"
        )
    need_somebody_else(actor=actor, person=person)


def _checked_dose(dose: Dose, person: Person, actor: User) -> Dose:
    """The dose as it stands now, when this document may prove it."""
    row = Dose.objects.select_related("verification").filter(pk=dose.pk, person=person).first()
    if row is None:
        raise Invalid({"doses": _("One of the doses isn't on this record any more; look at the list again.")})
    if row.evidence != Evidence.NONE or row.verified:
        raise Invalid({"doses": _("The document of one of the doses was seen before; take it off the list.")})
    if row.recorded_by_id == actor.pk:
        raise NotAllowed(
            _("You recorded one of these doses; somebody else has to check its document."),
            code="needs-a-second-person",
        )
    return row
