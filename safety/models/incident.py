"""What happened: the incident, its wounds, the washing. What is missing of a case is derived, never stored."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.rules import category as rule
from safety.rules.washing import Spell
from staff.models import Outing, Person, Site


class Answer(models.TextChoices):
    YES = rule.Answer.YES.value, _("yes")
    NO = rule.Answer.NO.value, _("no")
    UNKNOWN = rule.Answer.UNKNOWN.value, _("don't know")


class Kind(models.TextChoices):
    BITE = "bite", _("bite")
    SCRATCH = "scratch", _("scratch")
    LICK = "lick", _("lick")
    SPLASH = "splash", _("saliva in eye, nose or mouth")
    NEEDLESTICK = "needlestick", _("needlestick")
    NEAR_MISS = "near-miss", _("near miss")
    ROAD = "road", _("road incident")
    OTHER = "other", _("something else")


class Task(models.TextChoices):
    APPROACHING = "approaching", _("approaching the dog")
    NETTING = "netting", _("netting")
    HOLDING = "holding", _("holding")
    INJECTING = "injecting", _("injecting")
    COLLARING = "collaring", _("collaring")
    RELEASING = "releasing", _("releasing")
    HELD_BY_OWNER = "held-by-owner", _("dog held by its owner")
    TRAVELLING = "travelling", _("travelling")
    OTHER = "other", _("something else")
    UNKNOWN = "unknown", _("don't know")


class Cause(models.TextChoices):
    DISTRACTED = "distracted", _("distracted")
    HAND_NEAR_MOUTH = "hand-near-mouth", _("hand near the mouth")
    BARE_HANDS = "bare-hands", _("bare hands")
    HEAD_OUT_OF_NET = "head-out-of-net", _("dog's head out of the net")
    ROUGH_HANDLING = "rough-handling", _("handled in a way that hurt or frightened the dog")
    KIT_FAILED = "kit-failed", _("kit failed")
    OWNER_LOST_HOLD = "owner-lost-hold", _("owner lost hold")
    TRAFFIC = "traffic", _("traffic")
    UNKNOWN = "unknown", _("don't know")


class Animal(models.TextChoices):
    DOG_OWNED = "dog-owned", _("dog with an owner")
    DOG_ROAMING = "dog-roaming", _("roaming dog")
    CAT = "cat", _("cat")
    BAT = "bat", _("bat")
    OTHER = "other", _("other animal")
    UNKNOWN = "unknown", _("don't know")


class BodySite(models.TextChoices):
    HEAD_FACE_NECK = "head-face-neck", _("head, face or neck")
    HAND = "hand", _("hand or fingers")
    ARM = "arm", _("arm")
    TRUNK = "trunk", _("chest, belly or back")
    GENITALS = "genitals", _("genitals")
    LEG = "leg", _("leg")
    FOOT = "foot", _("foot")
    UNKNOWN = "unknown", _("don't know")


class ContactKind(models.TextChoices):
    """The contact, in the words of the exposure table (TRADE section 4)."""

    BITTEN = rule.ContactKind.BITTEN.value, _("bitten")
    SCRATCHED = rule.ContactKind.SCRATCHED.value, _("scratched")
    NIBBLED = rule.ContactKind.NIBBLED_UNCOVERED_SKIN.value, _("nibbled on uncovered skin")
    LICKED_BROKEN = rule.ContactKind.LICKED_BROKEN_SKIN.value, _("licked on broken skin")
    LICKED_INTACT = rule.ContactKind.LICKED_INTACT_SKIN.value, _("licked on unbroken skin")
    SPLASHED = rule.ContactKind.SPLASHED_EYE_NOSE_MOUTH.value, _("saliva in eye, nose or mouth")
    TOUCHED = rule.ContactKind.TOUCHED.value, _("touched or fed only")
    NEEDLESTICK = rule.ContactKind.NEEDLESTICK.value, _("stuck by a needle")
    NONE = rule.ContactKind.NONE.value, _("no contact")
    UNKNOWN = rule.ContactKind.UNKNOWN.value, _("don't know")


class Incident(models.Model):
    """One report. `key` is made where the report is written, so that sending it again finds the same row."""

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    # Digest of the request that made the row: the same key with another body is refused.
    body_digest = models.CharField(max_length=64)
    # Says nothing about anybody: what mails and calendars carry.
    reference = models.CharField(_("reference"), max_length=12, unique=True)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="incidents")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="incidents")
    outing = models.ForeignKey(
        Outing, on_delete=models.SET_NULL, null=True, blank=True, related_name="incidents"
    )
    reported_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reported_at = models.DateTimeField()
    kind = models.CharField(_("what happened"), max_length=12, choices=Kind)
    happened_at = models.DateTimeField(_("when"))
    animal = models.CharField(_("animal"), max_length=12, choices=Animal, default=Animal.UNKNOWN)
    task = models.CharField(_("task"), max_length=14, choices=Task, default=Task.UNKNOWN)
    causes = models.JSONField(_("causes"), default=list)
    narrative = models.TextField(_("in your words"), blank=True, max_length=2000)
    # Stated that no washing took place; without spells and without this, washing is "not recorded".
    not_washed = models.BooleanField(_("not washed"), default=False)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    close_reason = models.CharField(_("why closed"), max_length=300, blank=True)

    class Meta:
        ordering: ClassVar = ["-happened_at", "-id"]
        indexes: ClassVar = [models.Index(fields=["site", "-happened_at"], name="incident_by_site")]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(closed_at__isnull=True) | ~models.Q(close_reason=""),
                name="closed_incident_says_why",
            ),
        ]

    def __str__(self) -> str:
        return self.reference

    @property
    def is_open(self) -> bool:
        return self.closed_at is None


class Wound(models.Model):
    incident = models.ForeignKey(Incident, on_delete=models.CASCADE, related_name="wounds")
    contact = models.CharField(_("contact"), max_length=26, choices=ContactKind, default=ContactKind.UNKNOWN)
    body_site = models.CharField(
        _("where on the body"), max_length=16, choices=BodySite, default=BodySite.UNKNOWN
    )
    broke_skin = models.CharField(_("skin broken"), max_length=8, choices=Answer, default=Answer.UNKNOWN)
    bled = models.CharField(_("bleeding"), max_length=8, choices=Answer, default=Answer.UNKNOWN)

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.get_contact_display()}, {self.get_body_site_display()}"

    def as_fact(self) -> rule.ContactFact:
        return rule.ContactFact(
            kind=rule.ContactKind(self.contact),
            broke_skin=rule.Answer(self.broke_skin),
            bled=rule.Answer(self.bled),
        )


class WashSpell(models.Model):
    """One spell under the tap; no `stopped_at` means the clock is running. A wrong one is voided."""

    incident = models.ForeignKey(Incident, on_delete=models.CASCADE, related_name="wash_spells")
    started_at = models.DateTimeField(_("started"))
    stopped_at = models.DateTimeField(_("stopped"), null=True, blank=True)
    soap = models.CharField(_("with soap"), max_length=8, choices=Answer, default=Answer.UNKNOWN)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    voided_at = models.DateTimeField(null=True, blank=True)
    void_reason = models.CharField(_("why voided"), max_length=300, blank=True)

    class Meta:
        ordering: ClassVar = ["started_at", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["incident"],
                condition=models.Q(stopped_at__isnull=True, voided_at__isnull=True),
                name="one_wash_clock_running",
            ),
            models.CheckConstraint(
                condition=models.Q(stopped_at__isnull=True)
                | models.Q(stopped_at__gte=models.F("started_at")),
                name="wash_stops_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.incident}: {self.started_at.isoformat()}"

    def as_fact(self) -> Spell:
        return Spell(started_at=self.started_at, stopped_at=self.stopped_at, soap=rule.Answer(self.soap))
