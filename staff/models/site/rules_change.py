"""Changes of a site's rules, people whose clearance waits to be recomputed, and the dates a record comes due."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.record.person import Person
from staff.models.site.site import Site


class RulesChange(models.Model):
    """One change of a site's figures or approved regimens: what, why, by whom; and how far its people have been
    recomputed.

    `changes` maps a field to its old and new value, JSON types; the field "regimen" is no figure, its values name
    the version approved (new) or withdrawn (old). `total` people were to be recomputed; those
    who still wait are the site's ClearancePending rows. A later change takes them over: `overtaken_by`.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="rules_changes")
    changes = models.JSONField(_("what changed"))
    reason = models.CharField(_("why"), max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(_("when"))
    total = models.PositiveIntegerField(_("people to recompute"))
    finished_at = models.DateTimeField(null=True, blank=True)
    overtaken_by = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="overtook"
    )

    class Meta:
        ordering: ClassVar = ["-at", "-id"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["site"],
                condition=models.Q(finished_at__isnull=True),
                name="one_recompute_at_a_time_a_site",
            ),
            models.CheckConstraint(condition=~models.Q(reason=""), name="rules_change_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.site}: {self.at.isoformat()}"


class ClearancePending(models.Model):
    """The person's stored clearance is older than the site's rules or, without a `change`, than the record.

    Written in the transaction that changes the rules, or by the triggers when the record changes (see
    staff.guards.record); gone in the one that recomputes the person. While it stands, the roster's guard lets
    the person onto no outing: a recompute that stops half-way fails closed.
    """

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="clearance_pending")
    change = models.ForeignKey(
        RulesChange, on_delete=models.PROTECT, null=True, blank=True, related_name="pending"
    )

    class Meta:
        ordering: ClassVar = ["person"]

    def __str__(self) -> str:
        return str(self.person)


class PersonDue(models.Model):
    """A date of a person's record that reminders hang on; a projection written with the clearance."""

    class Kind(models.TextChoices):
        DOSE = "dose", _("next dose before field work")
        RECHECK = "recheck", _("titre or booster")
        BRIEFING = "briefing", _("safety briefing")
        LETTER = "letter", _("clinician's clearance letter")

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="dues")
    kind = models.CharField(max_length=10, choices=Kind)
    due_on = models.DateField(_("due on"))

    class Meta:
        ordering: ClassVar = ["due_on", "id"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["person", "kind"], name="one_due_date_a_kind"),
        ]
        indexes: ClassVar = [models.Index(fields=["due_on", "person"], name="due_by_date")]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_kind_display()} {self.due_on.isoformat()}"
