"""Clinics of a site: where a bitten person goes the same day."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models import Site


class Stock(models.TextChoices):
    YES = "yes", _("in stock")
    NO = "no", _("not in stock")
    UNKNOWN = "unknown", _("not known")


class Clinic(models.Model):
    """A clinic of a site's list. What it has in stock is only as good as `confirmed_on`."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="clinics")
    name = models.CharField(_("name"), max_length=120)
    address = models.CharField(_("address"), max_length=200, blank=True)
    phone = models.CharField(_("telephone"), max_length=40)
    hours = models.CharField(_("opening hours"), max_length=200, blank=True)
    vaccine = models.CharField(_("vaccine"), max_length=8, choices=Stock, default=Stock.UNKNOWN)
    immunoglobulin = models.CharField(_("immunoglobulin"), max_length=8, choices=Stock, default=Stock.UNKNOWN)
    confirmed_on = models.DateField(_("stock confirmed on"), null=True, blank=True)
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    # Degrees on WGS 84; empty: distances to it aren't known.
    latitude = models.FloatField(_("latitude"), null=True, blank=True)
    longitude = models.FloatField(_("longitude"), null=True, blank=True)
    # Empty: the site's language.
    language = models.CharField(_("language of its letters"), max_length=10, blank=True)
    active = models.BooleanField(_("in use"), default=True)

    class Meta:
        ordering: ClassVar = ["name"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["site", "name"], name="clinic_name_once_a_site"),
            models.CheckConstraint(
                condition=models.Q(latitude__isnull=True, longitude__isnull=True)
                | models.Q(latitude__range=(-90, 90), longitude__range=(-180, 180)),
                name="clinic_place_is_on_earth",
                violation_error_message=_(
                    "Give latitude (-90 to 90) and longitude (-180 to 180) in degrees, or neither."
                ),
            ),
        ]

    def __str__(self) -> str:
        return self.name
