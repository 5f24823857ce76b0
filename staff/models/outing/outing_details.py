"""The columns of an outing's details; their labels and limits are those of every form and door."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.rules.outing.outing_details import DETAILS, OutingDetails


class WithOutingDetails(models.Model):
    """One column for each field of `OutingDetails`."""

    start_time = models.TimeField(
        _("start time"), null=True, blank=True, help_text=_("By the clocks of the site.")
    )
    meeting_place = models.CharField(
        _("meeting place"), max_length=200, blank=True, help_text=_("In words everybody of the crew knows.")
    )
    meeting_latitude = models.FloatField(
        _("meeting place: latitude"),
        null=True,
        blank=True,
        validators=[MinValueValidator(-90), MaxValueValidator(90)],
        help_text=_("In degrees, such as -1.28640; south of the equator below zero."),
    )
    meeting_longitude = models.FloatField(
        _("meeting place: longitude"),
        null=True,
        blank=True,
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
        help_text=_("In degrees, such as 36.81720; west of Greenwich below zero."),
    )
    day_phone = models.CharField(
        _("telephone of the day"),
        max_length=40,
        blank=True,
        help_text=_("Who answers for this outing while it is out."),
    )
    note = models.CharField(
        _("note"), max_length=1000, blank=True, help_text=_("Nothing about anybody's health.")
    )

    class Meta:
        abstract = True

    @property
    def details(self) -> OutingDetails:
        return OutingDetails(**{name: getattr(self, name) for name in DETAILS})


def position_is_whole(name: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=models.Q(meeting_latitude__isnull=True, meeting_longitude__isnull=True)
        | models.Q(meeting_latitude__range=(-90, 90), meeting_longitude__range=(-180, 180)),
        name=name,
    )
