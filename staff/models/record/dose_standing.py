"""What became of each dose: a projection of the record with one writer, staff.services.record.clearance."""

from __future__ import annotations

from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.record.entries import Dose
from staff.models.record.person import Person
from staff.rules.record.dose_standing import DoseJudgement
from staff.rules.record.series import DoseReason


class DoseStanding(models.Model):
    """Whether a dose counts, as which step of which regimen, and why not.

    `counts` is empty when no regimen judges the dose; `reason` then says why none does.
    """

    dose = models.OneToOneField(Dose, on_delete=models.CASCADE, related_name="standing")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="dose_standings")
    counts = models.BooleanField(_("counts"), null=True)
    step = models.PositiveSmallIntegerField(_("counts as dose"), null=True, blank=True)
    # code@version, as the rules name it.
    regimen = models.CharField(_("judged by"), max_length=80, blank=True)
    reason = models.CharField(_("why it doesn't count"), max_length=30, blank=True)
    days = models.IntegerField(_("days too early"), null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["dose__given_on", "dose_id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(counts=True, step__isnull=False, reason="")
                | ((models.Q(counts=False) | models.Q(counts__isnull=True)) & models.Q(step__isnull=True))
                & ~models.Q(reason=""),
                name="dose_counts_or_says_why_not",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.dose}: {self.reason or self.step}"

    def as_judgement(self) -> DoseJudgement:
        return DoseJudgement(
            dose_id=self.dose_id,
            counts=self.counts,
            step=self.step,
            regimen=self.regimen or None,
            reason=DoseReason(self.reason) if self.reason else None,
            days=self.days,
        )
