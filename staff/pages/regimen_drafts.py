"""Drafting a version of a regimen and ending its use: begin, copy, edit, submit, send back, retire."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.errors import Refused
from staff.forms.regimens import (
    CopyForm,
    NewRegimenForm,
    RegimenForm,
    StepForms,
    StepFormSet,
    SubmitForm,
    WhyForm,
)
from staff.models import Regimen, User
from staff.doors.form import MENDABLE, attempt, form_page, refused_into
from staff.doors.page import OFFICER, page, signed_in
from staff.pages.regimens import version_seen_by
from staff.rules.regimen_check import regimen_faults
from staff.rules.regimen_states import RegimenState
from staff.selectors.regimens import drafted_near, may_retire
from staff.services.regimen_drafts import (
    RegimenFacts,
    regimen_copy,
    regimen_edit,
    regimen_retire,
    regimen_send_back,
    regimen_start,
    regimen_submit,
)
from staff.services.regimen_words import fault_words


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
def add(request: HttpRequest) -> HttpResponse:
    """A draft from nothing."""
    form = NewRegimenForm(request.POST or None)
    steps = cast(StepForms, StepFormSet(request.POST or None, prefix="steps"))
    made: list[Regimen] = []

    def keep(facts: RegimenFacts) -> None:
        code = form.cleaned_data["code"]
        made.append(regimen_start(actor=signed_in(request), code=code, facts=facts, now=timezone.now()))

    status = 200
    if request.method == "POST":
        status = _save(form, steps, keep)
        if not status:
            return _kept(request, made[0], _("The draft is there; edit it, then submit it for approval."))
    context = {"form": form, "steps": steps, "title": _("Draft a new regimen"), "back": reverse("regimens")}
    return render(request, "staff/regimen_edit.html", context, status=status)


@page(OFFICER)
def edit(request: HttpRequest, code: str, version: int) -> HttpResponse:
    row = version_seen_by(signed_in(request), code, str(version))
    if row.state != RegimenState.DRAFT:
        raise Http404
    _let_in(drafted_near(signed_in(request), row))
    facts = RegimenFacts.of(row)
    form = RegimenForm(request.POST or None, initial=vars(facts))
    told = [asdict(step) for step in facts.steps]
    steps = cast(StepForms, StepFormSet(request.POST or None, initial=told, prefix="steps"))
    status = 200
    if request.method == "POST":
        status = _save(
            form,
            steps,
            lambda facts: regimen_edit(
                actor=signed_in(request), regimen=row, facts=facts, now=timezone.now()
            ),
        )
        if not status:
            return _kept(request, row, _("The draft is saved."))
    faults = _faults(row) if request.method != "POST" else []
    title = _("Edit the draft %(regimen)s") % {"regimen": row}
    context = {"form": form, "steps": steps, "title": title, "back": _address(row), "faults": faults}
    return render(request, "staff/regimen_edit.html", context, status=status)


def _kept(request: HttpRequest, row: Regimen, words: str) -> HttpResponse:
    """To the version's page; back to the form, which names them, while the steps contradict each other."""
    if not _faults(row):
        messages.success(request, words)
        return redirect(_address(row))
    messages.warning(request, _("The draft is saved, and can't be submitted before the steps are mended."))
    return redirect("regimen-edit", row.code, row.version)


def _faults(row: Regimen) -> list[tuple[int, str, str]]:
    """What is wrong with a draft as it is kept: the step, the id of the field to mend, a sentence."""
    facts = RegimenFacts.of(Regimen.objects.get(pk=row.pk))
    return [
        (fault.step, f"id_steps-{fault.step - 1}-{fault.field}" if fault.step else "", fault_words(fault))
        for fault in regimen_faults(routes=facts.routes, steps=facts.steps)
    ]


def _save(form: RegimenForm, steps: StepForms, keep: Callable[[RegimenFacts], object]) -> int:
    """Keep what was entered; 0 when it was kept, else the status of the page that says what to mend."""
    if not form.is_valid() or not steps.is_valid():
        return MENDABLE
    data = {name: value for name, value in form.cleaned_data.items() if name != "code"}
    facts = RegimenFacts(**data | {"routes": tuple(data["routes"]), "steps": steps.steps()})
    try:
        keep(facts)
    except Refused as refused:
        return refused_into(form, refused)
    return 0


def _let_in(may: bool) -> None:
    """Officers of other sites are not offered the act; who comes by the address is refused the form too."""
    if not may:
        raise PermissionDenied


def _move(
    request: HttpRequest,
    code: str,
    version: int,
    form: type[forms.Form],
    act: Callable[..., object],
    may: Callable[[User, Regimen], bool] | None = None,
    **words: str,
) -> HttpResponse:
    user = signed_in(request)
    row = version_seen_by(user, code, str(version))
    _let_in(may is None or may(user, row))
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
        drafted_near,
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
        may_retire,
        title=_("Retire %(regimen)s"),
        submit=_("Retire it"),
        done=_("It is retired and no longer offered."),
        intro=_("Doses and courses on it stay as they are. It can't come back; a copy can."),
    )
