"""What happened: the incident, its wounds, the washing. What is missing of a case is derived, never stored."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.models.case.choices import (
    Animal,
    Answer,
    BodySite,
    ContactKind,
    Kind,
    Task,
    no_animal_facts,
)
from safety.rules.case import category as rule
from safety.rules.case.washing import Spell
from staff.models import Outing, Person, Site
from staff.models.voidable import Voidable, voided_says_why


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
    reported_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    # The phone's way in: whose link it came by stands there.
    reported_through = models.ForeignKey(
        "safety.PhoneLink", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    reported_at = models.DateTimeField()
    # Empty while only "washing began" has come and the answers haven't.
    details_at = models.DateTimeField(null=True, blank=True)
    # When a report came for a case that was closed, and opened it again.
    late_report_at = models.DateTimeField(null=True, blank=True)
    # When a report said that it was somebody else's: what was recorded before is about the first person.
    moved_at = models.DateTimeField(null=True, blank=True)
    kind = models.CharField(_("what happened"), max_length=12, choices=Kind)
    happened_at = models.DateTimeField(_("when"))
    animal = models.CharField(_("animal"), max_length=12, choices=Animal, default=Animal.UNKNOWN)
    task = models.CharField(_("task"), max_length=14, choices=Task, default=Task.UNKNOWN)
    causes = models.JSONField(_("causes"), default=list)
    narrative = models.TextField(_("in your words"), blank=True)
    animal_facts = models.JSONField(_("about the animal"), default=no_animal_facts)
    others_hurt = models.CharField(_("others hurt"), max_length=8, choices=Answer, default=Answer.UNKNOWN)
    antiseptic = models.CharField(
        _("antiseptic after washing"), max_length=8, choices=Answer, default=Answer.UNKNOWN
    )
    # Degrees on WGS 84 and metres, from the phone and only when its holder asked for it.
    latitude = models.FloatField(_("latitude"), null=True, blank=True)
    longitude = models.FloatField(_("longitude"), null=True, blank=True)
    accuracy_m = models.FloatField(_("accurate to, in metres"), null=True, blank=True)
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
            models.CheckConstraint(
                condition=models.Q(reported_by__isnull=False) | models.Q(reported_through__isnull=False),
                name="incident_says_who_reported",
            ),
            models.CheckConstraint(
                condition=models.Q(latitude__isnull=True, longitude__isnull=True)
                | models.Q(latitude__range=(-90, 90), longitude__range=(-180, 180)),
                name="incident_place_is_on_earth",
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
    deep = models.CharField(_("deep"), max_length=8, choices=Answer, default=Answer.UNKNOWN)

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


class WashSpell(Voidable):
    """One spell under the tap; no `stopped_at` means the clock is running. A wrong one is voided."""

    incident = models.ForeignKey(Incident, on_delete=models.CASCADE, related_name="wash_spells")
    started_at = models.DateTimeField(_("started"))
    stopped_at = models.DateTimeField(_("stopped"), null=True, blank=True)
    soap = models.CharField(_("with soap"), max_length=8, choices=Answer, default=Answer.UNKNOWN)
    running_water = models.CharField(
        _("under running water"), max_length=8, choices=Answer, default=Answer.UNKNOWN
    )
    # Empty: it came by the link the incident was reported through.
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

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
            voided_says_why("voided_spell_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.incident}: {self.started_at.isoformat()}"

    def as_fact(self) -> Spell:
        return Spell(started_at=self.started_at, stopped_at=self.stopped_at, soap=rule.Answer(self.soap))
