"""The audit trail: one row for each look at another person's record and for each change."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models

from staff.models.record.person import Person
from staff.models.site.site import Site


class AuditEntry(models.Model):
    """Append only (a trigger refuses change and deletion). `action` is noun.verb, e.g. dose.recorded."""

    at = models.DateTimeField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    action = models.CharField(max_length=60)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, null=True, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="audit_entries")
    target = models.CharField(max_length=80, blank=True)
    detail = models.JSONField(default=dict)

    class Meta:
        ordering: ClassVar = ["-at", "-id"]
        indexes: ClassVar = [models.Index(fields=["site", "-at"], name="audit_by_site")]

    def __str__(self) -> str:
        return f"{self.at.isoformat()} {self.action}"
