"""A crew's day: what it left with and without, who was there, and what it brings back."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.models.case.choices import Task
from safety.models.clinic.clinic import Clinic, Stock
from safety.rules.crew_day import outing_day as rule
from staff.models import Crew, CrewRole, Person
from staff.models.voidable import Voidable, voided_says_why


class Missing(models.TextChoices):
    """What a crew went without; of people and crew roles the departure says who and which."""

    PEOPLE = rule.Missing.PEOPLE.value, _("somebody of the crew")
    ROLES = rule.Missing.ROLES.value, _("a crew role")
    HELMETS = rule.Missing.HELMETS.value, _("helmets")
    CLOTHING = rule.Missing.CLOTHING.value, _("long trousers and closed shoes")
    KIT = rule.Missing.KIT.value, _("the whole kit")
    CLINIC = rule.Missing.CLINIC.value, _("a clinic known to be open")
    VACCINE = rule.Missing.VACCINE.value, _("a clinic known to have vaccine")
    IMMUNOGLOBULIN = rule.Missing.IMMUNOGLOBULIN.value, _("a clinic known to have immunoglobulin")
    BRIEFING = rule.Missing.BRIEFING.value, _("the briefing of the day")


class Departure(Voidable):
    """That a crew left on `date` (the site's), as its lead answered then. What it lacked needs `missing_reason`.

    `clinic_open`: the clinic was telephoned that day and said so; `vaccine` and `immunoglobulin` are what it said. `crew_whole`: nobody was
    absent without a replacement and no crew role of the crew's shape was missing; `roles_missing` says how many of which.
    """

    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="departures")
    date = models.DateField(_("date"))
    helmets = models.BooleanField(_("helmets"))
    clothing = models.BooleanField(_("long trousers and closed shoes"))
    kit = models.BooleanField(_("kit complete"))
    briefing = models.BooleanField(_("briefing given"))
    clinic = models.ForeignKey(
        Clinic, on_delete=models.PROTECT, null=True, blank=True, related_name="departures"
    )
    clinic_open = models.BooleanField(_("clinic telephoned and open"))
    vaccine = models.CharField(_("vaccine"), max_length=8, choices=Stock)
    immunoglobulin = models.CharField(_("immunoglobulin"), max_length=8, choices=Stock)
    crew_whole = models.BooleanField(_("crew whole"))
    roles_missing = models.JSONField(_("crew roles missing"), default=dict, blank=True)
    missing_reason = models.CharField(_("why it left without"), max_length=300, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["recorded_at", "id"]
        constraints: ClassVar = [
            # Two leads at once record one departure.
            models.UniqueConstraint(
                fields=["crew"], condition=models.Q(voided_at__isnull=True), name="crew_leaves_once"
            ),
            models.CheckConstraint(
                condition=models.Q(
                    helmets=True,
                    clothing=True,
                    kit=True,
                    briefing=True,
                    clinic_open=True,
                    vaccine=Stock.YES.value,
                    immunoglobulin=Stock.YES.value,
                    crew_whole=True,
                )
                | ~models.Q(missing_reason=""),
                name="leaving_without_says_why",
            ),
            models.CheckConstraint(
                condition=models.Q(clinic__isnull=False)
                | models.Q(
                    clinic_open=False, vaccine=Stock.UNKNOWN.value, immunoglobulin=Stock.UNKNOWN.value
                ),
                name="open_clinic_is_named",
            ),
            voided_says_why("voided_departure_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.crew}: {self.date.isoformat()}"


class DeparturePerson(models.Model):
    """Somebody of the crew when it left, in their crew role: there or absent. `instead_of`: whose place was taken on the spot."""

    departure = models.ForeignKey(Departure, on_delete=models.CASCADE, related_name="people")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="departures")
    role = models.CharField(_("crew role"), max_length=12, choices=CrewRole)
    present = models.BooleanField(_("there"))
    instead_of = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["departure", "person"], name="person_once_a_departure"),
        ]

    def __str__(self) -> str:
        return f"{self.departure}: {self.person}"


class CrewReturn(Voidable):
    """That a crew is back and what it did. Hours of work are `hours` for each of `people`; `dogs` counts each dog once.

    `none_said` is the explicit word that there was neither incident nor near miss: an empty answer is none.
    """

    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="returns")
    hours = models.DecimalField(
        _("hours of work of each person"),
        max_digits=4,
        decimal_places=2,
        validators=[MinValueValidator(0), MaxValueValidator(24)],
    )
    people = models.PositiveSmallIntegerField(_("people who worked"), validators=[MinValueValidator(1)])
    dogs = models.PositiveIntegerField(_("dogs handled"))
    incidents = models.PositiveSmallIntegerField(_("incidents"))
    near_misses = models.PositiveSmallIntegerField(_("near misses"))
    none_said = models.BooleanField(_("neither incident nor near miss"))
    sharps_disposed = models.BooleanField(_("sharps disposed of"))
    sharps_note = models.CharField(_("where, or why not"), max_length=200)
    note = models.CharField(_("note"), max_length=500, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["recorded_at", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["crew"], condition=models.Q(voided_at__isnull=True), name="crew_returns_once"
            ),
            models.CheckConstraint(
                condition=models.Q(none_said=True, incidents=0, near_misses=0)
                | models.Q(none_said=False, incidents__gte=1)
                | models.Q(none_said=False, near_misses__gte=1),
                name="none_is_said_aloud",
            ),
            models.CheckConstraint(
                condition=models.Q(hours__gt=0, hours__lte=24, people__gte=1), name="work_takes_hours"
            ),
            models.CheckConstraint(condition=~models.Q(sharps_note=""), name="sharps_say_where"),
            voided_says_why("voided_return_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.crew}: {self.dogs}"


class ReturnTally(models.Model):
    """Dogs a crew handled at one task; a dog may stand in several, so tasks don't add up to `dogs` of the return."""

    crew_return = models.ForeignKey(CrewReturn, on_delete=models.CASCADE, related_name="tallies")
    task = models.CharField(_("task"), max_length=14, choices=Task)
    dogs = models.PositiveIntegerField(_("dogs"))

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["crew_return", "task"], name="task_once_a_return"),
        ]

    def __str__(self) -> str:
        return f"{self.task}: {self.dogs}"
