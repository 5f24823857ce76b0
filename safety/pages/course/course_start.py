"""Recording the course the clinician ordered."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.course.course import CourseForm
from safety.letter.facts import LetterFacts, letter_facts
from safety.letter.record import listed_section, record_section
from safety.models import Incident
from safety.pages.case.steps import case_step, followed_case
from safety.selectors.course.course_regimens import course_regimens
from safety.services.course.course import course_start
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


@never_cache
@page(OFFICER, LIAISON)
def course(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    facts = letter_facts(incident, None, now)
    return form_page(
        request,
        _course_form(request, incident, facts, now),
        lambda said: course_start(actor=user, incident=incident, now=now, **said),
        _course_step(facts, incident),
    )


def _course_form(request: HttpRequest, incident: Incident, facts: LetterFacts, now: datetime) -> CourseForm:
    return CourseForm(
        request.POST or None,
        regimens=course_regimens(incident),
        listed=listed_of(facts),
        initial={"starts_on": incident.site.local_date(now)},
    )


def _course_step(facts: LetterFacts, incident: Incident) -> Step:
    return case_step(
        incident,
        _("Record the course"),
        _("Record the course"),
        _("The course is recorded; its dates are computed within seconds."),
        _("Ask the clinician which regimen it is. Only those %(authority)s has approved can be chosen.")
        % {"authority": incident.site.authority},
        " ".join(
            [_("Before this exposure:"), *record_section(facts).notes, *listed_section(facts, None).notes]
        ),
        _("Immunised and with a weak immune system: tables disagree, so ask before you choose."),
        other=(reverse("case-course-named", args=[incident.reference]), _("The table lacks the regimen")),
    )


def listed_of(facts: LetterFacts) -> set[int] | None:
    """The regimens the approved table lists for such a person; None where it lists nothing and one has to ask."""
    return None if facts.regimens is None else {regimen.pk for regimen in facts.regimens}
