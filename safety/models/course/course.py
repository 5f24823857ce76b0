"""A post-exposure course: what it rests on, the facts that change it, its planned doses and how they moved."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from typing import ClassVar
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.models.case.incident import Incident
from safety.models.clinic.clinic import Clinic
from staff.models import Dose, LateRuleChoice, Person, Regimen


class EndKind(models.TextChoices):
    COMPLETED = "completed", _("complete: every dose of it is given")
    STOPPED = "stopped", _("stopped on the clinician's word")
    TRANSFERRED = "transferred", _("handed over for good")
    ERROR = "error", _("entered in error")


class Course(models.Model):
    """A post-exposure course on one version of one regimen, or on dates the clinic wrote (`regimen_name`).

    Day 0 is the date of the first dose given. Doses are only ever added or voided, and everything else that
    changes a course adds a `CourseFact`, so three counts say whether the plan is behind the record: the planner
    stores those it read, and where one differs the next tick plans again.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    incident = models.ForeignKey(Incident, on_delete=models.PROTECT, related_name="courses")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="courses")
    regimen = models.ForeignKey(Regimen, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    # In the clinician's words, where the approved table lacks it; its dates are `dates`.
    regimen_name = models.CharField(_("regimen by name"), max_length=160, blank=True)
    late_rule = models.CharField(max_length=20, choices=LateRuleChoice)
    restart_after_days = models.PositiveSmallIntegerField(null=True, blank=True)
    # The date the first dose is expected on, until one is given.
    starts_on = models.DateField(_("first dose expected on"))
    planned_recorded = models.PositiveIntegerField(null=True, blank=True)
    planned_voided = models.PositiveIntegerField(null=True, blank=True)
    planned_facts = models.PositiveIntegerField(default=0)
    # What the planner read but could not count, in words.
    plan_note = models.CharField(max_length=500, blank=True)
    # Where it goes on: a clinic of the list, or a place in words; neither: at the clinic of the last visit.
    clinic = models.ForeignKey(
        Clinic, on_delete=models.PROTECT, null=True, blank=True, related_name="courses"
    )
    place = models.CharField(_("where it goes on"), max_length=160, blank=True)
    place_phone = models.CharField(_("telephone there"), max_length=40, blank=True)
    # By whose calendar a dose is due or overdue; empty: the site's.
    time_zone = models.CharField(_("time zone"), max_length=60, blank=True)
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    ended_on = models.DateField(null=True, blank=True)
    end_kind = models.CharField(_("how it ended"), max_length=12, choices=EndKind, blank=True)
    # The clinician who said so, or to whom it was handed over.
    end_said_by = models.CharField(_("on whose word"), max_length=120, blank=True)
    end_reason = models.CharField(_("why ended"), max_length=300, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["-started_at"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["incident"],
                condition=models.Q(ended_on__isnull=True),
                name="one_running_course_a_case",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_on__isnull=True) | ~models.Q(end_reason=""),
                name="ended_course_says_why",
            ),
            models.CheckConstraint(
                condition=models.Q(regimen__isnull=False) | ~models.Q(regimen_name=""),
                name="course_has_a_regimen_or_a_name",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.incident}: {self.regimen.code if self.regimen else self.regimen_name}"

    @property
    def name(self) -> str:
        """What the regimen is called: the table's name, or the clinician's words."""
        return self.regimen.name if self.regimen else self.regimen_name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone) if self.time_zone else self.incident.site.zone

    def local_date(self, now: datetime) -> date:
        """The date where the course goes on: by it a dose is due today, or overdue."""
        return now.astimezone(self.zone).date()


class CourseDate(models.Model):
    """A date of a course by name, as the clinic wrote it. A new date replaces an old one, which stays readable."""

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="dates")
    number = models.PositiveSmallIntegerField(_("dose"))
    due_on = models.DateField(_("date"))
    written_at = models.DateTimeField()
    replaced_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["number", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["course", "number"],
                condition=models.Q(replaced_at__isnull=True),
                name="course_date_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.course} {self.number}: {self.due_on.isoformat()}"


class CourseFact(models.Model):
    """Something other than a dose that changed a course. Rows are only ever added; the planner counts them.

    `before` and `after` are what it was and became, in words. `doses` are those on record when the regimen changed,
    as pairs of an ISO date and why it didn't count (staff.rules.regimen.schedule); empty: it counted, and goes on counting.
    """

    class Kind(models.TextChoices):
        REGIMEN = "regimen", _("another regimen")
        DATES = "dates", _("new dates from the clinic")
        PLACE = "place", _("goes on elsewhere")
        ENDED = "ended", _("ended")
        RESUMED = "resumed", _("resumed")

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="facts")
    kind = models.CharField(max_length=12, choices=Kind)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    said_by = models.CharField(_("who said so"), max_length=120, blank=True)
    reason = models.CharField(_("why"), max_length=300, blank=True)
    before = models.CharField(max_length=300, blank=True)
    after = models.CharField(max_length=300, blank=True)
    doses = models.JSONField(default=list)

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.course}: {self.kind}"


class PlannedDose(models.Model):
    """One dose of the plan; a projection with one writer, safety.services.course.plan. The dose given is a staff Dose."""

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="planned_doses")
    number = models.PositiveSmallIntegerField(_("dose"))
    day = models.PositiveSmallIntegerField(_("day"))
    due_on = models.DateField(_("due"))
    latest_on = models.DateField(_("at the latest"))
    injections = models.PositiveSmallIntegerField(_("injections"), default=1)
    dose = models.ForeignKey(Dose, on_delete=models.PROTECT, null=True, blank=True, related_name="planned_as")
    given_on = models.DateField(_("given"), null=True, blank=True)
    days_late = models.PositiveSmallIntegerField(_("days late"), default=0)

    class Meta:
        ordering: ClassVar = ["number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["course", "number"], name="planned_dose_once"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["due_on"], condition=models.Q(given_on__isnull=True), name="dose_still_due"),
        ]

    def __str__(self) -> str:
        return f"{self.course} {self.number}"


class PlanChange(models.Model):
    """How one planned dose moved, and why; written with the plan itself and never changed.

    None before: the dose was not planned; None after: it no longer is. `why` holds pairs of a code (`PLAN_WHY` of
    safety.words) and what goes with it: the ISO date of a dose, the name of a regimen, or nothing.
    """

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="plan_changes")
    at = models.DateTimeField()
    number = models.PositiveSmallIntegerField(_("dose"))
    was_due = models.DateField(null=True, blank=True)
    now_due = models.DateField(null=True, blank=True)
    was_given = models.DateField(null=True, blank=True)
    now_given = models.DateField(null=True, blank=True)
    why = models.JSONField(default=list)

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.course} {self.number}: {self.was_due} to {self.now_due}"
