"""Drafting a version of a regimen and ending its use: begin, copy, edit, submit, send back, retire."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.doors.form import Step, attempt, form_page
from staff.doors.page import OFFICER, page, signed_in
from staff.forms.regimen.regimens import (
    CopyForm,
    NewRegimenForm,
    RegimenForm,
    StepForms,
    StepFormSet,
    SubmitForm,
    WhyForm,
)
from staff.models import Regimen
from staff.pages.regimen.regimens import version_seen_by
from staff.rules.regimen.regimen_check import regimen_faults
from staff.rules.regimen.regimen_states import RegimenState
from staff.selectors.regimen.regimens import drafted_near, may_retire
from staff.services.regimen.regimen_drafts import (
    RegimenFacts,
    regimen_copy,
    regimen_edit,
    regimen_retire,
    regimen_send_back,
    regimen_start,
    regimen_submit,
)
from staff.services.regimen.regimen_words import fault_words


@page(OFFICER)
def copy(request: HttpRequest, code: str, version: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = version_seen_by(user, code, str(version))
    return form_page(
        request,
        CopyForm(request.POST or None, initial={"code": code}),
        lambda said: regimen_copy(actor=user, regimen=row, now=now, **said),
        _copy_step(row),
    )


def _copy_step(row: Regimen) -> Step:
    return Step(
        title=_("Copy %(regimen)s into a draft") % {"regimen": row},
        submit=_("Make the draft"),
        back=_address(row),
        done=_("The draft is there; edit it, then submit it for approval."),
        then=lambda made: reverse("regimen-edit", args=[made.code, made.version]),
        before=(_("A version in use never changes: a copy becomes the next version once it is approved."),),
    )


def _address(row: Regimen) -> str:
    return f"{reverse('regimen', args=[row.code])}?version={row.version}"


@page(OFFICER)
def add(request: HttpRequest) -> HttpResponse:
    """A draft from nothing."""
    user, now = signed_in(request), timezone.now()
    form, steps = NewRegimenForm(request.POST or None), _steps(request)
    words = Draft(_("Draft a new regimen"), _("The draft is there; edit it, then submit it for approval."))

    def keep(facts: RegimenFacts) -> Regimen:
        return regimen_start(actor=user, code=form.cleaned_data["code"], facts=facts, now=now)

    return _drafted(request, form, steps, keep, words, back=reverse("regimens"))


@page(OFFICER)
def edit(request: HttpRequest, code: str, version: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = version_seen_by(user, code, str(version))
    if row.state != RegimenState.DRAFT:
        raise Http404
    _let_in(drafted_near(user, row))
    facts = RegimenFacts.of(row)
    form, steps = RegimenForm(request.POST or None, initial=vars(facts)), _steps(request, facts)
    words = Draft(_("Edit the draft %(regimen)s") % {"regimen": row}, _("The draft is saved."), row)

    def keep(facts: RegimenFacts) -> Regimen:
        regimen_edit(actor=user, regimen=row, facts=facts, now=now)
        return row

    return _drafted(request, form, steps, keep, words, back=_address(row))


@dataclass(frozen=True)
class Draft:
    """Words of the page of a draft, and the draft as it is kept."""

    title: str
    done: str
    row: Regimen | None = None


def _steps(request: HttpRequest, facts: RegimenFacts | None = None) -> StepForms:
    initial = [asdict(step) for step in facts.steps] if facts else None
    return cast(StepForms, StepFormSet(request.POST or None, initial=initial, prefix="steps"))


def _drafted(
    request: HttpRequest,
    form: RegimenForm,
    steps: StepForms,
    keep: Callable[[RegimenFacts], Regimen],
    words: Draft,
    *,
    back: str,
) -> HttpResponse:
    outcome = attempt(request, form, lambda said: keep(_facts(said, steps)), steps)
    if outcome.made is not None:
        return _kept(request, outcome.made, words.done)
    faults = _faults(words.row) if words.row and request.method != "POST" else []
    context = {"form": form, "steps": steps, "title": words.title, "back": back, "faults": faults}
    return render(request, "staff/regimen_edit.html", context, status=outcome.status)


def _facts(said: dict[str, Any], steps: StepForms) -> RegimenFacts:
    data = {name: value for name, value in said.items() if name != "code"}
    return RegimenFacts(**data | {"routes": tuple(data["routes"]), "steps": steps.steps()})


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


def _let_in(may: bool) -> None:
    """Officers of other sites are not offered the act; who comes by the address is refused the form too."""
    if not may:
        raise PermissionDenied


def _move(
    request: HttpRequest, row: Regimen, form: type[forms.Form], act: Callable[..., object], words: Step
) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    data = request.POST if request.method == "POST" else None
    return form_page(request, form(data), lambda said: act(actor=user, regimen=row, now=now, **said), words)


def _words(row: Regimen, title: str, submit: str, done: str, *before: str) -> Step:
    return Step(title=title % {"regimen": row}, submit=submit, done=done, back=_address(row), before=before)


@page(OFFICER)
def submit(request: HttpRequest, code: str, version: int) -> HttpResponse:
    row = version_seen_by(signed_in(request), code, str(version))
    _let_in(drafted_near(signed_in(request), row))
    title, done = (
        _("Submit %(regimen)s for approval"),
        _("It is submitted; another officer notes the authority's approval."),
    )
    before = _("Who drafted, changed or submitted a version can't approve it.")
    return _move(request, row, SubmitForm, regimen_submit, _words(row, title, _("Submit it"), done, before))


@page(OFFICER)
def send_back(request: HttpRequest, code: str, version: int) -> HttpResponse:
    row = version_seen_by(signed_in(request), code, str(version))
    words = _words(row, _("Send %(regimen)s back"), _("Send it back"), _("It is a draft again."))
    return _move(request, row, WhyForm, regimen_send_back, words)


@page(OFFICER)
def retire(request: HttpRequest, code: str, version: int) -> HttpResponse:
    row = version_seen_by(signed_in(request), code, str(version))
    _let_in(may_retire(signed_in(request), row))
    title, done = _("Retire %(regimen)s"), _("It is retired and no longer offered.")
    before = _("Doses and courses on it stay as they are. It can't come back; a copy can.")
    return _move(request, row, WhyForm, regimen_retire, _words(row, title, _("Retire it"), done, before))
