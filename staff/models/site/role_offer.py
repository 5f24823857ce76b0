"""A role somebody was given that opens nothing yet: an officer of the site has to confirm it."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from staff.models.site.site import Site
from staff.models.site.user import SiteRole


class RoleOffer(models.Model):
    """Answered once, by a third account; a yes makes the `SiteRole`. No reader of roles looks here."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="role_offers")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="role_offers")
    role = models.CharField(max_length=10, choices=SiteRole.Role)
    # Empty: at the console of the server.
    given_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    given_at = models.DateTimeField()
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    answered_at = models.DateTimeField(null=True)
    confirmed = models.BooleanField(null=True)

    class Meta:
        ordering: ClassVar = ["given_at", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["user", "site", "role"],
                condition=Q(answered_at__isnull=True),
                name="role_offer_open_once",
            ),
            models.CheckConstraint(
                condition=Q(answered_by=None, answered_at=None, confirmed=None)
                | Q(answered_by__isnull=False, answered_at__isnull=False, confirmed__isnull=False),
                name="role_offer_answered_whole",
            ),
            models.CheckConstraint(
                condition=(Q(given_by=None) | ~Q(given_by=F("user")))
                & (Q(answered_by=None) | ~Q(answered_by=F("user")))
                & (Q(given_by=None) | Q(answered_by=None) | ~Q(answered_by=F("given_by"))),
                name="role_offer_by_three",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.get_role_display()}, {self.site}"
