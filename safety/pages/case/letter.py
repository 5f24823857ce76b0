"""The referral letter of a case: a page to print, and the same as a PDF."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.translation import get_language_info
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from safety.letter.content import letter_of
from safety.letter.facts import letter_facts
from safety.letter.languages import LetterLanguage, letter_languages
from safety.letter.pdf import letter_pdf
from safety.letter.shape import Limits
from safety.models import Clinic, Incident
from safety.selectors.case.cases import incidents_visible_to
from safety.selectors.clinic.clinic_choice import clinic_choice_for
from staff.doors.page import LIAISON, MEMBER, OFFICER, page, signed_in
from staff.services.audit import audit_look


@dataclass(frozen=True)
class Asked:
    """The case somebody opened a letter of, the clinic it goes to and the language it is wanted in."""

    incident: Incident
    clinic: Clinic | None
    languages: list[LetterLanguage]
    language: str
    now: datetime


def _asked(request: HttpRequest, reference: str) -> Asked:
    """Reads what is asked for; a look at somebody else's letter is noted as one at the record."""
    user, now = signed_in(request), timezone.now()
    incident = get_object_or_404(incidents_visible_to(user), reference=reference)
    audit_look(viewer=user, person=incident.person, now=now, target=f"{incident.reference}:letter")
    clinic = _clinic(incident, now)
    languages = letter_languages(incident.site, clinic)
    wanted = request.GET.get("language", "")
    known = {one.code for one in languages}
    return Asked(incident, clinic, languages, wanted if wanted in known else languages[0].code, now)


def _clinic(incident: Incident, now: datetime) -> Clinic | None:
    """The clinic referred to last; before there is one, the clinic that would be chosen now."""
    referred = incident.referrals.last()
    if referred is not None:
        return referred.clinic
    found = clinic_choice_for(incident, now, by_record=True)
    return found.clinic_of(found.choice.chosen) if found.choice.chosen else None


@require_safe
@never_cache
@page(OFFICER, LIAISON, MEMBER)
def letter(request: HttpRequest, reference: str) -> HttpResponse:
    asked = _asked(request, reference)
    facts = letter_facts(asked.incident, asked.clinic, asked.now)
    context = {
        "letter": letter_of(facts, asked.language, Limits()),
        "incident": asked.incident,
        "languages": asked.languages,
        "bidi": get_language_info(asked.language)["bidi"],
    }
    return render(request, "safety/letter.html", context)


@require_safe
@never_cache
@page(OFFICER, LIAISON, MEMBER)
def letter_file(request: HttpRequest, reference: str) -> HttpResponse:
    asked = _asked(request, reference)
    facts = letter_facts(asked.incident, asked.clinic, asked.now)
    content = letter_pdf(partial(letter_of, facts, asked.language), now=asked.now)
    # The name of the file says as little as its reference.
    name = f"{asked.incident.reference}-{asked.language}.pdf"
    return HttpResponse(
        content,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )
