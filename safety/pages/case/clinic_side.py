"""The clinic's side of a case: referral, visit, decision, course, closing and opening again."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case.answer import AnswerForm
from safety.forms.case.case import CloseForm, DecisionForm, ReasonForm, ReferralForm, VisitForm
from safety.forms.course.course import CourseForm
from safety.letter.facts import LetterFacts, letter_facts
from safety.letter.record import listed_section, record_section
from safety.models import Incident
from safety.pages.case.steps import case_step
from safety.pages.clinic.clinic_choice import ClinicAdvice, clinic_advice
from safety.rules.case.needs import Bar
from safety.selectors.case.cases import incidents_followed_by
from safety.selectors.case.need_words import BARRED
from safety.selectors.case.needs import needs_of
from safety.selectors.clinic.clinics import clinics_in_order, clinics_of
from safety.selectors.course.course_regimens import course_regimens
from safety.services.case.answers import Strip, answer_record
from safety.services.case.closing import incident_close, incident_reopen
from safety.services.case.referrals import referral_make
from safety.services.case.visits import visit_decide, visit_record
from safety.services.course.course import course_start
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in


def followed_case(request: HttpRequest, reference: str) -> Incident:
    return get_object_or_404(incidents_followed_by(signed_in(request)), reference=reference)


@never_cache
@page(OFFICER, LIAISON)
def referral(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    advice = clinic_advice(incident, now, by_record=True)
    first = {"clinic": advice.first.clinic if advice.first else None}
    clinics = clinics_in_order(incident.site, advice.order)
    return form_page(
        request,
        ReferralForm(request.POST or None, clinics=clinics, initial=first),
        lambda said: referral_make(actor=user, incident=incident, now=now, **said),
        _referral_step(advice, incident),
    )


def _referral_step(advice: ClinicAdvice, incident: Incident) -> Step:
    return case_step(
        incident,
        _("Refer to a clinic"),
        _("Refer"),
        _("The referral is kept. The clinic is to be reached the same day."),
        _("Ring the clinic first: ask whether vaccine is there and whether it is open."),
        advice=advice,
    )


@never_cache
@page(OFFICER, LIAISON)
def visit(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    clinics = clinics_of(incident.site)
    return form_page(
        request,
        VisitForm(request.POST or None, clinics=clinics, initial=_visited(incident, now)),
        lambda said: visit_record(actor=user, incident=incident, now=now, **said),
        _visit_step(incident),
    )


def _visited(incident: Incident, now: datetime) -> dict[str, Any]:
    """What is filled in before anybody types: today, at the clinic referred to last."""
    referred = incident.referrals.order_by("-referred_at").first()
    return {"visited_on": incident.site.local_date(now), "clinic": referred.clinic if referred else None}


def _visit_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Record a clinic visit"),
        _("Record the visit"),
        _("The visit is recorded."),
        _(
            "Write down what the clinician decided and what was given; nothing here tells a clinician what to do."
        ),
    )


@never_cache
@page(OFFICER, LIAISON)
def answer(request: HttpRequest, reference: str) -> HttpResponse:
    """The answer strip in one go, in its own order."""
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    regimens = course_regimens(incident)
    lists: dict[str, Any] = {"clinics": clinics_of(incident.site), "regimens": regimens}
    return form_page(
        request,
        AnswerForm(request.POST or None, initial=_visited(incident, now), **lists),
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


@never_cache
@page(OFFICER, LIAISON)
def decision(request: HttpRequest, reference: str, visit_id: int) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    seen = get_object_or_404(incident.visits.select_related("incident__person__site"), pk=visit_id)
    return form_page(
        request,
        DecisionForm(request.POST or None),
        lambda said: visit_decide(actor=user, visit=seen, now=now, **said),
        _decision_step(incident),
    )


def _decision_step(incident: Incident) -> Step:
    return case_step(
        incident,
        _("Record the clinician's decision"),
        _("Record the decision"),
        _("The decision is recorded."),
    )


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


@never_cache
@page(OFFICER, LIAISON)
def close(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    return form_page(
        request,
        CloseForm(request.POST or None, incident=incident),
        lambda said: incident_close(actor=user, incident=incident, now=now, **said),
        _close_step(incident, now),
    )


def _close_step(incident: Incident, now: datetime) -> Step:
    return case_step(
        incident,
        _("Close the case"),
        _("Close it"),
        _("The case is closed."),
        _("Say what came of it and what the team learns from it."),
        *_in_the_way(incident, now),
    )


def _in_the_way(incident: Incident, now: datetime) -> list[str]:
    """What closing would be refused for, said before a reason is typed; the missing answers have a field of their own."""
    bars = [need.bars for need in needs_of(incident, now) if need.bars not in (None, Bar.DETAILS)]
    return [str(BARRED[bar]) for bar in dict.fromkeys(bars) if bar is not None]


@never_cache
@page(OFFICER, LIAISON)
def reopen(request: HttpRequest, reference: str) -> HttpResponse:
    user, incident, now = signed_in(request), followed_case(request, reference), timezone.now()
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: incident_reopen(actor=user, incident=incident, reason=said["reason"], now=now),
        _reopen_step(incident),
    )


def _reopen_step(incident: Incident) -> Step:
    return case_step(incident, _("Open the case again"), _("Open it again"), _("The case is open again."))
