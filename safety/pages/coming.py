"""The mails of the coming fortnight, by day and hour."""

from __future__ import annotations

from itertools import groupby

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from safety.selectors.coming import coming
from safety.selectors.unanswered import unanswered_now
from safety.words import AUDIENCES, NOTICE_KINDS, audience_words, notice_kind
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.selectors.access import Role, sites_as


@require_safe
@page(OFFICER, LIAISON)
def notices_coming(request: HttpRequest) -> HttpResponse:
    """For each of the sites as officer or liaison: what nobody has answered, then what comes, by the site's clocks."""
    now = timezone.now()
    sites = []
    for site in sites_as(signed_in(request), Role.OFFICER, Role.LIAISON):
        rows = coming(site, now)
        days = [
            (day, [(row, NOTICE_KINDS.get(row.kind, row.kind), AUDIENCES.get(row.audience)) for row in group])
            for day, group in groupby(rows, key=lambda row: row.at.date())
        ]
        silent = [
            (each.first, notice_kind(each.first), audience_words(each.first))
            for each in unanswered_now(site, now)
        ]
        sites.append((site, days, silent))
    return render(request, "safety/notices_coming.html", {"sites": sites})
