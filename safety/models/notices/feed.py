"""One's own dates as a calendar others' programs fetch: the private link, and what was said of each date so far."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models import Person


class CalendarFeed(models.Model):
    """The feed of one account, or of one person without one. A renewed link changes selector and digest and keeps `key`, from which the UIDs are made, so
    that a calendar fetched anew finds its entries again. Of the secret only the digest is kept."""

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="calendar_feed",
    )
    person = models.OneToOneField(
        Person, on_delete=models.CASCADE, null=True, blank=True, related_name="calendar_feed"
    )
    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    selector = models.CharField(max_length=8, unique=True)
    secret_hash = models.CharField(max_length=64)
    made_at = models.DateTimeField(_("made"))
    ended_at = models.DateTimeField(_("ended"), null=True, blank=True)
    last_fetched_at = models.DateTimeField(_("last fetched"), null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(user__isnull=False, person__isnull=True)
                | models.Q(user__isnull=True, person__isnull=False),
                name="feed_has_one_owner",
            ),
        ]

    def __str__(self) -> str:
        return self.selector


class FeedEntry(models.Model):
    """One date of a feed as it was last said; a projection with one writer, safety.services.notices.feed.

    It is a whole day (`starts_on`, the site's calendar) or an hour from `starts_at` on. A cancelled one is shown for a
    while and then kept unshown, for SEQUENCE has to go on from where it was if the date comes back.
    """

    feed = models.ForeignKey(CalendarFeed, on_delete=models.CASCADE, related_name="entries")
    thing = models.CharField(max_length=60)
    uid = models.UUIDField()
    reference = models.CharField(max_length=20)
    path = models.CharField(max_length=120)
    starts_on = models.DateField()
    starts_at = models.DateTimeField(null=True, blank=True)
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["starts_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["feed", "thing"], name="feed_entry_once"),
        ]

    def __str__(self) -> str:
        return f"{self.thing}: {self.starts_on.isoformat()}"
