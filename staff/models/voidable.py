"""What every entry has that can be taken back: who voided it, when and why. It stays readable and counts nowhere.

Rows that stand are what a query gets, so that a reader who forgets counts a voided dose nowhere; who shows history asks
for `everything`, by `Dose.everything` or `person.doses(manager="everything")`. Two ways past the managers remain: a
foreign key followed to its row (a history's way), and a join (`departure__voided_at__isnull=True` has to be said).
"""

from __future__ import annotations

from typing import ClassVar, Self, TypeVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

_Row = TypeVar("_Row", bound=models.Model)

REASON_LENGTH = 300


class StandingRows(models.Manager[_Row]):
    """Rows that aren't voided."""

    def get_queryset(self) -> models.QuerySet[_Row]:
        return super().get_queryset().filter(voided_at__isnull=True)


class EveryRow(models.Manager[_Row]):
    """Rows that are voided too, for the history."""


class Voidable(models.Model):
    """An entry that `staff.services.voiding.void` takes back, and nobody else. Give it `voided_says_why`."""

    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    void_reason = models.CharField(_("why voided"), max_length=REASON_LENGTH, blank=True)

    # The first is the one everybody gets: related managers, prefetches and forms too.
    objects: ClassVar[models.Manager[Self]] = StandingRows()
    everything: ClassVar[models.Manager[Self]] = EveryRow()

    class Meta:
        abstract = True


def voided_says_why(name: str) -> models.CheckConstraint:
    """Who, when and why: all three or none."""
    stands = models.Q(voided_at__isnull=True, void_reason="", voided_by__isnull=True)
    whole = models.Q(voided_at__isnull=False, voided_by__isnull=False) & ~models.Q(void_reason="")
    return models.CheckConstraint(condition=stands | whole, name=name)
