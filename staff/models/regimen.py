"""The regimen table: versioned rows with steps and source, and who approved which for which site."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.site import Site
from staff.rules import values


class Purpose(models.TextChoices):
    PRE_EXPOSURE = values.Purpose.PRE_EXPOSURE.value, _("pre-exposure")
    POST_EXPOSURE = values.Purpose.POST_EXPOSURE.value, _("post-exposure")
    POST_EXPOSURE_IMMUNISED = values.Purpose.POST_EXPOSURE_IMMUNISED.value, _("post-exposure, immunised")
    BOOSTER = values.Purpose.BOOSTER.value, _("booster")


class Route(models.TextChoices):
    IM = values.Route.IM.value, _("intramuscular (IM)")
    ID = values.Route.ID.value, _("intradermal (ID)")


class Regimen(models.Model):
    """One version of one regimen. A version in use is never edited: a change is a new version."""

    class SourceKind(models.TextChoices):
        PUBLISHED = "published", _("published table")
        SECOND_HAND = "second-hand", _("read in a secondary copy")
        MEMORY = "memory", _("from memory, unchecked")

    class ForWhom(models.TextChoices):
        ANYONE = "anyone", _("anyone")
        NOT_IMMUNISED = "not-immunised", _("not immunised")
        IMMUNISED = "immunised", _("immunised")
        IMMUNOCOMPROMISED = "immunocompromised", _("immunocompromised")

    code = models.SlugField(_("code"), max_length=60)
    version = models.PositiveSmallIntegerField(_("version"), default=1)
    name = models.CharField(_("name"), max_length=160)
    purpose = models.CharField(_("purpose"), max_length=30, choices=Purpose)
    routes = models.JSONField(_("routes"), default=list)
    for_whom = models.CharField(_("for whom"), max_length=20, choices=ForWhom, default=ForWhom.ANYONE)
    source = models.TextField(_("source"))
    source_kind = models.CharField(_("kind of source"), max_length=12, choices=SourceKind)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering: ClassVar = ["purpose", "code", "version"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["code", "version"], name="regimen_version_once"),
        ]

    def __str__(self) -> str:
        return f"{self.name} (v{self.version})"

    def as_rule(self) -> values.Regimen:
        """This version as the value the pure rules work on; uses prefetched steps when there are any."""
        steps = sorted(self.steps.all(), key=lambda step: step.number)
        return values.Regimen(
            code=self.code,
            version=self.version,
            purpose=values.Purpose(self.purpose),
            routes=frozenset(values.Route(route) for route in self.routes),
            steps=tuple(step.as_rule() for step in steps),
        )


class RegimenStep(models.Model):
    """Days count from day 0, the date of the first dose given; the smallest gap from the step before."""

    regimen = models.ForeignKey(Regimen, on_delete=models.CASCADE, related_name="steps")
    number = models.PositiveSmallIntegerField(_("number"))
    day = models.PositiveSmallIntegerField(_("day"))
    latest_day = models.PositiveSmallIntegerField(_("last day of the window"))
    smallest_gap = models.PositiveSmallIntegerField(_("smallest gap to the step before, days"))
    injections = models.PositiveSmallIntegerField(_("injections"), default=1)
    later = models.BooleanField(_("keeps a complete series"), default=False)

    class Meta:
        ordering: ClassVar = ["number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["regimen", "number"], name="regimen_step_once"),
            models.CheckConstraint(
                condition=models.Q(latest_day__gte=models.F("day")), name="step_window_ends_after_it_opens"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.regimen.code} {self.number}"

    def as_rule(self) -> values.Step:
        return values.Step(
            number=self.number,
            day=self.day,
            latest_day=self.latest_day,
            smallest_gap=self.smallest_gap,
            injections=self.injections,
            later=self.later,
        )


class RegimenApproval(models.Model):
    """A site may use a version once its authority has approved it; withdrawing ends new use only."""

    regimen = models.ForeignKey(Regimen, on_delete=models.PROTECT, related_name="approvals")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="regimen_approvals")
    authority = models.CharField(_("authority"), max_length=200)
    approved_on = models.DateField(_("approved on"))
    document = models.CharField(_("document"), max_length=200)
    approved_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["regimen", "site"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="regimen_approved_once_a_site",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.regimen}: {self.site}"
