"""Certificates and clearance letters of one person: sending, reading, checking."""

from __future__ import annotations

import uuid
from datetime import datetime
from pathlib import Path
from typing import Any

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from staff.doors.form import After, Step, form_page
from staff.doors.page import LIAISON, MEMBER, OFFICER, page, signed_in
from staff.forms.record.documents import CertificateForm, CheckForm, HealthForm, LetterForm
from staff.forms.record.record import VoidForm
from staff.models import Certificate, ClearanceLetter, Person, User
from staff.selectors.access import records_kept_by
from staff.selectors.record.documents import (
    certificates_kept_by,
    certificates_visible_to,
    doses_without_document,
    path_of,
)
from staff.services.audit import audit_look
from staff.services.record.certificates import certificate_add, certificate_verify
from staff.services.record.document_files import ENDINGS
from staff.services.record.letters import immunocompromised_set, letter_add, letter_void


def _kept(request: HttpRequest, pk: int) -> Person:
    return get_object_or_404(records_kept_by(signed_in(request)), pk=pk)


@page(OFFICER, LIAISON)
def certificate_new(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    return form_page(
        request,
        CertificateForm(request.POST or None, request.FILES or None),
        lambda data: certificate_add(actor=user, person=person, now=now, **data),
        _certificate_new_step(pk, person),
    )


def _certificate_new_step(pk: int, person: Person) -> Step:
    return Step(
        title=_("Add a document for %(person)s") % {"person": person.name},
        submit=_("Keep the document"),
        back=reverse("person", args=[pk]),
        done=_("The document is kept. A second person has to check it before it proves anything."),
    )


@page(OFFICER, LIAISON, MEMBER)
@require_safe
def certificate_file(request: HttpRequest, key: uuid.UUID) -> FileResponse:
    """The file itself, as a download: no browser runs it, and no other site may frame or guess it."""
    user = signed_in(request)
    row = get_object_or_404(certificates_visible_to(user), key=key)
    path = path_of(row.key)
    if not path.is_file():
        raise Http404
    audit_look(viewer=user, person=row.person, now=timezone.now(), target=f"certificate:{row.pk}")
    return _download(row, path)


def _download(row: Certificate, path: Path) -> FileResponse:
    answer = FileResponse(
        path.open("rb"),
        as_attachment=True,
        filename=f"document-{row.pk}.{ENDINGS[row.content_type]}",
        content_type=row.content_type,
    )
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Cache-Control"] = "private, no-store"
    return answer


@page(OFFICER, LIAISON)
def certificate_check(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(certificates_kept_by(user), key=key)
    return form_page(
        request,
        CheckForm(request.POST or None, doses=doses_without_document(row.person, user)),
        lambda said: certificate_verify(actor=user, certificate=row, doses=said.get("doses", ()), now=now),
        After(
            back=reverse("person", args=[row.person_id]),
            done=_("The document is checked; clearance follows it."),
        ),
        template="staff/certificate_check.html",
        around=lambda: _looked_at(row, user, now),
    )


def _looked_at(row: Certificate, user: User, now: datetime) -> dict[str, Any]:
    audit_look(viewer=user, person=row.person, now=now, target=f"certificate:{row.pk}")
    own, sent = row.person.user_id == user.pk, row.uploaded_by_id == user.pk
    return {"row": row, "person": row.person, "sent": sent, "own": own}


@page(OFFICER, LIAISON)
def letter_new(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    return form_page(
        request,
        LetterForm(request.POST or None, request.FILES or None),
        lambda data: letter_add(actor=user, person=person, now=now, **data),
        _letter_new_step(pk, person),
    )


def _letter_new_step(pk: int, person: Person) -> Step:
    return Step(
        title=_("Add a clearance letter for %(person)s") % {"person": person.name},
        submit=_("Keep the letter"),
        back=reverse("person", args=[pk]),
        done=_("The letter is kept. It clears once a second person has checked it."),
        site=person.site,
    )


@page(OFFICER, LIAISON)
def letter_end(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    letters = ClearanceLetter.everything.select_related("person").filter(person__in=records_kept_by(user))
    letter = get_object_or_404(letters, pk=pk)
    return form_page(
        request,
        VoidForm(request.POST or None),
        lambda data: letter_void(actor=user, letter=letter, reason=data["reason"], now=now),
        _letter_end_step(letter),
    )


def _letter_end_step(letter: ClearanceLetter) -> Step:
    return Step(
        title=_("Void the letter of %(day)s of %(person)s")
        % {"day": date_format(letter.signed_on), "person": letter.person.name},
        submit=_("Void the letter"),
        back=reverse("person", args=[letter.person_id]),
        done=_("The letter is voided and no longer clears."),
    )


@page(OFFICER, LIAISON)
def person_health(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    return form_page(
        request,
        HealthForm(request.POST or None, initial={"immunocompromised": person.immunocompromised}),
        lambda data: immunocompromised_set(actor=user, person=person, now=now, **data),
        _person_health_step(pk, person),
    )


def _person_health_step(pk: int, person: Person) -> Step:
    return Step(
        title=_("Clearance of %(person)s by letter") % {"person": person.name},
        submit=_("Keep it"),
        back=reverse("person", args=[pk]),
        done=_("It is noted; clearance follows it."),
        site=person.site,
    )
