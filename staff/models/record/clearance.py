"""Clearance intervals: a projection of the record with one writer, staff.services.record.clearance."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.record.person import Person
from staff.rules.regimen.values import Interval


class Clearance(models.Model):
    """Dates on which a person may be rostered; both ends included, no end means open.

    A row never changes: when the record says otherwise it is superseded. From `superseded_on` no
    assignment may rest on it; those of earlier outings stay, as the history of what they rested on.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="clearances")
    starts_on = models.DateField(_("from"))
    ends_on = models.DateField(_("until"), null=True, blank=True)
    computed_at = models.DateTimeField()
    superseded_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["starts_on"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(ends_on__isnull=True) | models.Q(ends_on__gte=models.F("starts_on")),
                name="clearance_ends_after_it_starts",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["starts_on", "ends_on", "person"],
                condition=models.Q(superseded_on__isnull=True),
                name="clearance_by_date",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.starts_on.isoformat()} – {self.ends_on.isoformat() if self.ends_on else '…'}"

    def as_interval(self) -> Interval:
        return Interval(starts_on=self.starts_on, ends_on=self.ends_on)
