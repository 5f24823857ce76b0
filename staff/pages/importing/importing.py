"""Bringing a staff list in: choose the file, see what it would do, confirm, watch it being written."""

from __future__ import annotations

import logging
import secrets
import uuid
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime
from functools import partial
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from staff.doors.form import After, form_page, pressed
from staff.doors.page import OFFICER, page, signed_in
from staff.doors.retry import refusal_of
from staff.forms.importing.importing import ChoicesForm, UploadForm
from staff.models import ImportDraft, Site, User
from staff.pages.lists import first_rows
from staff.rules.importing.cells import Sheet, unpack
from staff.rules.importing.findings import Finding
from staff.selectors.importing.imports import imports_visible_to
from staff.services.importing.drafts import (
    choices_of,
    draft_apply,
    draft_check,
    draft_choose,
    draft_create,
    draft_discard,
)
from staff.services.importing.plan import ImportPlan, fingerprint
from staff.services.importing.words import (
    count_words,
    finding_words,
    place_words,
    progress_words,
    remark_words,
)

logger = logging.getLogger(__name__)

# More than anybody mends in one go; the report says how many there are.
FINDINGS_SHOWN = 500
DRAFTS_SHOWN = 20
PEOPLE_SHOWN = 10


@page(OFFICER)
@never_cache
def upload(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    return form_page(
        request,
        UploadForm(request.POST or None, request.FILES or None, user=user),
        lambda said: _begun(user, said["site"], said["file"], now),
        After(
            back=reverse("import"),
            done=_nothing,
            then=lambda draft: reverse("import-draft", args=[draft.key]),
        ),
        template="staff/import.html",
        around=lambda: _drafts(request, user),
    )


def _drafts(request: HttpRequest, user: User) -> dict[str, Any]:
    drafts = first_rows(request, imports_visible_to(user), DRAFTS_SHOWN)
    return {"drafts": drafts.rows, "more": drafts.more}


def _begun(user: User, site: Site, file: UploadedFile[bytes], now: datetime) -> ImportDraft:
    return draft_create(actor=user, site=site, file_name=file.name or "", content=file.read(), now=now)


def _nothing(_made: object) -> list[tuple[int, str]]:
    """The page it leads to says it all."""
    return []


@page(OFFICER)
@never_cache
def draft(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(imports_visible_to(user), key=key)
    if row.applied_at is not None:
        return render(request, "staff/import_result.html", {"draft": row, "counts": count_words(row.result)})
    sheet = unpack(row.sheet)
    form = ChoicesForm(request.POST or None, draft=row, sheet=sheet)
    return form_page(
        request,
        form,
        lambda said: draft_choose(actor=user, draft=row, mapping=form.mapping(), **_chosen(said)),
        After(back=reverse("import-draft", args=[key]), done=_nothing),
        template="staff/import_draft.html",
        around=lambda: _shown(row, sheet, draft_check(actor=user, draft=row, now=now)),
    )


def _chosen(said: dict[str, Any]) -> dict[str, Any]:
    return {name: said[name] for name in ("date_format", "evidence")}


def _shown(row: ImportDraft, sheet: Sheet, plan: ImportPlan) -> dict[str, Any]:
    return {
        "draft": row,
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
    words = After(back=reverse("import"), done=_("The list is discarded; nothing was imported."))
    return pressed(request, partial(draft_discard, actor=user, draft=row), words)


@page(OFFICER)
@require_POST
def apply(request: HttpRequest, key: uuid.UUID) -> HttpResponseBase:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(imports_visible_to(user), key=key)
    # Drawn at random, so that no name of a file or site can hold it.
    mark = secrets.token_hex(16)
    whole = render_to_string("staff/import_progress.html", {"draft": row, "mark": mark}, request)
    head, between, tail = whole.split(mark)
    lines = _written(user, row, request.POST.get("seen", ""), now, between)
    # Tells a proxy in front not to hold the page back until it is whole.
    headers = {"X-Accel-Buffering": "no", "Cache-Control": "no-store"}
    return StreamingHttpResponse(_page(head, lines, tail), headers=headers)


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
    except Exception as error:
        if refused := refusal_of(error, unchanged=True):
            told = {"draft": row, "stopped": refused.message}
            yield between + render_to_string("staff/_import_outcome.html", told)
            return
        logger.exception("The import %s stopped; nothing was written.", row.key)
        sentence = _(
            "The program failed and nothing was written. Try again; if it fails again, tell the administrator."
        )
        yield between + render_to_string("staff/_import_outcome.html", {"draft": row, "stopped": sentence})
        raise


def _changes(counts: dict[str, int]) -> bool:
    return any(counts[name] for name in ("people_added", "people_changed"))
