"""The people of a site and what each does on a crew."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.site.site import Site


class CrewRole(models.TextChoices):
    CATCHER = "catcher", _("catcher")
    VACCINATOR = "vaccinator", _("vaccinator")
    RECORDER = "recorder", _("recorder")
    DRIVER = "driver", _("driver")
    LEAD = "lead", _("crew lead")


class Person(models.Model):
    """Somebody who goes out with the dogs. `number` is the site's own staff number."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="people")
    number = models.CharField(_("staff number"), max_length=30)
    name = models.CharField(_("name"), max_length=120)
    email = models.EmailField(_("e-mail"), blank=True)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    language = models.CharField(_("language"), max_length=10, default="en")
    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="person"
    )
    # Part of the health record: shown with it and with nothing else.
    immunocompromised = models.BooleanField(
        _("immunocompromised: cleared by a clinician's letter only"), default=False
    )
    active_from = models.DateField(_("first day with the team"), null=True, blank=True)
    active_until = models.DateField(_("last day with the team"), null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["name", "number"]
        verbose_name_plural = _("people")
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["site", "number"], name="staff_number_once_a_site"),
            models.CheckConstraint(
                condition=models.Q(active_from__isnull=True)
                | models.Q(active_until__isnull=True)
                | models.Q(active_from__lte=models.F("active_until")),
                name="person_starts_before_leaving",
                violation_error_message=_("The last day with the team lies before the first."),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class PersonCrewRole(models.Model):
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="crew_roles")
    role = models.CharField(_("crew role"), max_length=12, choices=CrewRole)

    class Meta:
        ordering: ClassVar = ["id"]
        constraints: ClassVar = [models.UniqueConstraint(fields=["person", "role"], name="crew_role_once")]

    def __str__(self) -> str:
        return str(self.get_role_display())
