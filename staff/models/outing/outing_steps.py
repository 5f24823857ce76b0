"""What is recorded about an outing before it leaves: who was told, what the crew carries, who asked for which days."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.outing.outing import Crew, Outing
from staff.models.record.person import Person
from staff.models.voidable import Voidable, voided_says_why


class CommunityNotice(Voidable):
    """That owners and neighbours were told of an outing on `told_on` (site's date), who was told and how."""

    outing = models.ForeignKey(Outing, on_delete=models.PROTECT, related_name="community_notices")
    told_on = models.DateField(_("told on"))
    who = models.CharField(_("who was told"), max_length=200)
    how = models.CharField(_("how"), max_length=200)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["told_on", "id"]
        constraints: ClassVar = [
            voided_says_why("voided_community_notice_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.outing}: {self.who}"


class KitTick(models.Model):
    """The last word on whether a crew has an item of its kit; `ticked_at` is the instant on the device."""

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="kit_ticks")
    item = models.CharField(_("item"), max_length=30)
    there = models.BooleanField(_("there"))
    ticked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ticked_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["crew", "item"], name="kit_item_once")]

    def __str__(self) -> str:
        return f"{self.crew}: {self.item}"


class DayWish(models.Model):
    """Days somebody asked for, both ends included. Kept without a reason: it may be nobody's business.

    "Can't" binds proposals, the other wishes weigh.
    """

    class Kind(models.TextChoices):
        CANNOT = "cannot", _("can't come")
        RATHER_NOT = "rather-not", _("would rather not")
        GLADLY = "gladly", _("would like to come")

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="day_wishes")
    kind = models.CharField(_("wish"), max_length=12, choices=Kind)
    first_on = models.DateField(_("first day"))
    last_on = models.DateField(_("last day"))
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["first_on", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(first_on__lte=models.F("last_on")),
                name="wish_starts_before_it_ends",
                violation_error_message=_("The last day lies before the first."),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.kind}"
