"""The clinic's answer strip, typed in in one go."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case.answer import AnswerForm
from safety.models import Incident
from safety.pages.case.clinic_side import visit_begun
from safety.pages.case.steps import case_step, followed_case
from safety.selectors.clinic.clinics import clinics_of
from safety.selectors.course.course_regimens import course_regimens
from safety.services.case.answers import Strip, answer_record
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


@never_cache
@page(OFFICER, LIAISON)
def answer(request: HttpRequest, reference: str) -> HttpResponse:
    """The answer strip in one go, in its own order."""
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    regimens = course_regimens(incident)
    lists: dict[str, Any] = {"clinics": clinics_of(incident.site), "regimens": regimens}
    return form_page(
        request,
        AnswerForm(request.POST or None, initial=visit_begun(incident, now), **lists),
        lambda said: answer_record(actor=user, incident=incident, strip=Strip(**said), now=now),
        _answer_step(incident),
    )


def _answer_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Type in the answer strip"),
        _("Keep the answer"),
        _("The answer is kept; the dates of a course are computed within seconds."),
        _("Type what the clinic wrote. Where the strip is empty, leave it empty and ask the clinic."),
    )
