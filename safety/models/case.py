"""The clinic's side of a case: referral, visit, course, planned doses."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.models.choices import Answer
from safety.models.clinic import Clinic
from safety.models.incident import Incident
from staff.models import Dose, LateRuleChoice, Person, Regimen


class Referral(models.Model):
    incident = models.ForeignKey(Incident, on_delete=models.CASCADE, related_name="referrals")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="referrals")
    referred_at = models.DateTimeField(_("sent to the clinic at"))
    referred_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["referred_at", "id"]

    def __str__(self) -> str:
        return f"{self.incident}: {self.clinic}"


class Decision(models.TextChoices):
    COURSE = "course", _("a course of post-exposure doses")
    NO_COURSE = "no-course", _("no doses needed")
    REFERRED_ON = "referred-on", _("sent on to another clinic")
    PENDING = "pending", _("not decided yet")


class Visit(models.Model):
    """A visit at a clinic and what the clinician decided. Immunoglobulin is recorded, never prescribed."""

    incident = models.ForeignKey(Incident, on_delete=models.CASCADE, related_name="visits")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="visits")
    visited_on = models.DateField(_("seen on"))
    clinician = models.CharField(_("clinician"), max_length=120, blank=True)
    decision = models.CharField(_("clinician's decision"), max_length=12, choices=Decision)
    immunoglobulin = models.CharField(
        _("immunoglobulin given"), max_length=8, choices=Answer, default=Answer.UNKNOWN
    )
    note = models.CharField(_("note"), max_length=500, blank=True)
    # As the clinic wrote it; the dates that are reminded of follow from the regimen.
    next_on = models.DateField(_("next date"), null=True, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["visited_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["incident", "clinic", "visited_on"], name="visit_once_a_day"),
        ]

    def __str__(self) -> str:
        return f"{self.incident}: {self.visited_on.isoformat()}"


class Course(models.Model):
    """A post-exposure course on one version of one regimen. Day 0 is the date of the first dose given.

    Doses are only ever added or voided, so two counts say whether the plan is behind the record: the
    planner stores those it read, and where they differ the next tick plans again.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    incident = models.ForeignKey(Incident, on_delete=models.PROTECT, related_name="courses")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="courses")
    regimen = models.ForeignKey(Regimen, on_delete=models.PROTECT, related_name="+")
    late_rule = models.CharField(max_length=20, choices=LateRuleChoice)
    restart_after_days = models.PositiveSmallIntegerField(null=True, blank=True)
    # The date the first dose is expected on, until one is given.
    starts_on = models.DateField(_("first dose expected on"))
    planned_recorded = models.PositiveIntegerField(null=True, blank=True)
    planned_voided = models.PositiveIntegerField(null=True, blank=True)
    # What the planner read but could not count, in words.
    plan_note = models.CharField(max_length=500, blank=True)
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    ended_on = models.DateField(null=True, blank=True)
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
        ]

    def __str__(self) -> str:
        return f"{self.incident}: {self.regimen.code}"


class PlannedDose(models.Model):
    """One dose of the plan; a projection with one writer, safety.services.plan. The dose given is a staff Dose."""

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
