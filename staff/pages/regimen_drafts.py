"""Drafting a version of a regimen and ending its use: copy, edit, submit, send back, retire, withdraw."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.errors import Refused
from staff.forms.regimens import CopyForm, RegimenForm, StepForms, StepFormSet, SubmitForm, WhyForm
from staff.models import Regimen
from staff.pages.answers import MENDABLE, attempt, form_page, refused_into
from staff.pages.doors import OFFICER, page, signed_in
from staff.pages.regimens import version_seen_by
from staff.rules.regimen_states import RegimenState
from staff.selectors.regimens import approvals_managed_by
from staff.services.regimen_drafts import (
    RegimenFacts,
    regimen_copy,
    regimen_edit,
    regimen_retire,
    regimen_send_back,
    regimen_submit,
)
from staff.services.regimens import regimen_withdraw


@page(OFFICER)
def copy(request: HttpRequest, code: str, version: int) -> HttpResponse:
    row = version_seen_by(signed_in(request), code, str(version))
    form = CopyForm(request.POST or None, initial={"code": code})
    if request.method != "POST":
        return _copy_page(request, form, row, 200)
    made: list[Regimen] = []

    def act(data: dict[str, Any]) -> None:
        made.append(regimen_copy(actor=signed_in(request), regimen=row, now=timezone.now(), **data))

    status = attempt(form, act)
    if status:
        return _copy_page(request, form, row, status)
    messages.success(request, _("The draft is there; edit it, then submit it for approval."))
    return redirect("regimen-edit", made[0].code, made[0].version)


def _copy_page(request: HttpRequest, form: CopyForm, row: Regimen, status: int) -> HttpResponse:
    context = {
        "form": form,
        "title": _("Copy %(regimen)s into a draft") % {"regimen": row},
        "submit": _("Make the draft"),
        "back": _address(row),
        "intro": _("A version in use never changes: a copy becomes the next version once it is approved."),
    }
    return render(request, "staff/form_page.html", context, status=status)


def _address(row: Regimen) -> str:
    return f"{reverse('regimen', args=[row.code])}?version={row.version}"


@page(OFFICER)
def edit(request: HttpRequest, code: str, version: int) -> HttpResponse:
    row = version_seen_by(signed_in(request), code, str(version))
    if row.state != RegimenState.DRAFT:
        raise Http404
    facts = RegimenFacts.of(row)
    form = RegimenForm(request.POST or None, initial=vars(facts))
    told = [asdict(step) for step in facts.steps]
    steps = cast(StepForms, StepFormSet(request.POST or None, initial=told, prefix="steps"))
    status = 200
    if request.method == "POST":
        status = _save(request, row, form, steps)
        if not status:
            messages.success(request, _("The draft is saved."))
            return redirect(_address(row))
    title = _("Edit the draft %(regimen)s") % {"regimen": row}
    context = {"form": form, "steps": steps, "title": title, "back": _address(row)}
    return render(request, "staff/regimen_edit.html", context, status=status)


def _save(request: HttpRequest, row: Regimen, form: RegimenForm, steps: StepForms) -> int:
    """Keep what was entered; 0 when it was kept, else the status of the page that says what to mend."""
    if not form.is_valid() or not steps.is_valid():
        return MENDABLE
    data = form.cleaned_data
    facts = RegimenFacts(**data | {"routes": tuple(data["routes"]), "steps": steps.steps()})
    try:
        regimen_edit(actor=signed_in(request), regimen=row, facts=facts, now=timezone.now())
    except Refused as refused:
        return refused_into(form, refused)
    return 0


def _move(
    request: HttpRequest,
    code: str,
    version: int,
    form: type[forms.Form],
    act: Callable[..., object],
    **words: str,
) -> HttpResponse:
    user = signed_in(request)
    row = version_seen_by(user, code, str(version))
    title = words.pop("title") % {"regimen": row}
    return form_page(
        request,
        form(request.POST if request.method == "POST" else None),
        lambda data: act(actor=user, regimen=row, now=timezone.now(), **data),
        title=title,
        back=_address(row),
        **words,
    )


@page(OFFICER)
def submit(request: HttpRequest, code: str, version: int) -> HttpResponse:
    return _move(
        request,
        code,
        version,
        SubmitForm,
        regimen_submit,
        title=_("Submit %(regimen)s for approval"),
        submit=_("Submit it"),
        done=_("It is submitted; another officer notes the authority's approval."),
        intro=_("Who drafted, changed or submitted a version can't approve it."),
    )


@page(OFFICER)
def send_back(request: HttpRequest, code: str, version: int) -> HttpResponse:
    return _move(
        request,
        code,
        version,
        WhyForm,
        regimen_send_back,
        title=_("Send %(regimen)s back"),
        submit=_("Send it back"),
        done=_("It is a draft again."),
    )


@page(OFFICER)
def retire(request: HttpRequest, code: str, version: int) -> HttpResponse:
    return _move(
        request,
        code,
        version,
        WhyForm,
        regimen_retire,
        title=_("Retire %(regimen)s"),
        submit=_("Retire it"),
        done=_("It is retired and no longer offered."),
        intro=_("Doses and courses on it stay as they are. It can't come back; a copy can."),
    )


@page(OFFICER)
def approval_withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    user = signed_in(request)
    row = get_object_or_404(approvals_managed_by(user), pk=pk)
    return form_page(
        request,
        WhyForm(request.POST or None),
        lambda data: regimen_withdraw(actor=user, approval=row, now=timezone.now(), **data),
        title=_("Withdraw the approval of %(regimen)s at %(site)s")
        % {"regimen": row.regimen, "site": row.site},
        submit=_("Withdraw it"),
        back=_address(row.regimen),
        done=_("The approval is withdrawn; the clearance of the site's people follows it."),
        intro=_(
            "No new course starts on it, and people whose series rests on it may lose their clearance. "
            "A course that runs stays on its version."
        ),
        caution_site=row.site,
    )
