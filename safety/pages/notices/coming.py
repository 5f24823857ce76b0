"""The mails of the coming fortnight, by day and hour."""

from __future__ import annotations

from datetime import date, datetime
from itertools import groupby
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from safety.models import Notice
from safety.selectors.notices.coming import coming
from safety.selectors.notices.unanswered import unanswered_now
from safety.words import AUDIENCES, audience_words, notice_kind
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.models import Site
from staff.selectors.access import Role, sites_as


@require_safe
@page(OFFICER, LIAISON)
def notices_coming(request: HttpRequest) -> HttpResponse:
    """For each of the sites as officer or liaison: what nobody has answered, then what comes, by the site's clocks."""
    now, sites = timezone.now(), sites_as(signed_in(request), Role.OFFICER, Role.LIAISON)
    shown = [(site, _days(site, now), _silent(site, now)) for site in sites]
    return render(request, "safety/notices_coming.html", {"sites": shown})


def _days(site: Site, now: datetime) -> list[tuple[date, list[Any]]]:
    return [
        (day, [(row, notice_kind(row.kind), AUDIENCES.get(row.audience)) for row in group])
        for day, group in groupby(coming(site, now), key=lambda row: row.at.date())
    ]


def _silent(site: Site, now: datetime) -> list[tuple[Notice, str, str]]:
    first = [each.first for each in unanswered_now(site, now)]
    return [(notice, notice_kind(notice.kind), audience_words(notice)) for notice in first]
