"""Campaigns, the people to be ready for them, and the vaccination sessions that make them so."""

from __future__ import annotations

import uuid
from datetime import time
from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.record.entries import Dose
from staff.models.record.person import Person
from staff.models.regimen.regimen import Regimen, Route
from staff.models.site.site import Site

# The dose into the skin in mL, as WHO 2018 has it for each injection; a campaign may state another.
SKIN_DOSE_ML = Decimal("0.10")
OPENS_AT = time(9)


class Method(models.TextChoices):
    FIXED_POST = "fixed-post", _("fixed post")
    HOUSE_TO_HOUSE = "house-to-house", _("house to house")
    STREET = "street-catching", _("catching on the street")


class Campaign(models.Model):
    """A team that must be ready on `starts_on`. Volumes are in mL; into the muscle a vial serves one person."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="campaigns")
    name = models.CharField(_("name"), max_length=120)
    starts_on = models.DateField(_("first day of field work"))
    regimen = models.ForeignKey(Regimen, on_delete=models.PROTECT, related_name="+")
    route = models.CharField(_("route"), max_length=2, choices=Route)
    dose_ml = models.DecimalField(
        _("mL of one injection into the skin"), max_digits=4, decimal_places=2, default=SKIN_DOSE_ML
    )
    vial_ml = models.DecimalField(
        _("mL in one vial"), max_digits=5, decimal_places=2, default=Decimal("1.00")
    )
    place = models.CharField(_("where the sessions are held"), max_length=160)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-starts_on", "name"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["site", "name"], name="campaign_name_once_a_site"),
            models.CheckConstraint(
                condition=models.Q(dose_ml__gt=0) & models.Q(vial_ml__gte=models.F("dose_ml")),
                name="vial_holds_a_dose",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def injections_per_vial(self) -> int:
        """Whole injections one vial gives: what is left over is thrown away."""
        return 1 if self.route == Route.IM else int(self.vial_ml // self.dose_ml)


class CampaignArea(models.Model):
    """Where a campaign works, how and for how long: `days` outings of `crews` crews from `first_on`.

    `adults` and `puppies` are the dogs expected on all its days together.
    """

    campaign = models.ForeignKey(Campaign, on_delete=models.CASCADE, related_name="areas")
    name = models.CharField(_("area"), max_length=120)
    method = models.CharField(_("method"), max_length=20, choices=Method, default=Method.HOUSE_TO_HOUSE)
    first_on = models.DateField(_("first day"))
    days = models.PositiveSmallIntegerField(
        _("days of work"), default=1, validators=[MinValueValidator(1), MaxValueValidator(60)]
    )
    crews = models.PositiveSmallIntegerField(
        _("crews each day"), default=1, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    adults = models.PositiveIntegerField(_("adult dogs expected"), default=0)
    puppies = models.PositiveIntegerField(_("puppies expected"), default=0)
    riders = models.PositiveSmallIntegerField(_("people who ride there each day"), default=0)

    class Meta:
        ordering: ClassVar = ["first_on", "name"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["campaign", "name"], name="campaign_area_once"),
            models.CheckConstraint(
                condition=models.Q(days__range=(1, 60), crews__range=(1, 12)), name="area_has_days_and_crews"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class CampaignMember(models.Model):
    campaign = models.ForeignKey(Campaign, on_delete=models.CASCADE, related_name="members")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="campaign_memberships")

    class Meta:
        ordering: ClassVar = ["person__name", "person__number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["campaign", "person"], name="campaign_member_once"),
        ]

    def __str__(self) -> str:
        return f"{self.campaign}: {self.person}"


class Session(models.Model):
    """One day on which a clinic vaccinates people of a campaign. `held_on`, `opens_at`: the site's calendar and clock.

    `key` and `sequence` are for calendar invitations: the key never changes, the sequence grows with each change
    that its people must learn of.
    """

    class State(models.TextChoices):
        PLANNED = "planned", _("planned")
        HELD = "held", _("held")
        CANCELLED = "cancelled", _("cancelled")

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    sequence = models.PositiveIntegerField(default=0)
    campaign = models.ForeignKey(Campaign, on_delete=models.PROTECT, related_name="sessions")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="sessions")
    held_on = models.DateField(_("date"))
    opens_at = models.TimeField(_("opens at"), default=OPENS_AT)
    place = models.CharField(_("where"), max_length=160)
    state = models.CharField(_("state"), max_length=10, choices=State, default=State.PLANNED)
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    changed_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["held_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["campaign", "held_on"],
                condition=~models.Q(state="cancelled"),
                name="campaign_session_once_a_day",
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["site", "held_on"], name="session_by_site_and_date")]

    def __str__(self) -> str:
        return f"{self.held_on.isoformat()} {self.place}"


class SessionPlace(models.Model):
    """A person expected at a session for dose `number` of the regimen, and what became of it.

    `planned` is false for somebody who came without being expected; `reason` says why no dose was given.
    """

    class Outcome(models.TextChoices):
        EXPECTED = "expected", _("expected")
        GIVEN = "given", _("given")
        ABSENT = "absent", _("didn't come")
        REFUSED = "refused", _("not given")
        MOVED = "moved", _("moved to another session")

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="places")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="session_places")
    number = models.PositiveSmallIntegerField(_("dose"), validators=[MinValueValidator(1)])
    injections = models.PositiveSmallIntegerField(_("injections"), default=1)
    outcome = models.CharField(_("outcome"), max_length=10, choices=Outcome, default=Outcome.EXPECTED)
    planned = models.BooleanField(_("was expected"), default=True)
    reason = models.CharField(_("why no dose was given"), max_length=200, blank=True)
    dose = models.OneToOneField(
        Dose, on_delete=models.PROTECT, null=True, blank=True, related_name="session_place"
    )

    class Meta:
        ordering: ClassVar = ["person__name", "person__number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["session", "person"], name="person_once_a_session"),
            models.CheckConstraint(
                condition=models.Q(outcome="given", dose__isnull=False)
                | (~models.Q(outcome="given") & models.Q(dose__isnull=True)),
                name="given_place_names_its_dose",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.session}: {self.person}"
