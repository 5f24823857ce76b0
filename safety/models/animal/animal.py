"""The animal under observation: who keeps it, what each day's check saw, what became of it, and the link for its days."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from safety.models.case.incident import Incident
from safety.rules.animal import observation as rule
from staff.models.voidable import Voidable, voided_says_why


class Seen(models.TextChoices):
    WELL = rule.Seen.WELL.value, _("well")
    ILL = rule.Seen.ILL.value, _("signs of illness")
    NOT_SEEN = rule.Seen.NOT_SEEN.value, _("not seen today")
    ESCAPED = rule.Seen.ESCAPED.value, _("escaped")
    DIED = rule.Seen.DIED.value, _("died")
    KILLED = rule.Seen.KILLED.value, _("killed")


class Outcome(models.TextChoices):
    WELL = rule.Outcome.WELL.value, _("well at the end of the observation")
    ILL = rule.Outcome.ILL.value, _("signs of illness")
    ESCAPED = rule.Outcome.ESCAPED.value, _("escaped")
    DIED = rule.Outcome.DIED.value, _("died")
    KILLED = rule.Outcome.KILLED.value, _("killed")
    SAMPLED = rule.Outcome.SAMPLED.value, _("sample taken for the laboratory")
    FOUND = rule.Outcome.FOUND.value, _("laboratory: rabies found")
    NOT_FOUND = rule.Outcome.NOT_FOUND.value, _("laboratory: rabies not found")
    UNFIT = rule.Outcome.UNFIT.value, _("laboratory: sample unfit, no answer")


class Observation(Voidable):
    """One animal under watch. `first_on` is the day of the exposure (day 0), `last_on` the last day, both of the site's
    calendar and by the site's rule when it was begun. `where` and the keeper are for officer and liaison alone."""

    incident = models.ForeignKey(Incident, on_delete=models.PROTECT, related_name="observations")
    described = models.CharField(_("which animal"), max_length=200)
    where = models.CharField(_("where it is kept"), max_length=200, blank=True)
    keeper = models.CharField(_("who keeps it"), max_length=120, blank=True)
    keeper_phone = models.CharField(_("keeper's telephone"), max_length=40, blank=True)
    first_on = models.DateField(_("first day"))
    last_on = models.DateField(_("last day"))
    # The site's date on which the watch was begun: earlier days ask for no check.
    begun_on = models.DateField()
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["begun_at", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["incident"], condition=models.Q(voided_at__isnull=True), name="one_observation_a_case"
            ),
            models.CheckConstraint(
                condition=models.Q(last_on__gt=models.F("first_on")), name="observation_lasts_a_day"
            ),
            voided_says_why("voided_observation_says_why"),
        ]
        indexes: ClassVar = [models.Index(fields=["last_on"], name="observation_by_last_day")]

    def __str__(self) -> str:
        return f"{self.incident}: {self.first_on.isoformat()} to {self.last_on.isoformat()}"

    @property
    def term(self) -> rule.Term:
        return rule.term_of(first_on=self.first_on, last_on=self.last_on, begun_on=self.begun_on)


class AnimalLink(models.Model):
    """The private link of one observation: it records that day's check and reads nothing about anybody.

    `selector` finds the row and is no secret; of the secret only the digest is kept.
    """

    observation = models.ForeignKey(Observation, on_delete=models.CASCADE, related_name="links")
    selector = models.CharField(max_length=8, unique=True)
    secret_hash = models.CharField(max_length=64)
    made_at = models.DateTimeField(_("made"))
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(_("ended"), null=True, blank=True)
    last_used_at = models.DateTimeField(_("last used"), null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-made_at", "-id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["observation"],
                condition=models.Q(ended_at__isnull=True),
                name="one_live_link_an_observation",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.observation}: {self.selector}"


class AnimalCheck(Voidable):
    """What was seen on one day of the site's calendar. Of several of a day the newest that stands counts."""

    observation = models.ForeignKey(Observation, on_delete=models.CASCADE, related_name="checks")
    day = models.DateField(_("day"))
    seen = models.CharField(_("how the animal is"), max_length=10, choices=Seen)
    note = models.CharField(_("note"), max_length=300, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    link = models.ForeignKey(
        AnimalLink, on_delete=models.PROTECT, null=True, blank=True, related_name="checks"
    )

    class Meta:
        ordering: ClassVar = ["recorded_at", "id"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(recorded_by__isnull=False) | models.Q(link__isnull=False),
                name="animal_check_says_who",
            ),
            voided_says_why("voided_animal_check_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.day.isoformat()}: {self.get_seen_display()}"

    def as_fact(self) -> rule.CheckFact:
        return rule.CheckFact(self.day, rule.Seen(self.seen))


class AnimalOutcome(Voidable):
    """What became of the animal, in the word of an officer or liaison."""

    observation = models.ForeignKey(Observation, on_delete=models.CASCADE, related_name="outcomes")
    outcome = models.CharField(_("what is known"), max_length=10, choices=Outcome)
    known_on = models.DateField(_("on which date"))
    note = models.CharField(_("note"), max_length=300, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering: ClassVar = ["recorded_at", "id"]
        constraints: ClassVar = [
            voided_says_why("voided_animal_outcome_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.known_on.isoformat()}: {self.get_outcome_display()}"
