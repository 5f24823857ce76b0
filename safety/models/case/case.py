"""The clinic's side of a case: referral, visit and what the clinician decided."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.models.case.incident import Incident
from safety.models.clinic.clinic import Clinic
from staff.models.voidable import Voidable, voided_says_why


class Referral(Voidable):
    incident = models.ForeignKey(Incident, on_delete=models.CASCADE, related_name="referrals")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="referrals")
    referred_at = models.DateTimeField(_("sent to the clinic at"))
    referred_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["referred_at", "id"]
        constraints: ClassVar = [voided_says_why("voided_referral_says_why")]

    def __str__(self) -> str:
        return f"{self.incident}: {self.clinic}"


class Decision(models.TextChoices):
    COURSE = "course", _("a course of post-exposure doses")
    NO_COURSE = "no-course", _("no doses needed")
    REFERRED_ON = "referred-on", _("sent on to another clinic")
    PENDING = "pending", _("not decided yet")


class Immunoglobulin(models.TextChoices):
    """What the clinic's paper says of it. "Not available" isn't "not given": somebody has to ask again."""

    GIVEN = "yes", _("given")
    NOT_GIVEN = "no", _("not given")
    UNAVAILABLE = "unavailable", _("not available")
    UNKNOWN = "unknown", _("don't know")


class Visit(Voidable):
    """A visit at a clinic and what the clinician decided. Immunoglobulin is recorded, never prescribed."""

    incident = models.ForeignKey(Incident, on_delete=models.CASCADE, related_name="visits")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="visits")
    visited_on = models.DateField(_("seen on"))
    clinician = models.CharField(_("clinician"), max_length=120, blank=True)
    decision = models.CharField(_("clinician's decision"), max_length=12, choices=Decision)
    immunoglobulin = models.CharField(
        _("immunoglobulin"), max_length=12, choices=Immunoglobulin, default=Immunoglobulin.UNKNOWN
    )
    # Empty: on the day of the visit. The amount stands as the clinic wrote it and is never computed with.
    immunoglobulin_on = models.DateField(_("immunoglobulin given on"), null=True, blank=True)
    immunoglobulin_amount = models.CharField(_("amount of immunoglobulin"), max_length=80, blank=True)
    # Who said later what became of it, and why, where it wasn't there at the visit.
    immunoglobulin_said = models.CharField(_("said later"), max_length=440, blank=True)
    note = models.CharField(_("note"), max_length=500, blank=True)
    # As the clinic wrote it; the dates that are reminded of follow from the regimen.
    next_on = models.DateField(_("next date"), null=True, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["visited_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["incident", "clinic", "visited_on"],
                condition=models.Q(voided_at__isnull=True),
                name="standing_visit_once_a_day",
            ),
            voided_says_why("voided_visit_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.incident}: {self.visited_on.isoformat()}"
