"""The notices of a site, and the mailbox of the demo."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.core.paginator import Paginator
from django.db.models import Count, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.cache import never_cache

from safety.models import Notice
from safety.selectors.notices.notices import mailbox_messages, notices_found, notices_visible_to
from safety.words import State, audience_words, notice_kind, notice_state
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.models import User

PAGE_SIZE = 100
UNSENT = frozenset({Notice.State.WAITING, Notice.State.CLAIMED, Notice.State.GATHERED})


@dataclass(frozen=True)
class NoticeRow:
    """`due_at` in the zone of the notice; `late`: due, and still here."""

    notice: Notice
    kind: str
    audience: str
    state: State
    due_at: datetime
    late: bool


def notice_row(notice: Notice, now: datetime) -> NoticeRow:
    waits = notice.state in UNSENT
    return NoticeRow(
        notice=notice,
        kind=notice_kind(notice.kind),
        audience=audience_words(notice),
        state=notice_state(notice),
        due_at=notice.due_at.astimezone(notice.site.zone),
        late=waits and notice.due_at <= now,
    )


@never_cache
@page(OFFICER, LIAISON)
def notices(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    asked, state = request.GET.get("q", "").strip(), request.GET.get("state", Notice.State.WAITING)
    if state not in Notice.State.values:
        raise Http404
    shown = notices_found(user, asked) if asked else _in_state(user, state)
    leaf = Paginator(shown, PAGE_SIZE).get_page(request.GET.get("page"))
    query = urlencode({"q": asked} if asked else {"state": state})
    context = {"rows": [notice_row(row, now) for row in leaf], "leaf": leaf, "tabs": _tabs(user)}
    context |= {"asked": asked, "state": "" if asked else state, "query": query}
    return render(request, "safety/notices.html", context)


def _in_state(user: User, state: str) -> QuerySet[Notice]:
    order = ("due_at", "pk") if state in UNSENT else ("-due_at", "-pk")
    return notices_visible_to(user).filter(state=state).order_by(*order)


def _tabs(user: User) -> list[tuple[str, str, int]]:
    """Every state with the number of its notices."""
    counts = notices_visible_to(user).order_by().values_list("state").annotate(rows=Count("pk"))
    found = dict(counts)
    return [(value, str(label), found.get(value, 0)) for value, label in Notice.State.choices]


@never_cache
@page(OFFICER, LIAISON)
def mailbox(request: HttpRequest) -> HttpResponse:
    """What the demo would have sent; anywhere else this page does not exist."""
    if not settings.DEMO:
        raise Http404
    leaf = Paginator(mailbox_messages(), PAGE_SIZE).get_page(request.GET.get("page"))
    return render(request, "safety/mailbox.html", {"leaf": leaf, "smtp": bool(settings.SMTP_URL)})
