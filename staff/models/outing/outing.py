"""Outings, their crews and who is on them."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.outing.campaign import Campaign, Method
from staff.models.outing.outing_details import WithOutingDetails, position_is_whole
from staff.models.record.clearance import Clearance
from staff.models.record.person import CrewRole, Person
from staff.models.site.site import Site
from staff.rules.outing.outing_details import instant_of


class Outing(WithOutingDetails):
    """One day's field work at one place. `date` is a date of the site's calendar.

    `dogs_expected` counts adults and puppies, `puppies_expected` only these; `riders` go on motorcycles or bicycles.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="outings")
    date = models.DateField(_("date"))
    area = models.CharField(_("area"), max_length=120)
    method = models.CharField(_("method"), max_length=20, choices=Method, default=Method.HOUSE_TO_HOUSE)
    dogs_expected = models.PositiveIntegerField(
        _("dogs expected"), default=0, validators=[MinValueValidator(0)]
    )
    puppies_expected = models.PositiveIntegerField(_("of them puppies"), default=0, db_default=0)
    riders = models.PositiveSmallIntegerField(_("people who ride there"), default=0, db_default=0)
    campaign = models.ForeignKey(
        Campaign, on_delete=models.PROTECT, null=True, blank=True, related_name="outings"
    )
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancel_reason = models.CharField(_("why cancelled"), max_length=300, blank=True)

    class Meta:
        ordering: ClassVar = ["date", "area"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(cancelled_at__isnull=True) | ~models.Q(cancel_reason=""),
                name="cancelled_outing_says_why",
            ),
            models.CheckConstraint(
                condition=models.Q(puppies_expected__lte=models.F("dogs_expected")),
                name="puppies_are_among_the_dogs",
                violation_error_message=_("The puppies are counted among the dogs expected."),
            ),
            # Planning a campaign's days twice, or two officers at once, adds no second outing.
            models.UniqueConstraint(
                fields=["campaign", "date", "area"],
                condition=models.Q(campaign__isnull=False, cancelled_at__isnull=True),
                name="campaign_outing_once",
            ),
            position_is_whole("outing_position_is_on_earth"),
        ]

    def __str__(self) -> str:
        return f"{self.date.isoformat()} {self.area}"

    @property
    def starts_at(self) -> datetime | None:
        """The instant of the start, if it is known."""
        return instant_of(self.date, self.start_time, self.site.zone) if self.start_time else None


class CrewShape(models.Model):
    """How many of a crew role a crew of one method needs at a site; without rows the shipped shapes hold."""

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="crew_shapes")
    method = models.CharField(_("method"), max_length=20, choices=Method)
    role = models.CharField(_("crew role"), max_length=12, choices=CrewRole)
    needed = models.PositiveSmallIntegerField(_("people needed"), validators=[MaxValueValidator(9)])

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["site", "method", "role"], name="crew_shape_once"),
        ]

    def __str__(self) -> str:
        return f"{self.method}: {self.needed} {self.role}"


class Crew(models.Model):
    outing = models.ForeignKey(Outing, on_delete=models.CASCADE, related_name="crews")
    name = models.CharField(_("crew"), max_length=60)
    # Set and cleared with the crew's leaving. Until then its outing may move and its places are open.
    left_at = models.DateTimeField(_("left at"), null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["outing", "name"], name="crew_name_once")]

    def __str__(self) -> str:
        return self.name


class StandingAssignments(models.Manager["Assignment"]):
    """Who is on a crew. Joins use no manager, so they can't be made by the name of the relation (`EVER`)."""

    def get_queryset(self) -> models.QuerySet[Assignment]:
        return super().get_queryset().filter(withdrawal__isnull=True)


class EveryAssignment(models.Manager["Assignment"]):
    """Those who were taken off too."""


# The word of a join says that it reaches those who were taken off too; ask with `Assignment.objects` instead.
EVER = "assignment_standing_or_ended"


class Assignment(models.Model):
    """A person on a crew, resting on the clearance that allows it. Triggers of staff.guards check every write.

    Taken off, the row stays and names the withdrawal that ended it; it rests on nothing any more and never stands again.
    """

    outing = models.ForeignKey(
        Outing, on_delete=models.PROTECT, related_name="assignments", related_query_name=EVER
    )
    crew = models.ForeignKey(
        Crew, on_delete=models.PROTECT, related_name="assignments", related_query_name=EVER
    )
    person = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="assignments", related_query_name=EVER
    )
    role = models.CharField(_("crew role"), max_length=12, choices=CrewRole)
    clearance = models.ForeignKey(
        Clearance, on_delete=models.PROTECT, null=True, blank=True, related_name="assignments"
    )
    assigned_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    assigned_at = models.DateTimeField()
    # True when a proposal put the person here, False for a choice made by hand. Later proposals touch neither.
    proposed = models.BooleanField(default=False, db_default=False)
    # When it ended, by whom and why.
    withdrawal = models.OneToOneField(
        "staff.Withdrawal", on_delete=models.PROTECT, null=True, blank=True, related_name="assignment"
    )

    objects = StandingAssignments()
    everything = EveryAssignment()

    class Meta:
        ordering: ClassVar = ["crew", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["outing", "person"],
                condition=models.Q(withdrawal__isnull=True),
                name="person_once_an_outing",
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawal__isnull=True, clearance__isnull=False)
                | models.Q(withdrawal__isnull=False, clearance__isnull=True),
                name="standing_assignment_rests_on_a_clearance",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.outing}"


class Withdrawal(models.Model):
    """That somebody was taken off a roster, by whom, when and why. Of before ended assignments stayed, some have none."""

    outing = models.ForeignKey(Outing, on_delete=models.PROTECT, related_name="withdrawals")
    crew_name = models.CharField(max_length=60)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="withdrawals")
    role = models.CharField(max_length=12, choices=CrewRole)
    reason = models.CharField(_("why"), max_length=300)
    # True when the program did it because a clearance shrank; the officer and the crew lead are told.
    by_rule = models.BooleanField(default=False)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-withdrawn_at", "-id"]

    def __str__(self) -> str:
        return f"{self.person}: {self.outing}"


class OutingMove(models.Model):
    """That an outing was moved: the history its date leaves behind. Append only (a trigger refuses the rest)."""

    outing = models.ForeignKey(Outing, on_delete=models.PROTECT, related_name="moves")
    old_date = models.DateField(_("old date"))
    new_date = models.DateField(_("new date"))
    reason = models.CharField(_("why"), max_length=300, blank=True)
    moved_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    moved_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.outing.area}: {self.old_date.isoformat()} → {self.new_date.isoformat()}"


class OutingChange(WithOutingDetails):
    """That an outing's details were changed: what they were before. Append only."""

    outing = models.ForeignKey(Outing, on_delete=models.PROTECT, related_name="changes")
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"{self.outing}: {self.changed_at.isoformat()}"
