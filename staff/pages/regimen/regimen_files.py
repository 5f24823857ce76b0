"""The regimen table as one file: out as it stands, in as drafts."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.doors.form import After, Outcome, refused_into, told, tried
from staff.doors.page import ANYONE, OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.forms.regimen.regimens import RegimenFileForm
from staff.ground.errors import Refused
from staff.models import User
from staff.selectors.regimen.regimens import regimens_to_export
from staff.services.regimen.regimen_file import Imported, regimen_schema, regimens_import, regimens_text


@page(OFFICER)
def regimens_file(request: HttpRequest) -> HttpResponse:
    user, now, outcome = signed_in(request), timezone.now(), Outcome[Imported]()
    form = RegimenFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST":
        outcome = tried(partial(_brought_in, user, form, now)) if form.is_valid() else Outcome(INVALID)
    if outcome.kept:
        return told(request, outcome, After(back=reverse("regimens"), done=_said))
    context = {"form": form, "faults": _faults(form, outcome.refused)}
    return render(request, "staff/regimen_file.html", context, status=outcome.status)


def _brought_in(user: User, form: RegimenFileForm, now: datetime) -> Imported:
    file = form.cleaned_data["file"]
    file.seek(0)
    return regimens_import(actor=user, content=file.read(), now=now)


def _faults(form: RegimenFileForm, refused: Refused | None) -> list[str]:
    """Faults name rows, so they are listed one by one below; the form says that there are some."""
    faults = refused.fields.get("file", "").splitlines() if refused else []
    if faults:
        form.add_error(None, _("Nothing was imported. What to mend is listed below."))
    elif refused:
        refused_into(form, refused)
    return faults


def _said(done: Imported) -> list[tuple[int, str]]:
    made = ngettext("%(n)d new draft.", "%(n)d new drafts.", len(done.drafts)) % {"n": len(done.drafts)}
    same = ngettext(
        "%(n)d version stands in the table already.",
        "%(n)d versions stand in the table already.",
        done.unchanged,
    ) % {"n": done.unchanged}
    return [(messages.SUCCESS, f"{made} {same}")]


@page(ANYONE)
def download(_request: HttpRequest) -> HttpResponse:
    text = regimens_text(regimens=list(regimens_to_export()))
    headers = {"Content-Disposition": 'attachment; filename="regimens.json"'}
    return HttpResponse(text, content_type="application/json; charset=utf-8", headers=headers)


@page(ANYONE)
def schema(_request: HttpRequest) -> HttpResponseBase:
    return JsonResponse(regimen_schema(), content_type="application/schema+json")
