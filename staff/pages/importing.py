"""Bringing a staff list in: choose the file, see what it would do, confirm, watch it being written."""

from __future__ import annotations

import logging
import secrets
import uuid
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from staff.errors import Refused
from staff.forms.importing import ChoicesForm, UploadForm
from staff.models import ImportDraft, User
from staff.doors.page import OFFICER, page, signed_in
from staff.rules.sheet.cells import Sheet, unpack
from staff.rules.sheet.findings import Finding
from staff.selectors.imports import imports_visible_to
from staff.services.imports.drafts import (
    choices_of,
    draft_apply,
    draft_check,
    draft_choose,
    draft_create,
    draft_discard,
)
from staff.services.imports.plan import ImportPlan, fingerprint
from staff.services.imports.words import (
    count_words,
    finding_words,
    place_words,
    progress_words,
    remark_words,
)

logger = logging.getLogger(__name__)

# More than anybody mends in one go; the report says how many there are.
FINDINGS_SHOWN = 500
PEOPLE_SHOWN = 10


@page(OFFICER)
@never_cache
def upload(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    form = UploadForm(request.POST or None, request.FILES or None, user=user)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            draft = draft_create(
                actor=user,
                site=form.cleaned_data["site"],
                file_name=file.name,
                content=file.read(),
                now=timezone.now(),
            )
            return redirect("import-draft", key=draft.key)
        except Refused as refused:
            form.add_error("file", refused.message)
    drafts = imports_visible_to(user)[:20]
    return render(request, "staff/import.html", {"form": form, "drafts": drafts}, status=_status(form))


@page(OFFICER)
@never_cache
def draft(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    user = signed_in(request)
    row = get_object_or_404(imports_visible_to(user), key=key)
    if row.applied_at is not None:
        return render(request, "staff/import_result.html", {"draft": row, "counts": count_words(row.result)})
    sheet = unpack(row.sheet)
    form = ChoicesForm(request.POST or None, draft=row, sheet=sheet)
    if request.method == "POST" and form.is_valid():
        chosen = form.cleaned_data
        try:
            draft_choose(
                actor=user,
                draft=row,
                mapping=form.mapping(),
                date_format=chosen["date_format"],
                evidence=chosen["evidence"],
            )
            return redirect("import-draft", key=key)
        except Refused as refused:
            form.add_error(None, refused.message)
    plan = draft_check(actor=user, draft=row, now=timezone.now())
    return render(request, "staff/import_draft.html", _shown(row, sheet, plan, form), status=_status(form))


def _status(form: UploadForm | ChoicesForm) -> int:
    return 422 if form.is_bound and form.errors else 200


def _shown(row: ImportDraft, sheet: Sheet, plan: ImportPlan, form: ChoicesForm) -> dict[str, object]:
    return {
        "draft": row,
        "form": form,
        "remarks": [remark_words(code, value) for code, value in sheet.remarks],
        "counts": count_words(plan.counts()),
        "problems": _report(plan.problems, sheet),
        "problem_count": len(plan.problems),
        "notes": _report(plan.notes, sheet),
        "note_count": len(plan.notes),
        "people": plan.people[:PEOPLE_SHOWN],
        "people_count": len(plan.people),
        "changed_count": len(plan.changed),
        "seen": fingerprint(choices_of(row), plan),
    }


def _report(findings: list[Finding], sheet: Sheet) -> list[dict[str, str]]:
    rows = []
    for finding in findings[:FINDINGS_SHOWN]:
        number, column = place_words(finding, sheet.headers)
        rows.append({"row": number, "column": column, "words": finding_words(finding)})
    return rows


@page(OFFICER)
@require_POST
def discard(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    user = signed_in(request)
    row = get_object_or_404(imports_visible_to(user), key=key)
    try:
        draft_discard(actor=user, draft=row)
    except Refused as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, _("The list is discarded; nothing was imported."))
    return redirect("import")


@page(OFFICER)
@require_POST
def apply(request: HttpRequest, key: uuid.UUID) -> HttpResponseBase:
    user = signed_in(request)
    row = get_object_or_404(imports_visible_to(user), key=key)
    # Drawn at random, so that no name of a file or site can hold it.
    mark = secrets.token_hex(16)
    whole = render_to_string("staff/import_progress.html", {"draft": row, "mark": mark}, request)
    head, between, tail = whole.split(mark)
    lines = _written(user, row, request.POST.get("seen", ""), timezone.now(), between)
    response = StreamingHttpResponse(_page(head, lines, tail))
    # Tells a proxy in front not to hold the page back until it is whole.
    response["X-Accel-Buffering"] = "no"
    response["Cache-Control"] = "no-store"
    return response


def _page(head: str, lines: Iterator[str], tail: str) -> Iterator[str]:
    yield head
    yield from lines
    yield tail


def _written(user: User, row: ImportDraft, seen: str, now: datetime, between: str) -> Iterator[str]:
    """The import itself, a list item for each step: whoever leaves the page before its end stops it whole.

    The page is sent while the import runs, so its outcome is words at the end and not a status code.
    """
    try:
        with closing(draft_apply(actor=user, key=row.key, seen=seen, now=now)) as steps:
            while True:
                yield format_html("<li>{}</li>\n", progress_words(next(steps)))
    except StopIteration as done:
        outcome = {"draft": row, "counts": count_words(done.value), "changed": _changes(done.value)}
        yield between + render_to_string("staff/_import_outcome.html", outcome)
    except Refused as refused:
        yield between + render_to_string(
            "staff/_import_outcome.html", {"draft": row, "stopped": refused.message}
        )
    except Exception:
        logger.exception("The import %s stopped; nothing was written.", row.key)
        sentence = _(
            "The program failed and nothing was written. Try again; if it fails again, tell the administrator."
        )
        yield between + render_to_string("staff/_import_outcome.html", {"draft": row, "stopped": sentence})
        raise


def _changes(counts: dict[str, int]) -> bool:
    return any(counts[name] for name in ("people_added", "people_changed"))
