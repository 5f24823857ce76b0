"""The regimen table as one file: out as it stands, in as drafts."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.errors import Refused
from staff.forms.regimens import RegimenFileForm
from staff.doors.form import refused_into
from staff.doors.page import ANYONE, OFFICER, page, signed_in
from staff.selectors.regimens import regimens_to_export
from staff.services.regimen_file import SCHEMA, Imported, regimens_import, regimens_text


@page(OFFICER)
def regimens_file(request: HttpRequest) -> HttpResponse:
    form = RegimenFileForm(request.POST or None, request.FILES or None)
    status, faults = 200, list[str]()
    if request.method == "POST" and not form.is_valid():
        status = 400
    elif request.method == "POST":
        try:
            done = regimens_import(
                actor=signed_in(request), content=form.cleaned_data["file"].read(), now=timezone.now()
            )
            messages.success(request, _said(done))
            return redirect("regimens")
        except Refused as refused:
            # The faults name rows, so they are listed one by one below; the form says that there are some.
            faults = refused.fields.get("file", "").splitlines()
            status = refused_into(form, Refused(_("Nothing was imported. What to mend is listed below.")))
    return render(request, "staff/regimen_file.html", {"form": form, "faults": faults}, status=status)


def _said(done: Imported) -> str:
    made = ngettext("%(n)d new draft.", "%(n)d new drafts.", len(done.drafts)) % {"n": len(done.drafts)}
    same = ngettext(
        "%(n)d version stands in the table already.",
        "%(n)d versions stand in the table already.",
        done.unchanged,
    ) % {"n": done.unchanged}
    return f"{made} {same}"


@page(ANYONE)
def download(_request: HttpRequest) -> HttpResponse:
    text = regimens_text(regimens=list(regimens_to_export()))
    headers = {"Content-Disposition": 'attachment; filename="regimens.json"'}
    return HttpResponse(text, content_type="application/json; charset=utf-8", headers=headers)


@page(ANYONE)
def schema(_request: HttpRequest) -> HttpResponseBase:
    return FileResponse(SCHEMA.open("rb"), content_type="application/schema+json")
