"""A step of a case: a form that leads back to the case, with the caution on the page."""

from __future__ import annotations

from django.urls import reverse

from safety.models import Incident
from safety.pages.clinic.clinic_choice import ClinicAdvice
from staff.doors.form import Step


def case_step(
    incident: Incident,
    title: str,
    submit: str,
    done: str,
    *before: str,
    part: str = "",
    advice: ClinicAdvice | None = None,
    other: tuple[str, str] | None = None,
) -> Step:
    """`part`: the part of the case's page it leads back to, as in an address."""
    return Step(
        title=title,
        submit=submit,
        back=reverse("case", args=[incident.reference]) + part,
        site=incident.site,
        done=done,
        before=before,
        advice=advice,
        other=other,
    )
