"""The regimen table: versioned rows with steps and source, and who approved which for which site."""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.ground import purposes
from staff.models.site.site import Site
from staff.rules.regimen import values
from staff.rules.regimen.regimen_states import RegimenState


class Purpose(models.TextChoices):
    """The rows of staff.ground.purposes in words."""

    PRE_EXPOSURE = purposes.Purpose.PRE_EXPOSURE.value, _("pre-exposure")
    POST_EXPOSURE = purposes.Purpose.POST_EXPOSURE.value, _("post-exposure")
    POST_EXPOSURE_IMMUNISED = purposes.Purpose.POST_EXPOSURE_IMMUNISED.value, _("post-exposure, immunised")
    BOOSTER = purposes.Purpose.BOOSTER.value, _("booster")


if wordless := {*purposes.Purpose} - {*Purpose.values}:
    raise RuntimeError(f"purposes without a word: {', '.join(sorted(wordless))}")


def purpose_choices() -> list[tuple[str, Any]]:
    """A function, so that a new purpose is no migration."""
    return list(Purpose.choices)


class Route(models.TextChoices):
    IM = values.Route.IM.value, _("intramuscular (IM)")
    ID = values.Route.ID.value, _("intradermal (ID)")


class Regimen(models.Model):
    """One version of one regimen, edited only while it is a draft: a change of a listed one is a new version.

    The guards of the database keep its facts and its steps once it is no draft, and its moves legal
    (staff.rules.regimen.regimen_states). Nobody has drafted a row that came with the program.
    """

    class SourceKind(models.TextChoices):
        PUBLISHED = "published", _("published table")
        SECOND_HAND = "second-hand", _("read in a secondary copy")
        MEMORY = "memory", _("from memory, unchecked")

    class State(models.TextChoices):
        DRAFT = RegimenState.DRAFT.value, _("draft")
        SUBMITTED = RegimenState.SUBMITTED.value, _("submitted for approval")
        LISTED = RegimenState.LISTED.value, _("listed")
        RETIRED = RegimenState.RETIRED.value, _("retired")

    class ForWhom(models.TextChoices):
        ANYONE = purposes.ForWhom.ANYONE.value, _("anyone")
        NOT_IMMUNISED = purposes.ForWhom.NOT_IMMUNISED.value, _("not immunised")
        IMMUNISED = purposes.ForWhom.IMMUNISED.value, _("immunised")
        IMMUNOCOMPROMISED = purposes.ForWhom.IMMUNOCOMPROMISED.value, _("immunocompromised")

    code = models.SlugField(_("code"), max_length=60)
    version = models.PositiveSmallIntegerField(_("version"), default=1)
    name = models.CharField(_("name"), max_length=160)
    purpose = models.CharField(_("purpose"), max_length=30, choices=purpose_choices)
    routes = models.JSONField(_("routes"), default=list)
    for_whom = models.CharField(_("for whom"), max_length=20, choices=ForWhom, default=ForWhom.ANYONE)
    source = models.TextField(_("source"))
    source_kind = models.CharField(_("kind of source"), max_length=12, choices=SourceKind)
    created_at = models.DateTimeField(auto_now_add=True)
    state = models.CharField(_("state"), max_length=10, choices=State, default=State.DRAFT)
    # Those who may not approve it: two people are needed.
    drafted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    submitted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["purpose", "code", "version"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["code", "version"], name="regimen_version_once"),
            models.CheckConstraint(
                condition=models.Q(state__in=["draft", "submitted", "listed", "retired"]),
                name="regimen_state_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} (v{self.version})"

    @property
    def target(self) -> str:
        """How the audit trail names this version."""
        return f"regimen:{self.code}@{self.version}"

    def as_rule(self) -> values.Regimen:
        """This version as the value the pure rules work on; uses prefetched steps when there are any."""
        steps = sorted(self.steps.all(), key=lambda step: step.number)
        return values.Regimen(
            code=self.code,
            version=self.version,
            purpose=purposes.Purpose(self.purpose),
            routes=frozenset(values.Route(route) for route in self.routes),
            steps=tuple(step.as_rule() for step in steps),
        )


class RegimenStep(models.Model):
    """Days count from day 0, the date of the first dose given; the smallest gap from the step before."""

    regimen = models.ForeignKey(Regimen, on_delete=models.CASCADE, related_name="steps")
    number = models.PositiveSmallIntegerField(_("number"))
    day = models.PositiveSmallIntegerField(_("day"))
    latest_day = models.PositiveSmallIntegerField(_("last day of the window"))
    smallest_gap = models.PositiveSmallIntegerField(_("smallest gap to the step before, days"))
    injections = models.PositiveSmallIntegerField(_("injections"), default=1)
    later = models.BooleanField(_("keeps a complete series"), default=False)

    class Meta:
        ordering: ClassVar = ["number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["regimen", "number"], name="regimen_step_once"),
            models.CheckConstraint(
                condition=models.Q(latest_day__gte=models.F("day")), name="step_window_ends_after_it_opens"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.regimen.code} {self.number}"

    def as_rule(self) -> values.Step:
        return values.Step(
            number=self.number,
            day=self.day,
            latest_day=self.latest_day,
            smallest_gap=self.smallest_gap,
            injections=self.injections,
            later=self.later,
        )


class RegimenApproval(models.Model):
    """A site may use a version once its authority has approved it, for authorities differ; withdrawing ends new use only."""

    regimen = models.ForeignKey(Regimen, on_delete=models.PROTECT, related_name="approvals")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="regimen_approvals")
    authority = models.CharField(_("authority"), max_length=200)
    approved_on = models.DateField(_("approved on"))
    document = models.CharField(_("document"), max_length=200)
    approved_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdraw_reason = models.CharField(_("why withdrawn"), max_length=300, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["regimen", "site"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="regimen_approved_once_a_site",
            ),
            models.CheckConstraint(
                condition=models.Q(withdrawn_at__isnull=True, withdraw_reason="", withdrawn_by__isnull=True)
                | (
                    models.Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False)
                    & ~models.Q(withdraw_reason="")
                ),
                name="withdrawn_approval_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.regimen}: {self.site}"


class RegimenEdit(models.Model):
    """That somebody changed what a draft says; what it said stands in the audit trail. Append only."""

    regimen = models.ForeignKey(Regimen, on_delete=models.PROTECT, related_name="edits")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.regimen}: {self.at.isoformat()}"


class RegimenMove(models.Model):
    """A change of state of a version: old (empty for the first), new, who (nobody: came with the program), why."""

    regimen = models.ForeignKey(Regimen, on_delete=models.PROTECT, related_name="moves")
    old = models.CharField(_("from"), max_length=10, blank=True)
    new = models.CharField(_("to"), max_length=10, choices=Regimen.State)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    at = models.DateTimeField()
    why = models.CharField(_("why"), max_length=300, blank=True)

    class Meta:
        ordering: ClassVar = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.regimen}: {self.old or '-'} > {self.new}"
