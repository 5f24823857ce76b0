"""Who is away when, and who stands in."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _


class Absence(models.Model):
    """Days, both included and by the calendar of the site asked about, on which a deputy is written to instead.

    It holds from `made_at` until it is ended. The note is read by the officers of the site and the deputy: no word of health belongs in it.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="absences")
    first_day = models.DateField(_("first day"))
    last_day = models.DateField(_("last day"))
    deputy = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="stands_in"
    )
    note = models.CharField(_("note"), max_length=200, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    end_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering: ClassVar = ["first_day", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(last_day__gte=models.F("first_day")), name="absence_ends_after_it_begins"
            ),
            models.CheckConstraint(
                condition=models.Q(deputy__isnull=True) | ~models.Q(deputy=models.F("user")),
                name="nobody_deputises_for_themself",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at__isnull=True, ended_by__isnull=True, end_reason="")
                | (models.Q(ended_at__isnull=False, ended_by__isnull=False) & ~models.Q(end_reason="")),
                name="an_ended_absence_says_why",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["user", "last_day"],
                condition=models.Q(ended_at__isnull=True),
                name="absence_in_force",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.first_day.isoformat()} – {self.last_day.isoformat()}"
