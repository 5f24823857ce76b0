"""When a service last went about its work."""

from __future__ import annotations

from typing import ClassVar

from django.db import models


class Heartbeat(models.Model):
    """One row a kind of service, overwritten at each tick: a sign of life, not a history."""

    name = models.CharField(max_length=20, unique=True)
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return f"{self.name} {self.at.isoformat()}"
