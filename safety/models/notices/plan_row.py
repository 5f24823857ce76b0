"""A site's own plan of notices, row by row; a site without rows has the shipped plan."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.rules.notices import follow_up as rule
from safety.rules.notices.site_plan import FURTHEST, plan_row
from staff.models import Site


class PlanSubject(models.TextChoices):
    DOSE = rule.Subject.DOSE.value, _("a dose after an exposure")
    VISIT = rule.Subject.VISIT.value, _("a clinic visit nobody has recorded")
    DECISION = rule.Subject.DECISION.value, _("a clinician's decision nobody has recorded")
    TITRE = rule.Subject.TITRE.value, _("a titre after a course")


class PlanRow(models.Model):
    """What is told how many days before or after its date, to whom and at what hour.

    `safety.rules.notices.site_plan` says what a plan may not break; it is asked again whenever the rows are read.
    """

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="plan_rows")
    what = models.CharField(_("about"), max_length=10, choices=PlanSubject)
    offset_days = models.SmallIntegerField(
        _("days from the date (before it: negative)"),
        validators=[MinValueValidator(-FURTHEST), MaxValueValidator(FURTHEST)],
    )
    repeats_daily = models.BooleanField(_("and daily from then on"), default=False)
    hour = models.PositiveSmallIntegerField(
        _("hour (empty: the site's hour of reminders)"),
        null=True,
        blank=True,
        validators=[MaxValueValidator(23)],
    )
    liaison = models.BooleanField(_("clinic liaison"), default=False)
    member = models.BooleanField(_("team member"), default=False)
    officer = models.BooleanField(_("safety officer"), default=False)

    class Meta:
        ordering: ClassVar = ["site", "what", "offset_days", "repeats_daily", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["site", "what", "offset_days", "repeats_daily"], name="plan_row_once_a_day"
            ),
            models.CheckConstraint(
                condition=models.Q(hour__isnull=True) | models.Q(hour__lte=23), name="plan_hour_is_an_hour"
            ),
            models.CheckConstraint(
                condition=models.Q(repeats_daily=False) | models.Q(offset_days__gte=1),
                name="plan_repeats_only_afterwards",
            ),
            models.CheckConstraint(
                condition=models.Q(liaison=True) | models.Q(member=True) | models.Q(officer=True),
                name="plan_row_tells_somebody",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site}: {self.what} {self.offset_days:+d}"

    def as_rule(self) -> rule.PlanRow:
        """Raises RuleError for a row that can't be one, and ValueError for a subject that is none."""
        return plan_row(
            rule.Subject(self.what),
            self.offset_days,
            [audience for audience in rule.Audience if getattr(self, audience.value)],
            repeats_daily=self.repeats_daily,
            hour=self.hour,
        )
