"""Documents behind the record, and what a second person has read in them. Rows are added to, never edited."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.record.entries import Dose
from staff.models.record.person import Person
from staff.models.voidable import Voidable, voided_says_why
from staff.rules.record.facts import LetterFact


class DocumentKind(models.TextChoices):
    CERTIFICATE = "certificate", _("vaccination certificate")
    LABORATORY = "laboratory", _("laboratory report of a titre")
    LETTER = "clearance-letter", _("clinician's clearance letter")


class Certificate(models.Model):
    """One file, kept outside the web root under the random name `key`; whoever may read the record may read it."""

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="certificates")
    kind = models.CharField(_("what it is"), max_length=20, choices=DocumentKind)
    content_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField(_("bytes"))
    sha256 = models.CharField(max_length=64)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    uploaded_at = models.DateTimeField()
    verified_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    verified_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["uploaded_at", "id"]
        constraints: ClassVar = [
            # A letter whose dates were copied wrongly is voided, and its file sent and checked again.
            models.UniqueConstraint(
                fields=["person", "sha256"],
                condition=~models.Q(kind="clearance-letter"),
                name="certificate_once_a_person",
            ),
            models.CheckConstraint(
                condition=models.Q(verified_by__isnull=True, verified_at__isnull=True)
                | models.Q(verified_by__isnull=False, verified_at__isnull=False)
                & ~models.Q(verified_by=models.F("uploaded_by")),
                name="certificate_verified_by_a_second_person",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.uploaded_at:%Y-%m-%d}"


class DoseVerification(models.Model):
    """A second person saw the document of a dose that was recorded without one."""

    dose = models.OneToOneField(Dose, on_delete=models.PROTECT, related_name="verification")
    certificate = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="verifications")
    verified_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    verified_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.dose}: {self.certificate}"


class ClearanceLetter(Voidable):
    """A clinician's word that an immunocompromised person may work, for stated dates, both included."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="letters")
    clinician = models.CharField(_("clinician"), max_length=160)
    signed_on = models.DateField(_("signed on"))
    valid_until = models.DateField(_("last day it covers"))
    document = models.ForeignKey(Certificate, on_delete=models.PROTECT, related_name="letters")
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_on = models.DateField(_("recorded on, site's date"))

    class Meta:
        ordering: ClassVar = ["signed_on", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(signed_on__lte=models.F("recorded_on")), name="letter_not_in_the_future"
            ),
            models.CheckConstraint(
                condition=models.Q(valid_until__gte=models.F("signed_on")), name="letter_ends_after_it_starts"
            ),
            voided_says_why("voided_letter_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.signed_on.isoformat()} – {self.valid_until.isoformat()}"

    def as_fact(self) -> LetterFact:
        """Select "document" with many letters. The letter counts once its document was checked against the dates
        entered, by somebody other than who entered them."""
        return LetterFact(
            signed_on=self.signed_on,
            valid_until=self.valid_until,
            verified=self.document.verified_at is not None
            and self.document.verified_at >= self.recorded_at
            and self.document.verified_by_id != self.recorded_by_id
            and self.document.person_id == self.person_id,
        )
