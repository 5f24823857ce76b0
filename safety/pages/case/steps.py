"""A step of a case: the case it belongs to, and a form that leads back to it, with the caution on the page."""

from __future__ import annotations

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from safety.models import Incident
from safety.pages.clinic.clinic_choice import ClinicAdvice
from safety.selectors.case.cases import incidents_followed_by
from staff.doors.form import Step
from staff.doors.page import signed_in


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


def followed_case(request: HttpRequest, reference: str) -> Incident:
    return get_object_or_404(incidents_followed_by(signed_in(request)), reference=reference)
