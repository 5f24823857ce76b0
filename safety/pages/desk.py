"""The desk of officer and liaison: what needs doing today, longest late first."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.pages.step_links import step_url
from safety.selectors.desk import Task, desk_of
from staff.models import User
from staff.pages.doors import LIAISON, OFFICER, page, signed_in
from staff.services.audit import audit_write


@dataclass(frozen=True)
class DeskRow:
    task: Task
    url: str


@dataclass(frozen=True)
class DeskGroup:
    name: str
    title: str
    rows: list[DeskRow]
    none: str


@never_cache
@page(OFFICER, LIAISON)
def desk(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    found = desk_of(user, now)
    groups = [
        DeskGroup("late", _("Late"), _rows(found.late, user), _("Nothing is late.")),
        DeskGroup("today", _("Today"), _rows(found.today, user), _("Nothing is for today.")),
        DeskGroup(
            "coming", _("Coming"), _rows(found.coming, user), _("Nothing comes up in the next 14 days.")
        ),
    ]
    for site in {row.task.incident.site for group in groups for row in group.rows}:
        audit_write(actor=user, action="board.seen", now=now, site=site, target="desk")
    context = {"desk": found, "groups": groups, "undated": _rows(found.undated, user)}
    return render(request, "safety/desk.html", context)


def _rows(tasks: list[Task], user: User) -> list[DeskRow]:
    return [DeskRow(task, step_url(task.incident, task.step, user)) for task in tasks]
