"""Documents behind the record, for the same people as the record."""

from __future__ import annotations

import uuid
from pathlib import Path

from django.conf import settings
from django.db.models import QuerySet

from staff.models import Certificate, Dose, Evidence, Person, User
from staff.selectors.access import records_kept_by, records_visible_to


def path_of(key: uuid.UUID) -> Path:
    """Where the file of a document is kept; nothing of its name comes from whoever sent it."""
    return Path(settings.CERTIFICATE_DIR) / key.hex


def certificates_visible_to(user: User) -> QuerySet[Certificate]:
    """Documents of the records `user` may read."""
    return _with_person(Certificate.objects.filter(person__in=records_visible_to(user)))


def certificates_kept_by(user: User) -> QuerySet[Certificate]:
    """Documents of the records `user` may add to; those checked already aren't offered again by the service."""
    return _with_person(Certificate.objects.filter(person__in=records_kept_by(user)))


def _with_person(rows: QuerySet[Certificate]) -> QuerySet[Certificate]:
    return rows.select_related("person__site__rules", "uploaded_by", "verified_by")


def doses_without_document(person: Person, checker: User) -> QuerySet[Dose]:
    """Doses nobody has seen a document of, leaving out those `checker` recorded: that takes a second person."""
    return Dose.objects.filter(person=person, evidence=Evidence.NONE, verification__isnull=True).exclude(
        recorded_by=checker
    )
