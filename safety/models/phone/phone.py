"""The phone's side: personal links, the keys reports are sealed to, what came in, dogs handled."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.models.case.choices import Task
from safety.models.case.incident import Incident
from staff.models import Outing, Person, Site


class PhoneLink(models.Model):
    """A member's personal link: it sends reports as that member and reads nothing about anybody.

    `selector` finds the row and is no secret; of the secret only the digest is kept.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="phone_links")
    selector = models.CharField(max_length=8, unique=True)
    secret_hash = models.CharField(max_length=64)
    made_at = models.DateTimeField(_("made"))
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(_("ended"), null=True, blank=True)
    last_used_at = models.DateTimeField(_("last used"), null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person"],
                condition=models.Q(ended_at__isnull=True),
                name="one_live_link_a_person",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.selector}"


class SealKey(models.Model):
    """A key pair reports are sealed to (RFC 9180). `number` grows by one, so that two rotations at once make one key.

    `public` is the uncompressed P-256 point, base64url; `private` is PEM, encrypted under a key from SECRET_KEY.
    """

    number = models.PositiveIntegerField(unique=True)
    key_id = models.CharField(max_length=16, unique=True)
    public = models.CharField(max_length=100)
    private = models.TextField()
    made_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-number"]

    def __str__(self) -> str:
        return self.key_id


class PhoneMessage(models.Model):
    """One sealed message as it arrived; it is kept whatever becomes of it, and opened again where it must be read."""

    class State(models.TextChoices):
        RECEIVED = "received", _("received")
        WAITING = "waiting", _("waits for its report")
        PLACED = "placed", _("placed")
        HELD = "held", _("waits for an officer")
        SET_ASIDE = "set-aside", _("set aside")

    # The kind of message that tells of nobody: a count of dogs.
    COUNT = "handled"

    key = models.UUIDField(unique=True)
    key_id = models.CharField(max_length=16)
    sealed = models.TextField()
    received_at = models.DateTimeField(_("received"))
    state = models.CharField(_("state"), max_length=10, choices=State, default=State.RECEIVED)
    # Why it is held, or what is to be asked although it was placed: codes, with blanks between.
    reason = models.CharField(max_length=80, blank=True)
    # The link it names; `proven` says whether it came with the link's secret.
    link = models.ForeignKey(
        PhoneLink, on_delete=models.PROTECT, null=True, blank=True, related_name="messages"
    )
    proven = models.BooleanField(default=False)
    kind = models.CharField(max_length=10, blank=True)
    about = models.UUIDField(null=True, blank=True)
    made_at = models.DateTimeField(_("written on the phone"), null=True, blank=True)
    incident = models.ForeignKey(
        Incident, on_delete=models.PROTECT, null=True, blank=True, related_name="phone_messages"
    )
    held_at = models.DateTimeField(_("held"), null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    settle_reason = models.CharField(_("why"), max_length=300, blank=True)

    class Meta:
        ordering: ClassVar = ["received_at", "id"]
        indexes: ClassVar = [
            models.Index(
                fields=["received_at"],
                condition=models.Q(state__in=["received", "waiting", "held"]),
                name="phone_message_open",
            ),
            models.Index(fields=["about"], name="phone_message_about"),
        ]

    def __str__(self) -> str:
        return f"{self.key} {self.get_state_display()}"


class HandledTally(models.Model):
    """Dogs one sender handled on one date at one task: the denominator of rates. The last word by `made_at` counts."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="handled")
    outing = models.ForeignKey(
        Outing, on_delete=models.SET_NULL, null=True, blank=True, related_name="handled"
    )
    sender = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="handled")
    date = models.DateField(_("date"))
    task = models.CharField(_("task"), max_length=14, choices=Task)
    count = models.PositiveIntegerField(_("dogs"))
    made_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["date", "task"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["sender", "date", "task"], name="tally_once_a_day_and_task"),
        ]

    def __str__(self) -> str:
        return f"{self.date.isoformat()} {self.task}: {self.count}"
