"""What the program proposes for the open places of some days, and putting it into effect as it was seen."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import ngettext

from staff.doors.form import tried
from staff.doors.page import OFFICER, page, signed_in
from staff.models import CrewRole
from staff.pages.outing.roster_days import RosterDays, days_asked
from staff.pages.outing.roster_undo import remember
from staff.selectors.outing.roster_board import CrewDay, RosterBoard, roster_board
from staff.selectors.outing.roster_proposal import RosterProposal, propose_roster
from staff.services.audit import audit_write
from staff.services.outing.roster_fill import roster_fill, roster_fingerprint


@page(OFFICER)
def proposal(request: HttpRequest) -> HttpResponse:
    """What the program proposes for the open places; put into effect by the same button with what was seen."""
    user, now = signed_in(request), timezone.now()
    _form, asked = days_asked(request, now)
    if asked is None:
        return redirect("roster-grid")
    if request.method == "POST":
        return _fill(request, asked, now)
    target = f"roster-proposal:{asked.first}"
    audit_write(actor=user, action="board.seen", now=now, site=asked.site, target=target)
    return render(request, "staff/roster_proposal.html", _shown(asked, asked.site.local_date(now)))


def _shown(asked: RosterDays, today: date) -> dict[str, Any]:
    board = roster_board(asked.site, asked.first, asked.days)
    found = propose_roster(board, today)
    return {
        "site": asked.site,
        "board": board,
        "query": asked.query,
        "proposal": found,
        "rows": _proposed(board, found),
        "complete": sum(row.crew.pk not in found.plan.open for row in board.crews),
        "seen": roster_fingerprint(found.plan),
    }


def _fill(request: HttpRequest, asked: RosterDays, now: datetime) -> HttpResponse:
    act = partial(
        roster_fill, actor=signed_in(request), site=asked.site, first=asked.first, days=asked.days, now=now
    )
    outcome = tried(partial(act, seen=request.POST.get("seen", "")))
    if outcome.refused is not None:
        messages.error(request, outcome.refused.message)
        return redirect(f"{reverse('roster-proposal')}?{asked.query}")
    made = outcome.made or []
    words = ngettext(
        "%(number)d place was filled as proposed.", "%(number)d places were filled as proposed.", len(made)
    ) % {"number": len(made)}
    remember(request, asked.site, words, made=made)
    messages.success(request, words)
    return redirect(asked.grid)


def _proposed(
    board: RosterBoard, found: RosterProposal
) -> Iterable[tuple[CrewDay, list[tuple[str, str, bool]]]]:
    """Crews with who is on them: crew role, name, and whether the proposal put the person there."""
    by_crew = found.filled_by_crew
    for row in board.crews:
        held = [(str(one.get_role_display()), one.person.name, False) for one in row.assignments]
        new = [
            (str(CrewRole(place.role).label), board.by_person[place.person].person.name, True)
            for place in by_crew.get(row.crew.pk, ())
        ]
        yield row, [*held, *new]
