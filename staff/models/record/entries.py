"""The immunisation record: doses, titres, briefings and holds. Entries are voided or ended, never edited."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.ground import purposes
from staff.ground.dates import month_end
from staff.models.record.person import Person
from staff.models.regimen.regimen import Purpose, Regimen, Route, purpose_choices
from staff.models.voidable import REASON_LENGTH, Voidable, voided_says_why
from staff.rules.record.clearance import BriefingFact, HoldFact, TitreFact
from staff.rules.regimen import values


class Evidence(models.TextChoices):
    CERTIFICATE = "certificate-seen", _("certificate seen")
    REGISTER = "clinic-register", _("given at the clinic or read from its register")
    NONE = "none", _("no document seen yet: does not clear anyone")


class TitreEvidence(models.TextChoices):
    REPORT = "report-seen", _("the laboratory's report seen")
    NONE = "none", _("no report seen yet: does not clear anyone")


class DateKnown(models.TextChoices):
    """How much of a dose's date the document gives."""

    DAY = "day", _("the day is known")
    MONTH = "month", _("only the month is known: counts from the month's last day")


class Dose(Voidable):
    """One visit at which rabies vaccine was given. A mistake is voided with a reason and stays readable."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="doses")
    # With only the month known this is the month's last day; `as_fact` holds to that whatever is stored.
    given_on = models.DateField(_("given on"))
    date_known = models.CharField(
        _("how exact the date is"), max_length=5, choices=DateKnown, default=DateKnown.DAY
    )
    purpose = models.CharField(
        _("purpose"), max_length=30, choices=purpose_choices, default=Purpose.PRE_EXPOSURE
    )
    route = models.CharField(_("route"), max_length=2, choices=Route, blank=True)
    injections = models.PositiveSmallIntegerField(_("injections"), null=True, blank=True)
    product = models.CharField(_("product"), max_length=120, blank=True)
    batch = models.CharField(_("batch"), max_length=60, blank=True)
    place = models.CharField(_("where"), max_length=160, blank=True)
    evidence = models.CharField(_("evidence"), max_length=20, choices=Evidence)
    regimen = models.ForeignKey(Regimen, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    # Ties the doses of one post-exposure course together without staff knowing what a case is.
    course_key = models.UUIDField(null=True, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_on = models.DateField(_("recorded on, site's date"))

    class Meta:
        ordering: ClassVar = ["given_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person", "given_on"],
                condition=models.Q(voided_at__isnull=True),
                name="dose_once_a_day",
            ),
            models.CheckConstraint(
                condition=models.Q(given_on__lte=models.F("recorded_on")), name="dose_not_in_the_future"
            ),
            voided_says_why("voided_dose_says_why"),
            models.CheckConstraint(
                condition=models.Q(date_known__in=["day", "month"]), name="dose_date_is_a_day_or_a_month"
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["course_key"], name="dose_by_course")]

    def __str__(self) -> str:
        return f"{self.person}: {self.given_on.isoformat()}"

    @property
    def in_series(self) -> bool:
        """Whether it is a dose of the series that clearance asks for."""
        return self.purpose in purposes.SERIES

    @property
    def renews_only(self) -> bool:
        """Whether it is part of no series and no course: it can only renew what is complete."""
        return self.purpose not in purposes.SERIES | purposes.COURSES

    @property
    def verified(self) -> bool:
        """Whether a document was seen, by who recorded the dose or later by a second person. Without, it clears nobody."""
        return self.evidence != Evidence.NONE or hasattr(self, "verification")

    def as_fact(self) -> values.DoseFact:
        """The dose as the rules read it; select "regimen" and "verification" with many doses."""
        month_only = self.date_known == DateKnown.MONTH
        return values.DoseFact(
            given_on=month_end(self.given_on) if month_only else self.given_on,
            month_only=month_only,
            route=values.Route(self.route) if self.route else None,
            purpose=purposes.Purpose(self.purpose),
            injections=self.injections,
            voided=self.voided_at is not None,
            recorded_on=self.recorded_on,
            verified=self.verified,
            regimen_code=f"{self.regimen.code}@{self.regimen.version}" if self.regimen else None,
            course_key=str(self.course_key) if self.course_key else None,
            id=self.pk,
        )


class Titre(Voidable):
    """A rabies antibody titre in IU/mL. A mistake is voided with a reason and stays readable.

    Once the laboratory's report is seen, one recorded without it is voided and added again: a checked document proves
    no titre yet.
    """

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="titres")
    taken_on = models.DateField(_("blood taken on"))
    iu_per_ml = models.DecimalField(
        _("IU/mL"), max_digits=7, decimal_places=2, validators=[MinValueValidator(0)]
    )
    laboratory = models.CharField(_("laboratory"), max_length=160, blank=True)
    evidence = models.CharField(
        _("evidence"), max_length=20, choices=TitreEvidence, default=TitreEvidence.REPORT
    )
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_on = models.DateField(_("recorded on, site's date"))

    class Meta:
        ordering: ClassVar = ["taken_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person", "taken_on"],
                condition=models.Q(voided_at__isnull=True),
                name="titre_once_a_day",
            ),
            models.CheckConstraint(condition=models.Q(iu_per_ml__gte=0), name="titre_not_negative"),
            models.CheckConstraint(
                condition=models.Q(taken_on__lte=models.F("recorded_on")), name="titre_not_in_the_future"
            ),
            voided_says_why("voided_titre_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.iu_per_ml} IU/mL"

    @property
    def counts(self) -> bool:
        """A low titre takes away whatever it was read from; an adequate one gives nothing before its report is seen."""
        proven = self.evidence == TitreEvidence.REPORT or not self.as_fact().adequate
        return self.voided_at is None and proven

    def as_fact(self) -> TitreFact:
        return TitreFact(taken_on=self.taken_on, iu_per_ml=self.iu_per_ml)


class Briefing(models.Model):
    """A safety briefing the person took part in."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="briefings")
    held_on = models.DateField(_("held on"))
    held_by = models.CharField(_("held by"), max_length=120, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_on = models.DateField(_("recorded on, site's date"))

    class Meta:
        ordering: ClassVar = ["held_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["person", "held_on"], name="briefing_once_a_day"),
            models.CheckConstraint(
                condition=models.Q(held_on__lte=models.F("recorded_on")), name="briefing_not_in_the_future"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.held_on.isoformat()}"

    def as_fact(self) -> BriefingFact:
        return BriefingFact(held_on=self.held_on)


class Hold(models.Model):
    """Keeps a person off the roster from a date until it is released; `ends_on` is the last day held."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="holds")
    starts_on = models.DateField(_("from"))
    ends_on = models.DateField(_("last day held"), null=True, blank=True)
    reason = models.CharField(_("why"), max_length=REASON_LENGTH)
    # Who placed it: "officer" or the key of what did, so that its release finds it again.
    source = models.CharField(max_length=80)
    # Empty: a report from the phone placed it; the case of `source` says by whose link.
    placed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    placed_at = models.DateTimeField()
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    released_at = models.DateTimeField(null=True, blank=True)
    release_note = models.CharField(_("why released"), max_length=REASON_LENGTH, blank=True)

    class Meta:
        ordering: ClassVar = ["starts_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["person", "source"],
                condition=models.Q(released_at__isnull=True),
                name="open_hold_once_a_source",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.reason}"

    def as_fact(self) -> HoldFact:
        return HoldFact(starts_on=self.starts_on, ends_on=self.ends_on, reason=self.reason)
