"""A site's holidays, for the hours of its clinics."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.site.site import Site


class SiteHoliday(models.Model):
    """A date of the site's calendar on which clinics keep their holiday hours."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="holidays")
    date = models.DateField(_("date"))
    name = models.CharField(_("holiday"), max_length=80)

    class Meta:
        ordering: ClassVar = ["date"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["site", "date"], name="holiday_once_a_site"),
        ]

    def __str__(self) -> str:
        return f"{self.date.isoformat()} {self.name}"
